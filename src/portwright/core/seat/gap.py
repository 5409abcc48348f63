"""Where a valve rests on its seat, and the smallest passage between the two at any lift."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.core.seat.profile import HalfSection, SeatProfile, ValveProfile
from portwright.errors import RangeError

_TOUCHING = 1e-6  # faces nearer than this seal [m]; a blued contact shows no less


@dataclass(frozen=True, slots=True)
class Rest:
    """The shut valve.

    Parameters
    ----------
    height : float
        Edge of the valve face above the outer edge of the seat face. [m]
    inner_diameter, outer_diameter : float
        Edges of the band that touches. [m]
    seat_piece, valve_piece : str
        What touches.
    """

    height: float
    inner_diameter: float
    outer_diameter: float
    seat_piece: str
    valve_piece: str


@dataclass(frozen=True, slots=True)
class Passage:
    """Smallest passage at one lift.

    Parameters
    ----------
    lift : float
        [m]
    area : float
        [m2]
    seat_point, valve_point : tuple of float
        Its ends, radius and height, the valve lifted. [m]
    seat_piece, valve_piece : str
        What it lies between.
    """

    lift: float
    area: float
    seat_point: tuple[float, float]
    valve_point: tuple[float, float]
    seat_piece: str
    valve_piece: str


def rest(seat: SeatProfile, valve: ValveProfile) -> Rest:
    """Find where the shut valve touches.

    Parameters
    ----------
    seat : SeatProfile
        Seat.
    valve : ValveProfile
        Valve.

    Raises
    ------
    RangeError
        The head falls through the seat.

    Notes
    -----
    Definition: the least height at which no point of the valve is below the seat.  Both lines are
    straight between corners, so a corner decides.
    """
    fixed, moving = seat.outline(), valve.outline()
    floor = fixed.points[1:]  # from the top of the throat wall outwards
    last = len(moving.points) - 1
    under = moving.points[1:last]  # from the end of the stem to the edge of the face
    low, high = max(floor[0, 0], under[0, 0]), min(floor[-1, 0], under[-1, 0])
    if not under[-1, 0] > floor[0, 0] or not seat.throat_diameter > valve.stem_diameter:
        raise RangeError(
            f"A valve of {valve.head_diameter * 1e3:.4g} mm with a stem of "
            f"{valve.stem_diameter * 1e3:.4g} mm does not close a throat of "
            f"{seat.throat_diameter * 1e3:.4g} mm.",
            "Check head, stem and throat.",
        )
    radii = np.unique(np.concatenate([floor[:, 0], under[:, 0], [low, high]]))
    radii = radii[(radii >= low) & (radii <= high)]
    above = np.interp(radii, floor[:, 0], floor[:, 1]) - np.interp(radii, under[:, 0], under[:, 1])
    height = float(above.max())
    band = _band(radii, height - above)
    middle = 0.5 * (band[0] + band[1])
    return Rest(
        height,
        2.0 * band[0],
        2.0 * band[1],
        fixed.names[1:][_piece(floor[:, 0], middle)],
        moving.names[1:][_piece(under[:, 0], middle)],
    )


def _piece(edges: Array, at: float) -> int:
    return int(np.clip(np.searchsorted(edges, at, side="right") - 1, 0, len(edges) - 2))


def _band(radii: Array, gap: Array) -> tuple[float, float]:
    """Radii between which the gap stays below what counts as touching, round its smallest."""
    at = int(np.argmin(gap))
    ends = []
    for step in (-1, 1):
        i = at
        while 0 <= i + step < len(radii) and gap[i + step] <= _TOUCHING:
            i += step
        edge = float(radii[i])
        if 0 <= i + step < len(radii):
            share = (_TOUCHING - gap[i]) / (gap[i + step] - gap[i])
            edge += float(share * (radii[i + step] - radii[i]))
        ends.append(edge)
    return ends[0], ends[1]


def smallest_passages(seat: SeatProfile, valve: ValveProfile, lifts: Array) -> tuple[Passage, ...]:
    """Find the smallest passage between valve and seat at each lift.

    Parameters
    ----------
    seat : SeatProfile
        Seat.
    valve : ValveProfile
        Valve.
    lifts : ndarray, shape (n,)
        From the shut valve, zero or more. [m]

    Raises
    ------
    RangeError
        A lift below zero or not a number, or a valve that does not close the seat.

    Notes
    -----
    Definition.  A straight line from a point of the seat to a point of the valve, turned about the
    stem, is a conical frustum of area ``pi (r1 + r2) d``; all air passes it.  The smallest over all
    pairs of points is returned, throat less stem among them.

    It always ends in a corner of one of the two lines.  Were both ends inside straight pieces,
    scale the pair about the point where the pieces meet: the area is ``k (2 r0 + k s)`` times a
    constant, whose stationary value is a largest one (for parallel pieces move both ends along:
    the area is linear).  From a corner to a piece the area is ``(a + b t) sqrt(c t2 + 2 e t + f)``,
    stationary at the roots of ``2 b c t2 + (3 b e + a c) t + b f + a e``.
    """
    if lifts.ndim != 1 or not np.all(np.isfinite(lifts)) or np.any(lifts < 0.0):
        raise RangeError("Lifts must be zero or above.", "Lift counts from the shut valve.")
    shut = rest(seat, valve).height
    fixed, moving = seat.outline(), valve.outline()
    return tuple(_smallest(fixed, moving.raised(shut + float(v)), float(v)) for v in lifts)


def _smallest(fixed: HalfSection, moving: HalfSection, lift: float) -> Passage:
    found = []
    for corners, line in ((fixed, moving), (moving, fixed)):
        areas, shares = _from_corners(corners.points, line.points)
        best = np.unravel_index(int(np.argmin(areas)), areas.shape)
        start, end = line.points[best[1]], line.points[best[1] + 1]
        share = float(shares[best])
        foot = start + share * (end - start)
        found.append((float(areas[best]), int(best[0]), int(best[1]), foot, share))
    of_seat = found[0][0] <= found[1][0]
    area, corner, piece, foot, at = found[0] if of_seat else found[1]
    cornered, other = (fixed, moving) if of_seat else (moving, fixed)
    point = cornered.points[corner]
    if at in {0.0, 1.0}:
        names = _corner_name(cornered, corner), _corner_name(other, piece + int(at))
    else:
        names = _corner_name(cornered, corner), other.names[piece]
    ends = (float(point[0]), float(point[1])), (float(foot[0]), float(foot[1]))
    if not of_seat:
        names, ends = names[::-1], ends[::-1]
    return Passage(lift, area, ends[0], ends[1], names[0], names[1])


def _corner_name(outline: HalfSection, corner: int) -> str:
    near = {outline.names[max(corner - 1, 0)], outline.names[min(corner, len(outline.names) - 1)]}
    for kind in ("seat face", "valve face", "throat", "stem"):
        if kind in near and len(near) > 1:
            return f"edge of the {kind}"
    return " and ".join(sorted(near))


def _from_corners(corners: Array, line: Array) -> tuple[Array, Array]:
    """Smallest frustum from every corner (rows) to every piece of a line (columns)."""
    start, along = line[:-1], np.diff(line, axis=0)
    offset = start[None, :, :] - corners[:, None, :]
    a = corners[:, None, 0] + start[None, :, 0]
    b = np.broadcast_to(along[None, :, 0], a.shape)
    c = np.broadcast_to(np.sum(along**2, axis=1)[None, :], a.shape)
    e = np.einsum("ijk,jk->ij", offset, along)
    f = np.sum(offset**2, axis=2)
    shares = [
        np.zeros_like(a),
        np.ones_like(a),
        *_roots(2 * b * c, 3 * b * e + a * c, b * f + a * e),
    ]
    tried = np.stack(shares)
    inside = (tried >= 0.0) & (tried <= 1.0)
    t = np.where(inside, tried, 0.0)
    reach = offset[None] + t[..., None] * along[None, None]
    area = np.where(inside, math.pi * (a + b * t) * np.hypot(*np.moveaxis(reach, -1, 0)), np.inf)
    best = np.argmin(area, axis=0)[None]
    return np.take_along_axis(area, best, 0)[0], np.take_along_axis(t, best, 0)[0]


def _roots(two: Array, one: Array, none: Array) -> tuple[Array, Array]:
    """Real roots of ``two t2 + one t + none``; outside 0 to 1 where there is none."""
    inside = one**2 - 4.0 * two * none
    real = inside >= 0.0
    half = -0.5 * (one + np.copysign(np.sqrt(np.where(real, inside, 0.0)), one))
    found = []
    for top, bottom in ((half, two), (none, half)):
        fits = real & (bottom != 0.0) & (np.abs(top) <= np.abs(bottom))
        found.append(np.where(fits, top / np.where(fits, bottom, 1.0), -1.0))
    return found[0], found[1]
