"""Centreline of a port from its mesh: the line through the centroids of sections square to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import splev, splprep

from portwright.core.constants import Array
from portwright.core.mesh.cut import Cut, Region
from portwright.core.mesh.slicing import Slicer
from portwright.errors import GeometryError

_STEP = 0.2  # of the section's diameter: sections overlap well before they cross in a tight bend
_MOST_STEPS = 400
_INSET = 0.02  # of the diameter: an end face may lie exactly in the inlet plane
SMALLEST_SHARE = 0.25  # an outline this much smaller than the last section is a stem, not the port
_PASSES = 4
_SMOOTHING = 6e-4  # of the diameter: what centroids of a scanned section may be off
_NEAR_OUTLET = 1.5  # diameters
_BEHIND = 0.1  # of the diameter behind an end: nothing there means that it is closed
_CAP_NEAR = 0.012  # of the diameter: a rough face lies this near to its plane
_MOST_CAP = 0.05  # of an outline that may lie on the face, beyond which it is not the port's wall
_MOST_GAP = 0.02  # of an outline, beyond which its centroid is not trusted


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """Inlet or outlet of a port.

    Parameters
    ----------
    point : ndarray, shape (3,)
        Any point of the opening. [m]
    normal : ndarray, shape (3,)
        Square to its plane, either way. [-]
    """

    point: Array
    normal: Array


@dataclass(frozen=True, slots=True, eq=False)
class Centreline:
    """A line through a port.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Along the line from the inlet plane. [m]
    points, tangents : ndarray, shape (n, 3)
        Points [m] and unit directions [-].
    inward : ndarray, shape (n, 3)
        Unit vector towards the centre of the bend. [-]
    radius : ndarray, shape (n,)
        Radius of the bend, infinite where it is straight. [m]
    """

    distance: Array
    points: Array
    tangents: Array
    inward: Array
    radius: Array


def region_at(
    slicer: Slicer, point: Array, normal: Array, at_least: float = 0.0
) -> tuple[Cut, Region] | None:
    """Section through a point and the outline round it, None where the port is not there.

    Parameters
    ----------
    slicer : Slicer
        Prepared mesh.
    point, normal : ndarray, shape (3,)
        Plane; the point is meant to lie in the port. [m, -]
    at_least : float
        Smaller outlines are not the port. [m2]
    """
    cut = slicer.cut(point, normal)
    found = cut.region(np.zeros(2), at_least)
    return None if found is None else (cut, found)


def find_centreline(slicer: Slicer, inlet: End, outlet: End, stations: int = 100) -> Centreline:
    """Follow a port from inlet to outlet.

    Parameters
    ----------
    slicer : Slicer
        Prepared mesh of the port's wall: a mould, the air, or a scan of the surface.
    inlet, outlet : End
        Chosen by a person.
    stations : int
        Points wanted on the line. [-]

    Returns
    -------
    Centreline
        Evenly spaced, from just inside the inlet to just inside the outlet.

    Raises
    ------
    GeometryError
        The inlet or outlet lies outside the mesh, or the line gets lost on the way.

    Notes
    -----
    The line is marched from section to section: on a circular arc the chord between two centroids
    halves the turn, so the next tangent is taken between the chord and the last one mirrored at it.
    Then a smoothing cubic spline is laid through the centroids and cut square to itself anew, four
    times.  Bends tighter than half the width of the port have sections that cross; the line is then
    only as good as the outlines it meets.
    """
    start, direction, size = _inside(slicer, inlet, "inlet")
    least = SMALLEST_SHARE * 0.25 * np.pi * size**2
    finish, _, end_size = _inside(slicer, outlet, "outlet", least)
    if float(np.linalg.norm(finish - start)) < _STEP * size:
        raise GeometryError(
            "Inlet and outlet lie at the same place.", "Choose the two ends of the port."
        )
    points = _march(slicer, start, direction, size, outlet, finish, end_size)
    line = _spline(points, size)
    caps = [
        cap
        for end, centre in ((inlet, start), (outlet, finish))
        if (cap := _cap(slicer, end, centre, size)) is not None
    ]
    for _ in range(_PASSES):
        line = _spline(_recentred(slicer, line, stations, size, caps), size)
    return _measured(line, stations, inlet)


def _diameter(region: Region) -> float:
    return float(np.sqrt(4.0 * region.area / np.pi))


def _unit(vector: Array) -> Array:
    unit: Array = vector / np.linalg.norm(vector)
    return unit


def _inside(
    slicer: Slicer, end: End, name: str, at_least: float = 0.0
) -> tuple[Array, Array, float]:
    """Centroid just inside an end, direction into the port, diameter there."""
    normal = _unit(end.normal)
    best: tuple[Array, Array, float] | None = None
    depth = 0.0
    for reach in (1e-6, 1e-5, 1e-4, 3e-4, 1e-3, 3e-3):
        for way in (normal, -normal):
            found = region_at(slicer, end.point + reach * way, normal, at_least)
            if found is not None and best is None:
                cut, region = found
                best = (cut.in_space(region.centroid), way, _diameter(region))
                depth = reach
    if best is None:
        raise GeometryError(
            f"There is no port at the {name}.", "Choose a point in the opening, and its normal."
        )
    centre, way, size = best
    inset = max(_INSET * size, depth)
    for sign in (1.0, -1.0):  # a mesh that goes on past the plane has a section on both sides
        found = region_at(slicer, centre + sign * inset * way, normal, at_least)
        if found is not None:
            cut, region = found
            return cut.in_space(region.centroid), sign * way, _diameter(region)
    raise GeometryError(f"The port ends right behind the {name}.", "Choose another point.")


def _march(
    slicer: Slicer,
    start: Array,
    direction: Array,
    size: float,
    outlet: End,
    finish: Array,
    end_size: float,
) -> Array:
    """Centroids from section to section until the outlet is reached; tried both ways."""
    for way in (direction, -direction):
        points = _march_one_way(slicer, start, way, size, outlet, finish, end_size)
        if points is not None:
            return np.array(points)
    raise GeometryError(
        "The centreline lost the port between inlet and outlet.",
        "Are both in the same port, and is the scan complete between them?",
    )


def _march_one_way(
    slicer: Slicer,
    start: Array,
    direction: Array,
    size: float,
    outlet: End,
    finish: Array,
    end_size: float,
) -> list[Array] | None:
    points, here, tangent, width = [start], start, direction, size
    normal = _unit(outlet.normal)
    side = float((start - outlet.point) @ normal)
    for _ in range(_MOST_STEPS):
        step = _STEP * width
        gone = float((here - outlet.point) @ normal)
        near = float(np.linalg.norm(here - finish)) < _NEAR_OUTLET * end_size
        if near and (abs(gone) < 1.2 * step or gone * side < 0.0):
            return [*points, finish]
        least = SMALLEST_SHARE * 0.25 * np.pi * width**2
        found = region_at(slicer, here + step * tangent, tangent, least)
        if found is None:
            return None
        cut, region = found
        chord = _unit(cut.in_space(region.centroid) - here)
        # half mirrored, half chord: a first direction that was off dies out, it does not swing on
        turned = _unit(_unit(2.0 * (chord @ tangent) * chord - tangent) + chord)
        again = region_at(slicer, cut.in_space(region.centroid), turned, least)
        if again is None:
            return None
        cut, region = again
        here, tangent, width = cut.in_space(region.centroid), turned, _diameter(region)
        points.append(here)
    return None


_Line = tuple[list[object], float]


def _spline(points: Array, size: float) -> _Line:
    """Smoothing cubic through points, and its length."""
    if len(points) < 4:
        share = np.linspace(0.0, 1.0, 6)
        at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        points = np.column_stack([np.interp(share * at[-1], at, points[:, k]) for k in range(3)])
    weight = np.ones(len(points))
    weight[[0, -1]] = 3.0  # the ends have a neighbour on one side only
    knots, _ = splprep(points.T, w=weight, s=len(points) * (_SMOOTHING * size) ** 2, k=3)
    fine = np.array(splev(np.linspace(0.0, 1.0, 2001), knots)).T
    return knots, float(np.sum(np.linalg.norm(np.diff(fine, axis=0), axis=1)))


def _even(line: _Line, stations: int) -> Array:
    """Parameters at even distances along a line. [-]"""
    fine = np.linspace(0.0, 1.0, 2001)
    points = np.array(splev(fine, line[0])).T
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return np.interp(np.linspace(0.0, at[-1], stations), at, fine)


@dataclass(frozen=True, slots=True, eq=False)
class _Cap:
    """Closed face at an end: a plane and the direction into the port."""

    point: Array
    inward: Array
    near: float

    def cuts(self, outline: Array) -> bool:
        """Whether part of an outline in space is the face and not the wall of the port."""
        depth = (outline - self.point) @ self.inward
        on_face = (depth < self.near) & (np.roll(depth, -1) < self.near)
        sides = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
        return bool(np.sum(sides[on_face]) > _MOST_CAP * np.sum(sides))


def _cap(slicer: Slicer, end: End, centre: Array, size: float) -> _Cap | None:
    """Face that closes an end, None where the mesh is open or goes on."""
    normal = _unit(end.normal)
    depth = float((centre - end.point) @ normal)
    inward = normal if depth >= 0.0 else -normal
    behind = region_at(slicer, end.point - _BEHIND * size * inward, normal)
    ahead = region_at(slicer, end.point + 1e-3 * size * inward, normal)
    if behind is not None or ahead is None or ahead[1].gap > 0.0:
        return None
    return _Cap(end.point, inward, _CAP_NEAR * size)


def _recentred(
    slicer: Slicer, line: _Line, stations: int, size: float, caps: Sequence[_Cap]
) -> Array:
    """Centroids of sections square to a line."""
    at = _even(line, stations)
    points, tangents = np.array(splev(at, line[0])).T, np.array(splev(at, line[0], der=1)).T
    found = []
    least = SMALLEST_SHARE * 0.25 * np.pi * (0.7 * size) ** 2
    for point, tangent in zip(points, tangents, strict=True):
        here = region_at(slicer, point, tangent, least)
        # a section that runs out of the mesh, through an opening or the face that closes an end,
        # would pull the line after it
        sound = (
            here is not None
            and here[1].gap <= _MOST_GAP * here[1].perimeter
            and not any(c.cuts(here[0].in_space(here[1].outline.points)) for c in caps)
        )
        found.append(here[0].in_space(here[1].centroid) if here and sound else point)
    return np.array(found)


def _measured(line: _Line, stations: int, inlet: End) -> Centreline:
    at = _even(line, stations)
    points = np.array(splev(at, line[0])).T
    first, second = (np.array(splev(at, line[0], der=k)).T for k in (1, 2))
    speed = np.linalg.norm(first, axis=1)
    tangents = first / speed[:, np.newaxis]
    across = second - np.einsum("ij,ij->i", second, tangents)[:, np.newaxis] * tangents
    bend = np.linalg.norm(across, axis=1)
    inward = np.divide(
        across, bend[:, np.newaxis], out=np.zeros_like(across), where=bend[:, np.newaxis] > 0.0
    )
    with np.errstate(divide="ignore"):
        radius = speed**2 / bend
    before = abs(float((points[0] - inlet.point) @ _unit(inlet.normal)))
    distance = before + np.linspace(0.0, line[1], stations)
    return Centreline(distance, points, tangents, inward, radius)
