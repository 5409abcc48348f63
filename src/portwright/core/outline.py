"""Section of a port traced point by point, from a mould slice or a scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array, as_array, unwrapped
from portwright.core.sections import Section
from portwright.core.tolerances import COINCIDENT
from portwright.errors import GeometryError


@dataclass(frozen=True, slots=True, eq=False)
class Outline(Section):
    """Section traced point by point, from a mould slice or a scan.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Corners in order, either way round; the last joins the first. [m]

    Raises
    ------
    GeometryError
        Fewer than three points, points that are not numbers, no area, or an outline that crosses
        itself.
    """

    points: Array

    def __post_init__(self) -> None:
        points = self.points
        if points.ndim != 2 or points.shape[0] < 3 or points.shape[1] != 2:
            raise GeometryError("An outline needs at least three points with two coordinates each.")
        if not np.all(np.isfinite(points)):
            raise GeometryError("An outline has a point that is not a number.")
        size = float(np.max(np.ptp(points, axis=0)))
        if abs(self._signed_area) <= COINCIDENT * size**2:
            raise GeometryError("An outline encloses no area.", "Are all points on one line?")
        crossing = _first_crossing(points)
        if crossing is not None:
            raise GeometryError(
                f"The outline crosses itself near point {crossing + 1}.",
                "Put the points in order round the section.",
            )

    @property
    def _sides(self) -> tuple[Array, Array, Array]:
        """Points from the first one, the same one further on, and their cross products."""
        start = self.points - self.points[0]  # near the outline: keeps digits far from the origin
        end = np.roll(start, -1, axis=0)
        return start, end, start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]

    @property
    def _signed_area(self) -> float:
        return 0.5 * float(np.sum(self._sides[2]))

    @property
    def area(self) -> Array:
        """Area by the shoelace formula. [m2]"""
        return unwrapped(as_array(abs(self._signed_area)))

    @property
    def perimeter(self) -> Array:
        """Sum of the sides. [m]"""
        start, end, _ = self._sides
        length: Array = np.sum(np.hypot(*(end - start).T))
        return length

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Centroid in the outline's own coordinates. [m]"""
        start, end, cross = self._sides
        moment = np.sum((start + end) * cross[:, np.newaxis], axis=0) / (6.0 * self._signed_area)
        x, y = moment + self.points[0]
        return x, y


def _first_crossing(points: Array) -> int | None:
    """Index of the first side that properly crosses another one, None when there is none."""
    a, b = points, np.roll(points, -1, axis=0)

    def side_of(p: Array) -> Array:
        """Which side of every line (rows) every point (columns) is on."""
        d = b - a
        x = d[:, :1] * (p[:, 1] - a[:, 1:]) - d[:, 1:] * (p[:, 0] - a[:, :1])
        sign: Array = np.sign(x)
        return sign

    opposite = side_of(a) * side_of(b) < 0.0
    found = np.flatnonzero(np.any(opposite & opposite.T, axis=1))
    return int(found[0]) if found.size else None
