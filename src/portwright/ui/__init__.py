"""The shop app in the browser."""
