"""What a plane leaves of a mesh: outlines, and which of them lie in others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.core.gas1d.compiled import allocating


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """One closed outline in a section.

    Parameters
    ----------
    points : ndarray, shape (k, 2)
        In the axes of the plane; the last joins the first. [m]
    gap : float
        Length that had to be bridged because the mesh has holes there. [m]
    """

    points: Array
    gap: float

    @property
    def area(self) -> float:
        """Enclosed area, whichever way round the points run. [m2]"""
        return abs(self._moments()[0])

    @property
    def perimeter(self) -> float:
        """Length of the outline, bridges included. [m]"""
        step = np.roll(self.points, -1, axis=0) - self.points
        return float(np.sum(np.hypot(step[:, 0], step[:, 1])))

    @property
    def centroid(self) -> Array:
        """Centroid in the axes of the plane. [m]"""
        area, moment = self._moments()
        if area == 0.0:
            middle: Array = self.points.mean(axis=0)
            return middle
        centre: Array = moment / area + self.points[0]
        return centre

    def _moments(self) -> tuple[float, Array]:
        a = self.points - self.points[0]
        b = np.roll(a, -1, axis=0)
        cross = a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
        return 0.5 * float(np.sum(cross)), np.sum((a + b) * cross[:, np.newaxis], axis=0) / 6.0

    def contains(self, point: Array) -> bool:
        """Whether a point of the plane lies inside."""
        return bool(_inside(self.points, float(point[0]), float(point[1])))


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Everything a plane cuts out of a mesh.

    Parameters
    ----------
    point : ndarray, shape (3,)
        Origin of the plane's axes. [m]
    axes : ndarray, shape (3, 3)
        Rows: both axes of the plane, and its normal. [-]
    loops : tuple of Loop
        Outlines, largest first.
    """

    point: Array
    axes: Array
    loops: tuple[Loop, ...]

    def depths(self) -> list[int]:
        """How many other outlines each one lies in."""
        return [
            sum(other.contains(loop.points[0]) for other in self.loops if other is not loop)
            for loop in self.loops
        ]

    @property
    def area(self) -> float:
        """Area between outlines, those inside others taken off and so on inwards. [m2]"""
        return sum(
            loop.area * (-1.0) ** depth
            for loop, depth in zip(self.loops, self.depths(), strict=True)
        )

    @property
    def perimeter(self) -> float:
        """Length of all outlines. [m]"""
        return sum(loop.perimeter for loop in self.loops)

    @property
    def gap(self) -> float:
        """Length bridged in all outlines. [m]"""
        return sum(loop.gap for loop in self.loops)

    def in_space(self, points: Array) -> Array:
        """Points of the plane's axes in space. [m]"""
        placed: Array = self.point + points @ self.axes[:2]
        return placed

    def region(self, near: Array, at_least: float = 0.0) -> Region | None:
        """The outline round a point with what stands in it, None where there is none.

        Parameters
        ----------
        near : ndarray, shape (2,)
            In the axes of the plane. [m]
        at_least : float
            Smaller outlines are passed over: a stem may stand round the point. [m2]
        """
        round_it = [k for k in self.loops if k.area >= at_least and k.contains(near)]
        if not round_it:
            return None
        outline = min(round_it, key=lambda k: k.area)
        inside = [
            k
            for k in self.loops
            if k is not outline and k.area < outline.area and outline.contains(k.points[0])
        ]
        return Region(outline, tuple(_outermost(inside)))


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """One outline less what stands in it."""

    outline: Loop
    islands: tuple[Loop, ...]

    @property
    def area(self) -> float:
        """[m2]"""
        return self.outline.area - sum(k.area for k in self.islands)

    @property
    def perimeter(self) -> float:
        """[m]"""
        return self.outline.perimeter + sum(k.perimeter for k in self.islands)

    @property
    def centroid(self) -> Array:
        """Centroid in the axes of the plane, islands taken off. [m]"""
        moment = self.outline.area * self.outline.centroid
        for island in self.islands:
            moment = moment - island.area * island.centroid
        centre: Array = moment / self.area
        return centre

    @property
    def gap(self) -> float:
        """[m]"""
        return self.outline.gap + sum(k.gap for k in self.islands)


def _outermost(loops: list[Loop]) -> list[Loop]:
    return [k for k in loops if not any(o is not k and o.contains(k.points[0]) for o in loops)]


@allocating
def _inside(points: Array, x: float, y: float) -> bool:
    """Even-odd rule."""
    inside = False
    j = points.shape[0] - 1
    for i in range(points.shape[0]):
        if (points[i, 1] > y) != (points[j, 1] > y):
            rise = points[j, 1] - points[i, 1]
            if x < points[i, 0] + (y - points[i, 1]) / rise * (points[j, 0] - points[i, 0]):
                inside = not inside
        j = i
    return inside
