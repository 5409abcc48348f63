"""How two openings meet at a face: overlap, steps that face the flow, room to move an edge."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from portwright.core.chamber.checks import need_number
from portwright.core.constants import Array
from portwright.core.outline import Outline
from portwright.errors import RangeError

_STRIPS = 2000  # error of the overlap below 1e-6 of its area for smooth outlines
_SPACING = 1440  # points round an outline at which steps are looked at


class Edge(StrEnum):
    """Side of an opening, seen from outside with the deck below."""

    ROOF = "roof"
    FLOOR = "floor"
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Step:
    """Edge that stands in the flow.

    Parameters
    ----------
    height : float
        How far it stands into the passage before it. [m]
    edge : Edge
        Side where it is highest.
    share : float
        Share of the circumference that faces the flow. [-]
    by_edge : dict of Edge to float
        Highest on each side. [m]
    """

    height: float
    edge: Edge
    share: float
    by_edge: dict[Edge, float]


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two openings laid on one another.

    Parameters
    ----------
    upstream, downstream, overlap : float
        Areas. [m2]
    facing : Step
        Of the part the flow enters, into the passage it comes from.
    trailing : Step
        Of the part the flow leaves: the passage widens behind it.
    """

    upstream: float
    downstream: float
    overlap: float
    facing: Step
    trailing: Step


_LEAST_SIZE = 1e-6  # less is no opening but a slip of the unit [m]
_ONE_POINT = 1e-9  # points closer together are one point [m]


