"""The port itself: sections along it, what the air does there, metal left, where to cut next."""
