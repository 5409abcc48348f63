"""Combustion chamber: volumes, compression, milling, and what else moves when metal comes off."""
