"""Named numerical tolerances, each with its reason."""

from __future__ import annotations

ITERATION = 1e-12
"""Relative change at which a fixed-point iteration is finished: a thousand times finer than any
reading, still a thousand times coarser than float64 can resolve. [-]"""

ITERATION_LIMIT = 60
"""Steps after which an iteration is given up; the ones used here need fewer than fifteen. [-]"""

COINCIDENT = 1e-9
"""Points of an outline closer than this fraction of its size are the same point. [-]"""
