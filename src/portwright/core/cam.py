"""What a cam makes of a flow curve: how long the valve stays near each tested lift."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from portwright.core.curve import Array
from portwright.core.weights import interpolation_weights
from portwright.errors import RangeError, ShapeError


class Valve(StrEnum):
    """Which way the piston moves while the valve does its work."""

    INTAKE = "intake"
    EXHAUST = "exhaust"


@dataclass(frozen=True, slots=True, eq=False)
class LiftTable:
    """Valve lift against crank angle, straight between the entries.

    Parameters
    ----------
    crank_angle : ndarray, shape (n,)
        Increasing; where zero lies does not matter. [rad]
    lift : ndarray, shape (n,)
        Valve lift, zero or above. [m]

    Raises
    ------
    ShapeError
        Different lengths or fewer than three entries.
    RangeError
        Angles that do not increase, negative or missing lift, a valve that never opens.
    """

    crank_angle: Array
    lift: Array

    def __post_init__(self) -> None:
        if self.crank_angle.shape != self.lift.shape or self.lift.ndim != 1 or self.lift.size < 3:
            raise ShapeError(
                "A cam table needs crank angle and lift in equal length, three entries or more."
            )
        if not (np.all(np.isfinite(self.crank_angle)) and np.all(np.diff(self.crank_angle) > 0.0)):
            raise RangeError("Crank angles of a cam table must increase.")
        if not (np.all(np.isfinite(self.lift)) and np.all(self.lift >= 0.0)):
            raise RangeError("Lifts of a cam table must be zero or above.")
        if self.lift.max() == 0.0:
            raise RangeError("The valve of this cam table never opens.")


@dataclass(frozen=True, slots=True)
class PistonDemand:
    """Piston motion that draws on the valve, for weighting time at lift.

    Parameters
    ----------
    valve : Valve
        Intake: downward motion counts; exhaust: upward motion.
    zero_after_dead_centre : float
        Crank angle of the cam table's zero after top dead centre of gas exchange; negative
        when before it. [rad]
    rod_ratio : float
        Connecting rod length over crank radius, above 1. [-]
    """

    valve: Valve
    zero_after_dead_centre: float
    rod_ratio: float

    def speed(self, crank_angle: Array) -> Array:
        """Piston speed in the working direction over crank radius times crank speed. [-]

        Slider-crank motion (definition): ``sin t + sin t cos t / sqrt(n^2 - sin^2 t)``.

        Raises
        ------
        RangeError
            Rod not longer than the crank radius.
        """
        if not self.rod_ratio > 1.0:
            raise RangeError(
                f"A rod must be longer than the crank radius; ratio {self.rod_ratio} is not."
            )
        angle = crank_angle + self.zero_after_dead_centre
        sine, cosine = np.sin(angle), np.cos(angle)
        down = sine + sine * cosine / np.sqrt(self.rod_ratio**2 - sine**2)
        return np.maximum(down if self.valve is Valve.INTAKE else -down, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class LiftWeights:
    """Share of the open time the valve spends near each tested lift.

    The three kinds of share add to 1.

    Parameters
    ----------
    lift : ndarray, shape (n,)
        Tested lifts. [m]
    weight : ndarray, shape (n,)
        Share of each in the mean, the last one including ``held``. [-]
    seat : float
        Share that belongs to the closed seat, below the lowest tested lift, where the area
        runs to zero. [-]
    held : float
        Share of time above the highest tested lift, where its area is held. [-]
    """

    lift: Array
    weight: Array
    seat: float
    held: float

    def mean(self, area: Array) -> float:
        """Mean effective area over the open time. [m2]

        Parameters
        ----------
        area : ndarray, shape (n,)
            Effective area at the tested lifts. [m2]
        """
        return float(np.dot(self.weight, area))


def _refined(cam: LiftTable, lifts: Array) -> tuple[Array, Array, Array]:
    """Angle, lift and open step weights with an entry wherever the cam crosses a given lift."""
    left, right = cam.lift[:-1], cam.lift[1:]
    rise = np.where(right == left, np.nan, right - left)
    share = (lifts[:, None] - left) / rise
    crossing = (share > 0.0) & (share < 1.0)
    step = np.diff(cam.crank_angle)
    angle = np.unique(
        np.concatenate([cam.crank_angle, (cam.crank_angle[:-1] + share * step)[crossing]])
    )
    lift = np.interp(angle, cam.crank_angle, cam.lift)
    is_open = np.maximum(lift[1:], lift[:-1]) > 0.0
    return angle, lift, np.diff(angle) * is_open


def time_at_lift(cam: LiftTable, lift: Array, demand: PistonDemand | None = None) -> LiftWeights:
    """Weights that turn areas at tested lifts into the mean over the open time of a cam.

    Parameters
    ----------
    cam : LiftTable
    lift : ndarray, shape (n,)
        Tested lifts, increasing, above zero. [m]
    demand : PistonDemand or None
        When given, each moment also counts by the speed of the piston.

    Returns
    -------
    LiftWeights
        ``mean`` is then exactly the mean of the straight-line interpolated curve.

    Raises
    ------
    RangeError
        Lifts not increasing from above zero, or a piston that never moves the right way
        while the valve is open.
    """
    if not (lift.size and lift[0] > 0.0 and np.all(np.diff(lift) > 0.0)):
        raise RangeError("Tested lifts must be above zero and increase.")
    knots = np.append(0.0, lift)
    angle, height, step = _refined(cam, knots)
    share = interpolation_weights(knots, height)
    above = (height[1:] + height[:-1] > 2.0 * lift[-1]).astype(np.float64)
    pace = np.ones(angle.size) if demand is None else demand.speed(angle)
    moment = step * (pace[1:] + pace[:-1]) / 2.0
    total = float(moment.sum())
    if not total > 0.0:
        raise RangeError(
            "The piston never moves the right way while this valve is open.",
            "Check intake or exhaust, and where the cam table has its zero.",
        )
    if demand is None:
        weight = moment @ (share[1:] + share[:-1]) / 2.0
    else:  # product of two straight lines over a step: Simpson's rule is exact
        ends = pace[1:, None] * share[1:] + pace[:-1, None] * share[:-1]
        middle = (pace[1:] + pace[:-1])[:, None] * (share[1:] + share[:-1])
        weight = step @ (ends + middle) / 6.0
    return LiftWeights(
        lift=lift,
        weight=weight[1:] / total,
        seat=float(weight[0]) / total,
        held=float(moment @ above) / total,
    )
