"""Port-like outlines of known area, drawn in a frame."""

from __future__ import annotations

import numpy as np

from benchmarks.tracing_camera import MM, Array

FRAME = (120.0 * MM, 90.0 * MM)
MIDDLE = np.array([60.0 * MM, 45.0 * MM])


def shape_at(angle: Array, harmonics: Array, size: float, flat: float) -> Array:
    """Points of a smooth port-like outline at given angles. [m]"""
    radius = np.ones_like(angle)
    for order, (a, b) in enumerate(harmonics, start=2):
        radius += a * np.cos(order * angle) + b * np.sin(order * angle)
    place: Array = MIDDLE + size * radius[:, None] * np.column_stack(
        (np.cos(angle), flat * np.sin(angle))
    )
    return place


def shoelace(points: Array) -> float:
    """Area of a fine polygon. [m2]"""
    x, y = (points - points[0]).T
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def round_length(points: Array) -> float:
    """Length of a fine polygon. [m]"""
    return float(np.sum(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)))
