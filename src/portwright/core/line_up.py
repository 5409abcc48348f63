"""A face laid on another one: a shift and a turn, by hand or from two points both have."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.chamber.checks import need_number
from portwright.core.constants import Array
from portwright.errors import GeometryError

_LEAST_APART = 1e-3  # points closer together are one point [m]


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a face comes to lie: turned about its own middle, then shifted.

    Parameters
    ----------
    turn : float
        Anticlockwise, seen as drawn. [rad]
    across, up : float
        Where its middle goes. [m]

    Raises
    ------
    RangeError
        Something that is no number.
    """

    turn: float = 0.0
    across: float = 0.0
    up: float = 0.0

    def __post_init__(self) -> None:
        for value, what in (
            (self.turn, "turn"),
            (self.across, "offset across"),
            (self.up, "offset up"),
        ):
            need_number(value, what)

    def of(self, points: Array) -> Array:
        """Points of the face where they come to lie.

        Parameters
        ----------
        points : ndarray, shape (n, 2)
            About the middle of the face. [m]
        """
        c, s = math.cos(self.turn), math.sin(self.turn)
        laid: Array = points @ np.array([[c, s], [-s, c]]) + np.array([self.across, self.up])
        return laid

    def then(self, turn: float, across: float, up: float) -> Placement:
        """Turned further about its own middle and shifted further. [rad, m]"""
        return Placement(_half_turn(self.turn + turn), self.across + across, self.up + up)


@dataclass(frozen=True, slots=True)
class TwoPoints:
    """A face laid on another one by two points of each.

    Parameters
    ----------
    placement : Placement
    apart, apart_there : float
        Distance between the points on the face and on the one it is laid on. [m]
    """

    placement: Placement
    apart: float
    apart_there: float


def by_two_points(own: Array, there: Array) -> TwoPoints:
    """Lay a face on another one by two points of each, in the same order.

    Parameters
    ----------
    own, there : ndarray, shape (2, 2)
        Points on the face, about its own middle, and on the other one. [m]

    Raises
    ------
    GeometryError
        Not two points each, or both on one spot.

    Notes
    -----
    Least squares of the distances without stretching: the line between the points falls on the
    other line, middle on middle; a difference of their lengths is left half at either end
    (definition).
    """
    if own.shape != (2, 2) or there.shape != (2, 2):
        raise GeometryError("Two points of each face are needed.", "Mark the same two on both.")
    along, along_there = own[1] - own[0], there[1] - there[0]
    apart, apart_there = math.hypot(*along), math.hypot(*along_there)
    if not min(apart, apart_there) > _LEAST_APART or not math.isfinite(apart + apart_there):
        raise GeometryError(
            "Both points of a face are on one spot.", "Mark two holes as far apart as there are."
        )
    turn = _half_turn(math.atan2(along_there[1], along_there[0]) - math.atan2(along[1], along[0]))
    across, up = there.mean(axis=0) - Placement(turn).of(own).mean(axis=0)
    return TwoPoints(Placement(turn, float(across), float(up)), apart, apart_there)


def turn_uncertainty(own: float, there: float, apart: float) -> float:
    """Standard uncertainty of a turn from two points. [rad]

    Parameters
    ----------
    own, there : float
        Standard uncertainty of a point of each face, in each direction. [m]
    apart : float
        Distance between the points. [m]

    Notes
    -----
    First order: each of the four points moves its end of a line square to it.
    """
    return math.sqrt(2.0 * (own**2 + there**2)) / apart


def _half_turn(angle: float) -> float:
    """The same direction within half a turn either way."""
    return math.remainder(angle, 2.0 * math.pi)
