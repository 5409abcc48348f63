"""Pieces that screens are built from."""
