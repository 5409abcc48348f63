"""The shop for other programs: HTTP and JSON under /api, described by OpenAPI 3.1."""
