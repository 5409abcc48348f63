"""One file for each schema, never changed once released."""
