"""Metal left in a wall after a cut, against the shop's limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum


class WallState(StrEnum):
    """What a wall still allows."""

    BELOW = "below the limit"
    AT_LIMIT = "at the limit"
    THIN = "within reading error of the limit"
    FREE = "metal left"

    @property
    def allows_cutting(self) -> bool:
        """True where there is metal to take beyond the error of the reading."""
        return self is WallState.FREE


@dataclass(frozen=True, slots=True)
class WallLimits:
    """What the shop keeps.

    Parameters
    ----------
    least : float
        Wall that must stay. [m]
    reading_error : float
        Standard uncertainty of one ultrasonic reading. [m]
    """

    least: float
    reading_error: float


_SAME = 1e-6  # readings are to 0.01 mm: a thousandth of a millimetre is arithmetic, not metal [m]


def wall_state(wall: float, limits: WallLimits) -> WallState:
    """Judge one wall.

    Parameters
    ----------
    wall : float
        Thickness as read, a planned cut taken off where it is about a plan. [m]
    limits : WallLimits
        What must stay and how well it is read.

    Notes
    -----
    ``left = wall - least``: below zero, zero, up to one standard uncertainty of the reading, more.
    """
    left = wall - limits.least
    if left < -_SAME:
        return WallState.BELOW
    if left <= _SAME:
        return WallState.AT_LIMIT
    return WallState.THIN if left <= limits.reading_error + _SAME else WallState.FREE


def metal_to_take(wall: float, limits: WallLimits) -> float:
    """Metal that may go with the reading's error kept in hand, not below zero. [m]

    Parameters
    ----------
    wall : float
        Thickness as read. [m]
    limits : WallLimits
        As in :func:`wall_state`.
    """
    return max(0.0, wall - limits.least - limits.reading_error)


def held_back(planned: float, sister_plans: list[float], reading_error: float) -> bool:
    """Whether a cut was planned smaller than the same cut on its sisters.

    Parameters
    ----------
    planned : float
        Cut planned here. [m]
    sister_plans : list of float
        The same cut elsewhere. [m]
    reading_error : float
        Difference that is only caution, not a limit. [m]
    """
    if not sister_plans:
        return False
    ordered = sorted(sister_plans)
    half = (len(ordered) - 1) / 2.0
    median = 0.5 * (ordered[math.floor(half)] + ordered[math.ceil(half)])
    return planned < median - reading_error
