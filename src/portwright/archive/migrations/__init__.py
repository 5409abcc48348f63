"""Steps between the schemas of the shop file."""
