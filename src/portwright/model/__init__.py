"""What a shop deals with, as frozen dataclasses in SI; no input or output."""
