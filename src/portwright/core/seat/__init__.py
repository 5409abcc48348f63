"""Valve and seat as turned parts: profiles, smallest gap, sink, insert, mass and forces."""
