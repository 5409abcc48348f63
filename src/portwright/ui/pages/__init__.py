"""One module per screen; importing a module puts its screen at its address."""
