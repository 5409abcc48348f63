"""Instruments: their descriptions, their lines, and the wires to them."""
