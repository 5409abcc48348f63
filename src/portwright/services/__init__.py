"""One module per thing a porter wants done; the only door for screens and commands."""
