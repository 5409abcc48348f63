"""Figures about engines and fuels that ship with Portwright, each row with its label."""
