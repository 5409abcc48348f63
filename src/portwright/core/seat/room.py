"""Valves in a bore: against each other, against the wall, against the piston.

Coordinates: x along the crank, y across it, z up the bore from the deck; x = y = 0 on its axis.
A valve leans by an angle from the bore axis towards a direction in the x-y plane: that is where
its head moves as it opens.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.chamber.checks import need_number, need_size
from portwright.core.constants import Array, Number, as_array
from portwright.errors import RangeError

_ROUND = 720  # points round a valve edge
_STEEPEST = math.radians(60.0)


@dataclass(frozen=True, slots=True)
class ValvePlace:
    """A valve in its bore.

    Parameters
    ----------
    diameter : float
        [m]
    along, across : float
        Middle of the head, shut, from the bore centre along and across the crank. [m]
    lean : float
        Between stem and bore axis. [rad]
    towards : float
        Direction in which the head moves sideways as it opens, from the x axis. [rad]
    height : float
        Middle of the shut head above the deck. [m]
    margin : float
        Thickness of the edge. [m]
    """

    diameter: float
    along: float
    across: float
    lean: float = 0.0
    towards: float = 0.0
    height: float = 0.0
    margin: float = 0.0

    def __post_init__(self) -> None:
        need_size(self.diameter, "valve diameter")
        for value, what in (
            (self.along, "offset along the crank"),
            (self.across, "offset across the crank"),
            (self.towards, "direction of the lean"),
            (self.height, "height of the valve"),
        ):
            need_number(value, what)
        if not 0.0 <= need_number(self.lean, "lean") <= _STEEPEST:
            raise RangeError("A valve leans 0 to 60 degrees.", "Give its angle to the bore axis.")
        if need_number(self.margin, "margin") < 0.0:
            raise RangeError("A margin is zero or more.")

    @property
    def axis(self) -> Array:
        """Direction of opening, length 1. [-]"""
        flat = math.sin(self.lean)
        return np.array(
            [flat * math.cos(self.towards), flat * math.sin(self.towards), -math.cos(self.lean)]
        )

    def middle(self, lift: float) -> Array:
        """Middle of the lower face at a lift. [m]"""
        if need_number(lift, "lift") < 0.0:
            raise RangeError("Lift is zero or more.")
        return np.array([self.along, self.across, self.height]) + lift * self.axis

    def frame(self) -> tuple[Array, Array]:
        """Two directions in the plane of the head, the first towards the lean. [-]"""
        first = np.array(
            [
                math.cos(self.lean) * math.cos(self.towards),
                math.cos(self.lean) * math.sin(self.towards),
                math.sin(self.lean),
            ]
        )
        return first, np.cross(self.axis, first)

    def edge(self, lift: float, angles: Array) -> Array:
        """Points of the edge, by their angle in the head from the direction of the lean. [m]"""
        first, second = self.frame()
        turned = np.cos(angles)[:, None] * first + np.sin(angles)[:, None] * second
        return self.middle(lift) + 0.5 * self.diameter * turned


def wall_gap(valve: ValvePlace, bore: float, lifts: Array, angles: Array) -> Array:
    """Distance from the edge of a valve to the bore wall.

    Parameters
    ----------
    valve : ValvePlace
        Valve.
    bore : float
        Diameter. [m]
    lifts : ndarray, shape (n,)
        [m]
    angles : ndarray, shape (m,)
        Round the head, from the direction of its lean. [rad]

    Returns
    -------
    ndarray, shape (n, m)
        Negative where the edge is outside the bore. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    ``R - |c + L sin(t) u + (D/2) e|`` seen along the bore, with the leaning head's own edge; the
    wall is taken to go on above the deck.
    """
    need_size(bore, "bore")
    found = []
    for lift in lifts:
        points = valve.edge(float(lift), angles)
        found.append(0.5 * bore - np.hypot(points[:, 0], points[:, 1]))
    return np.array(found)


def shrouded_share(gap: Array, limit: float) -> Array:
    """Share of the edge nearer to the wall than a limit, at each lift. [-]

    Parameters
    ----------
    gap : ndarray, shape (n, m)
        From :func:`wall_gap`, evenly spaced round the edge. [m]
    limit : float
        [m]

    Notes
    -----
    Definition.
    """
    share: Array = np.mean(gap < limit, axis=1)
    return share


def valves_gap(one: ValvePlace, lift: float, other: ValvePlace, other_lift: float) -> float:
    """Smallest distance between two valve heads; zero where they touch. [m]

    Parameters
    ----------
    one, other : ValvePlace
        Valves.
    lift, other_lift : float
        [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    Heads are discs of their margin's thickness: from 720 points on each rim of one to the solid of
    the other and back.  Spacing makes it at most ``(pi D/720)^2 / (8 gap)`` too large.
    """
    angles = np.linspace(0.0, 2.0 * math.pi, _ROUND, endpoint=False)
    least = math.inf
    for a, la, b, lb in ((one, lift, other, other_lift), (other, other_lift, one, lift)):
        for back in {0.0, a.margin}:
            points = a.edge(la, angles) - back * a.axis
            least = min(least, float(np.min(_to_head(points, b, lb))))
    return least


def _to_head(points: Array, valve: ValvePlace, lift: float) -> Array:
    """Distance from points to a head, a short cylinder."""
    offset = points - valve.middle(lift)
    along = offset @ valve.axis
    across = np.linalg.norm(offset - along[:, None] * valve.axis, axis=1)
    beyond = np.maximum(np.maximum(along, -valve.margin - along), 0.0)
    outside = np.maximum(across - 0.5 * valve.diameter, 0.0)
    found: Array = np.hypot(beyond, outside)
    return found


@dataclass(frozen=True, slots=True)
class LargestPair:
    """Largest valves with a given exhaust share.

    Parameters
    ----------
    intake, exhaust : float
        Diameters. [m]
    limited_by : str
        What stops them from being larger.
    """

    intake: float
    exhaust: float
    limited_by: str


def largest_pair(
    intake: ValvePlace,
    exhaust: ValvePlace,
    bore: float,
    exhaust_share: float,
    gap: float,
    wall: float,
    lifts: tuple[float, float],
) -> LargestPair:
    """Find the largest valves that fit where the guides are.

    Parameters
    ----------
    intake, exhaust : ValvePlace
        Where the valves are; their diameters do not matter.
    bore : float
        Diameter. [m]
    exhaust_share : float
        Exhaust over intake diameter. [-]
    gap : float
        Between both heads, shut. [m]
    wall : float
        From each edge to the bore wall at every lift up to full. [m]
    lifts : tuple of float
        Full lift of intake and exhaust. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be, or no valve fits.

    Notes
    -----
    Bisection on the intake diameter; every clearance shrinks as the valves grow.
    """
    need_size(bore, "bore")
    need_size(exhaust_share, "exhaust share")
    need_number(gap, "gap between valves")
    need_number(wall, "gap to the wall")
    angles = np.linspace(0.0, 2.0 * math.pi, _ROUND, endpoint=False)

    def stopped_by(diameter: float) -> str:
        sizes = diameter, exhaust_share * diameter
        made = [
            ValvePlace(d, v.along, v.across, v.lean, v.towards, v.height, v.margin)
            for d, v in zip(sizes, (intake, exhaust), strict=True)
        ]
        if valves_gap(made[0], 0.0, made[1], 0.0) < gap:
            return "the gap between the valves"
        for valve, lift, name in zip(made, lifts, ("intake", "exhaust"), strict=True):
            steps = np.linspace(0.0, lift, 9)
            if float(wall_gap(valve, bore, steps, angles).min()) < wall:
                return f"the bore wall at the {name} valve"
        return ""

    low, high = 1e-4, bore
    reason = stopped_by(low)
    if reason:
        raise RangeError(
            f"No valve fits there: {reason}.", "Check the offsets, the gaps and their signs."
        )
    for _ in range(40):
        middle = 0.5 * (low + high)
        found = stopped_by(middle)
        if found:
            high, reason = middle, found
        else:
            low = middle
    return LargestPair(low, exhaust_share * low, reason)


def piston_depth(crank_angle: Number, stroke: float, rod: float) -> Array:
    """Piston below its top dead centre. [m]

    Parameters
    ----------
    crank_angle : float or ndarray
        From top dead centre. [rad]
    stroke, rod : float
        [m]

    Raises
    ------
    RangeError
        A rod not longer than half the stroke.

    Notes
    -----
    Slider-crank motion without offset (definition):
    ``r + l - r cos a - sqrt(l^2 - r^2 sin^2 a)``.
    """
    r = 0.5 * need_size(stroke, "stroke")
    if not need_size(rod, "rod") > r:
        raise RangeError("A rod is longer than half the stroke.", "Check both and their units.")
    angle = as_array(crank_angle)
    found: Array = r + rod - r * np.cos(angle) - np.sqrt(rod**2 - (r * np.sin(angle)) ** 2)
    return found


def piston_gap(
    depth: Array, lift: Array, to_deck: float, lean: float, above_piston: float, pocket: float
) -> Array:
    """Estimate the space between valve and piston along the bore. [m]

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Piston below top dead centre. [m]
    lift : ndarray, shape (n,)
        Valve lift at the same crank angles. [m]
    to_deck : float
        Lowest edge of the shut valve above the deck face. [m]
    lean : float
        Between stem and bore axis. [rad]
    above_piston : float
        Head gasket and deck clearance: deck face of the head to the flat of the piston at top dead
        centre. [m]
    pocket : float
        Depth of the valve pocket below that flat; negative where the crown stands up. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    ``above + depth + pocket + to_deck - lift cos t``.  Rods stretch, chains slack, pockets are not
    where the drawing has them: an estimate that never replaces the check on the engine.
    """
    for value, what in (
        (to_deck, "valve to deck"),
        (above_piston, "gasket and deck clearance"),
        (pocket, "pocket depth"),
    ):
        need_number(value, what)
    if not 0.0 <= need_number(lean, "lean") <= _STEEPEST:
        raise RangeError("A valve leans 0 to 60 degrees.")
    found: Array = above_piston + depth + pocket + to_deck - lift * math.cos(lean)
    return found
