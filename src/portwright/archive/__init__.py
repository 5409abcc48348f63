"""The shop file: one database that holds the whole shop."""
