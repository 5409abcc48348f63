"""Sharing a section among the places of a pitot map: each gets what lies nearest to it."""

from __future__ import annotations

import numpy as np

from portwright.core.constants import Array
from portwright.errors import RangeError, ShapeError

_SAME = 1e-6  # places closer than this are one place: a probe is a millimetre thick [m]


def nearest_cells(points: Array, outline: Array) -> tuple[Array, ...]:
    """Cut a section into the parts nearest to each place.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Places, in the same frame as the outline; the grid may be irregular. [m]
    outline : ndarray, shape (m, 2)
        Edge of the section, counter-clockwise, as a polygon. [m]

    Returns
    -------
    tuple of ndarray, shape (k, 2)
        Polygon of each place; together they are the section. [m]

    Raises
    ------
    ShapeError
        No places, or not two coordinates each, or an outline of fewer than three points.
    RangeError
        Two places that are the same.

    Notes
    -----
    Definition: the outline is clipped by the perpendicular bisector towards every other place
    (half planes in turn, exact for the polygon).
    """
    if points.ndim != 2 or points.shape[1] != 2 or not points.size:
        raise ShapeError("A map needs places with two coordinates each.")
    if outline.ndim != 2 or len(outline) < 3:
        raise ShapeError("A section needs an outline of three points at least.")
    found = []
    for i, here in enumerate(points):
        cell = outline
        for j, there in enumerate(points):
            if i == j:
                continue
            across = there - here
            if float(np.hypot(*across)) < _SAME:
                raise RangeError(
                    f"Marks {i + 1} and {j + 1} of the map lie on one place.",
                    "Keep one of them, or say where the other was.",
                )
            cell = _clipped(cell, 0.5 * (here + there), across)
            if not len(cell):
                break
        found.append(cell)
    return tuple(found)


def _clipped(polygon: Array, point: Array, normal: Array) -> Array:
    """Part of a polygon on the near side of a line."""
    if not len(polygon):
        return polygon
    beyond = (polygon - point) @ normal
    after, beyond_after = np.roll(polygon, -1, axis=0), np.roll(beyond, -1)
    kept: list[Array] = []
    for start, end, s, e in zip(polygon, after, beyond, beyond_after, strict=True):
        if s <= 0.0:
            kept.append(start)
        if (s < 0.0 < e) or (e < 0.0 < s):
            kept.append(start + (s / (s - e)) * (end - start))
    return np.array(kept).reshape(-1, 2)
