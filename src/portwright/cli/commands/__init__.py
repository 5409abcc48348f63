"""Commands, one module per family."""
