"""Figures that ship with Portwright: constants, shop defaults and the fictional demo shop."""