def rounded(width: float, height: float, radius: float) -> Outline:
    """Outline of a rounded opening about its middle.

    Parameters
    ----------
    width, height, radius : float
        [m]

    Raises
    ------
    RangeError
        Sizes that cannot be.
    GeometryError
        A slit so thin for its length that it encloses no area.
    """
    for value, what in ((width, "width"), (height, "height")):
        if need_number(value, what) < _LEAST_SIZE:
            raise RangeError(f"The {what} of an opening must be above zero.", "Measure it again.")
    limit = 0.5 * min(width, height)
    if not 0.0 <= need_number(radius, "corner radius") <= limit * (1.0 + 1e-9):
        raise RangeError(
            f"A corner of {radius * 1e3:.4g} mm does not fit an opening of {width * 1e3:.4g} by "
            f"{height * 1e3:.4g} mm.",
            f"At most {limit * 1e3:.4g} mm.",
        )
    turn = np.linspace(0.0, 0.5 * math.pi, 33)
    corners = []
    for quarter, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        centre = np.array([sx * (0.5 * width - radius), sy * (0.5 * height - radius)])
        angle = turn + 0.5 * math.pi * quarter
        corners.append(centre + radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    points = np.vstack(corners)
    keep = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > _ONE_POINT
    return Outline(points[keep])


def meet(upstream: Outline, downstream: Outline) -> Meeting:
    """Lay the opening air comes from on the one it goes into.

    Parameters
    ----------
    upstream, downstream : Outline
        In one system: across, and up from the deck.

    Notes
    -----
    Definition.  The overlap is summed over 2000 strips across the height; a step is the distance
    from a point of one edge, where it lies inside the other opening, to the edge of that opening.
    """
    return Meeting(
        float(upstream.area),
        float(downstream.area),
        overlap_area(upstream.points, downstream.points),
        _step(downstream, upstream),
        _step(upstream, downstream),
    )


def _step(edge: Outline, passage: Outline) -> Step:
    points = _spread(edge.points)
    inside = _inside(points, passage.points)
    depth = np.zeros(len(points))
    depth[inside] = _distance(points[inside], passage.points)
    # a point on the other edge itself is no step
    depth = np.where(depth > 1e-9, depth, 0.0)
    sides = _sides(points, edge)
    by_edge = {side: float(depth[sides == i].max(initial=0.0)) for i, side in enumerate(Edge)}
    at = int(np.argmax(depth))
    return Step(float(depth[at]), list(Edge)[int(sides[at])], float(np.mean(depth > 0.0)), by_edge)


def _spread(points: Array) -> Array:
    """Points spread evenly round an outline, its corners among them."""
    closed = np.vstack([points, points[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.union1d(np.linspace(0.0, length[-1], _SPACING, endpoint=False), length[:-1])
    return np.column_stack([np.interp(at, length, closed[:, i]) for i in (0, 1)])


def _sides(points: Array, outline: Outline) -> Array:
    """Side each point belongs to, by the diagonals of the box round the outline."""
    low, high = outline.points.min(axis=0), outline.points.max(axis=0)
    x, y = ((points - 0.5 * (low + high)) / (0.5 * (high - low))).T
    upright = np.abs(y) >= np.abs(x)
    return np.where(upright, np.where(y >= 0.0, 0, 1), np.where(x < 0.0, 2, 3)).astype(float)


def _crossings(points: Array, levels: Array) -> Array:
    """Where each level line crosses an outline, sorted, infinite where there is no more."""
    a, b = points, np.roll(points, -1, axis=0)
    cross = (a[None, :, 1] > levels[:, None]) != (b[None, :, 1] > levels[:, None])
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    at = a[None, :, 0] + (levels[:, None] - a[None, :, 1]) / rise * (b[:, 0] - a[:, 0])
    found: Array = np.sort(np.where(cross, at, np.inf), axis=1)
    return found[:, : max(2, int(cross.sum(axis=1).max(initial=0)))]


def overlap_area(one: Array, other: Array) -> float:
    """Area two outlines share, of any shape. [m2]

    Parameters
    ----------
    one, other : ndarray, shape (n, 2)
        Corners in order. [m]

    Notes
    -----
    Midpoint rule over strips across the height.
    """
    low = max(one[:, 1].min(), other[:, 1].min())
    high = min(one[:, 1].max(), other[:, 1].max())
    if high <= low:
        return 0.0
    step = float(high - low) / _STRIPS
    levels = low + step * (np.arange(_STRIPS) + 0.5)
    first, second = _crossings(one, levels), _crossings(other, levels)
    total = 0.0
    for i in range(0, first.shape[1] - 1, 2):
        for j in range(0, second.shape[1] - 1, 2):
            right = np.minimum(first[:, i + 1], second[:, j + 1])
            left = np.maximum(first[:, i], second[:, j])
            both = np.isfinite(left) & np.isfinite(right)
            wide = np.where(both, right, 0.0) - np.where(both, left, 0.0)
            total += float(np.sum(np.maximum(wide, 0.0)))
    return total * step


def _inside(points: Array, outline: Array) -> Array:
    a, b = outline[None], np.roll(outline, -1, axis=0)[None]
    x, y = points[:, None, 0], points[:, None, 1]
    cross = (a[..., 1] > y) != (b[..., 1] > y)
    rise = np.where(cross, b[..., 1] - a[..., 1], 1.0)
    at = a[..., 0] + (y - a[..., 1]) / rise * (b[..., 0] - a[..., 0])
    inside: Array = np.sum(cross & (at > x), axis=1) % 2 == 1
    return inside


def _distance(points: Array, outline: Array) -> Array:
    a, b = outline, np.roll(outline, -1, axis=0)
    along = b - a
    share = np.einsum("ijk,jk->ij", points[:, None] - a[None], along)
    share = np.clip(share / np.maximum(np.sum(along**2, axis=1), 1e-30), 0.0, 1.0)
    foot = a[None] + share[..., None] * along[None]
    found: Array = np.min(np.linalg.norm(points[:, None] - foot, axis=2), axis=1)
    return found


@dataclass(frozen=True, slots=True)
class EdgeRoom:
    """How far one edge of an opening can go.

    Parameters
    ----------
    seal : float
        Before the gasket has less than its least land; below zero where it has less now. [m]
    metal : float or None
        Before the flange or the next hole is closer than the least metal, None if not known. [m]
    """

    seal: float
    metal: float | None

    @property
    def without_weld(self) -> float:
        """The smaller of both. [m]"""
        return self.seal if self.metal is None else min(self.seal, self.metal)


def edge_room(land: float, least_land: float, metal: float | None, least_metal: float) -> EdgeRoom:
    """Find how far an edge can move before the gasket fails or metal must be added.

    Parameters
    ----------
    land : float
        Gasket face beyond the edge. [m]
    least_land, least_metal : float
        What must stay. [m]
    metal : float or None
        Metal beyond the edge, to the end of the flange or the next hole. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    Their differences.
    """
    for value, what in ((land, "land"), (least_land, "least land"), (least_metal, "least metal")):
        if need_number(value, what) < 0.0:
            raise RangeError(f"The {what} is zero or more.")
    if metal is not None and need_number(metal, "metal") < 0.0:
        raise RangeError("Metal beyond an edge is zero or more.")
    return EdgeRoom(land - least_land, None if metal is None else metal - least_metal)
