"""Physics and statistics in SI on plain arrays; knows nothing of units, files or screens."""
