"""What the air does along a port: mean velocity, Mach number, and maps taken with a pitot tube."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from portwright.core.constants import (
    GAS_CONSTANT_AIR,
    HEAT_CAPACITY_RATIO_AIR,
    Array,
    Number,
    as_array,
    unwrapped,
)
from portwright.core.gasflow import temperature_ratio
from portwright.errors import RangeError, ShapeError

_HALVINGS = 52  # bisection of the subsonic branch down to float64


class Zone(StrEnum):
    """What one place of a map says."""

    EVEN = "even"
    CROWDED = "over-worked"  # more than its share of the air
    LAZY = "lazy"  # little air: metal that could as well be there
    FAST = "over the velocity limit"
    UNSTEADY = "unsteady"
    BACKFLOW = "air flows back"


@dataclass(frozen=True, slots=True)
class ZoneLimits:
    """Where a place of a map begins to stand out.

    Parameters
    ----------
    crowded, lazy : float
        Local over mean velocity above and below which it does. [-]
    fastest : float
        Local velocity that should not be passed at the test pressure of the map. [m/s]
    """

    crowded: float
    lazy: float
    fastest: float


@dataclass(frozen=True, slots=True)
class MapMean:
    """Mean of a pitot map.

    Parameters
    ----------
    mean : float
        Area-weighted over the steady places; air that flows back counts as negative. [m/s]
    low, high : float
        The mean if every unsteady place stood still, and if it had the mean of the others. [m/s]
    spread : float
        Standard deviation over the section, over the mean. [-]
    unsteady : float
        Share of the section where the reading was unsteady. [-]
    """

    mean: float
    low: float
    high: float
    spread: float
    unsteady: float


def mean_velocity(flow: Number, area: Number) -> Array:
    """Compute the mean velocity of air of the density the flow is a volume of.

    Parameters
    ----------
    flow : float or ndarray
        Volume flow. [m3/s]
    area : float or ndarray
        Section area, above zero. [m2]

    Returns
    -------
    ndarray
        Velocity. [m/s]

    Raises
    ------
    RangeError
        Area not above zero.

    Notes
    -----
    Definition ``Q/A``, as the trade's velocity figures mean it: the air keeps the density it had
    before the port.  At 100 m/s the real velocity is 4 % more; :func:`mach_along` accounts for it.
    """
    section = as_array(area)
    if np.any(section <= 0.0):
        raise RangeError("A section without area has no velocity.")
    return as_array(flow) / section


def mach_along(
    mass_flow: Number,
    area: Number,
    total_pressure: Number,
    total_temperature: Number,
    gamma: float = HEAT_CAPACITY_RATIO_AIR,
) -> Array:
    """Compute the Mach number at sections that all pass the same mass flow.

    Parameters
    ----------
    mass_flow : float or ndarray
        Mass flow, not below zero. [kg/s]
    area : float or ndarray
        Section area, above zero. [m2]
    total_pressure : float or ndarray
        Absolute pressure of the air at rest. [Pa]
    total_temperature : float or ndarray
        Temperature of the air at rest. [K]
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        Mach number of the subsonic state; NaN where the section cannot pass that much. [-]

    Raises
    ------
    RangeError
        Mass flow below zero, area or pressure not above zero.

    Notes
    -----
    Solves ``m sqrt(R T0)/(p0 A sqrt(gamma)) = M (1 + (gamma-1)/2 M^2)^(-(gamma+1)/(2(gamma-1)))``
    for uniform flow without losses ahead of the section, so it is a lower bound.

    Examples
    --------
    >>> round(float(mach_along(0.07, 1e-3, 101325.0, 293.15)), 4)
    0.1724
    """
    m, a, p0 = as_array(mass_flow), as_array(area), as_array(total_pressure)
    if np.any(m < 0.0) or np.any(a <= 0.0) or np.any(p0 <= 0.0):
        raise RangeError("Mass flow, section area and pressure must be above zero.")
    root = np.sqrt(GAS_CONSTANT_AIR * as_array(total_temperature) / gamma)
    wanted = m * root / (p0 * a)
    power = (gamma + 1.0) / (2.0 * (gamma - 1.0))

    def passed(mach: Array) -> Array:
        flux: Array = mach * temperature_ratio(mach, gamma) ** power
        return flux

    low, high = np.zeros_like(wanted), np.ones_like(wanted)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        more = passed(middle) < wanted
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    choked = wanted > float(passed(as_array(1.0)))
    return unwrapped(np.where(choked, np.nan, 0.5 * (low + high)))


def engine_mean_velocity(bore: float, stroke: float, turning_speed: float, area: Number) -> Array:
    """Compute the mean velocity the piston asks of a section.

    Parameters
    ----------
    bore, stroke : float
        Of the cylinder the port feeds. [m]
    turning_speed : float
        Of the crank. [rad/s]
    area : float or ndarray
        Section area. [m2]

    Returns
    -------
    ndarray
        Velocity; its peak during the stroke is about 1.6 to 1.7 times this (from memory). [m/s]

    Notes
    -----
    Continuity with the mean piston speed (definition): ``v = A_piston 2 S N / A``, N in turns per
    second; a full cylinder of incompressible air at 100 % filling.
    """
    piston = 0.25 * np.pi * bore**2
    speed = 2.0 * stroke * turning_speed / (2.0 * np.pi)
    return mean_velocity(piston * speed, area)


def pitot_velocity(pressure: Number, density: float) -> Array:
    """Compute the local velocity from what a pitot probe shows.

    Parameters
    ----------
    pressure : float or ndarray
        Total less static pressure, below zero where air flows back. [Pa]
    density : float
        Of the air at the probe, above zero. [kg/m3]

    Returns
    -------
    ndarray
        Velocity with the sign of the pressure. [m/s]

    Raises
    ------
    RangeError
        Density not above zero.

    Notes
    -----
    Bernoulli for air that keeps its density, ``v = sqrt(2 q / rho)`` (definition); 1 % high at
    Mach 0.2.  A probe that looks against the air shows less than the full pressure, so a velocity
    below zero is a direction, not a figure to trust.
    """
    if density <= 0.0:
        raise RangeError("The density of air is above zero.")
    q = as_array(pressure)
    return unwrapped(np.sign(q) * np.sqrt(2.0 * np.abs(q) / density))


def map_mean(velocity: Array, weight: Array) -> MapMean:
    """Mean of a map over its section.

    Parameters
    ----------
    velocity : ndarray, shape (n,)
        Local velocities, below zero where air flows back, NaN where the reading was unsteady.
        [m/s]
    weight : ndarray, shape (n,)
        Area each place stands for, in any unit. [-]

    Returns
    -------
    MapMean
        Mean with the range the unsteady places leave open.

    Raises
    ------
    ShapeError
        Arrays of different length, or no steady place.
    """
    if velocity.shape != weight.shape or velocity.ndim != 1:
        raise ShapeError("Every place of a map needs one velocity and one weight.")
    steady = np.isfinite(velocity)
    if not np.any(steady) or float(np.sum(weight[steady])) <= 0.0:
        raise ShapeError("A map needs at least one steady reading.", "Note the others as unsteady.")
    part = weight[steady] / np.sum(weight[steady])
    mean = float(np.sum(part * velocity[steady]))
    share = float(np.sum(weight[~steady]) / np.sum(weight))
    spread = float(np.sqrt(np.sum(part * (velocity[steady] - mean) ** 2))) / abs(mean)
    return MapMean(mean, mean * (1.0 - share), mean, spread, share)


def zones(velocity: Array, mean: float, limits: ZoneLimits) -> tuple[Zone, ...]:
    """Say of each place of a map what it does.

    Parameters
    ----------
    velocity : ndarray, shape (n,)
        As in :func:`map_mean`. [m/s]
    mean : float
        Mean over the section. [m/s]
    limits : ZoneLimits
        Shop limits.
    """

    def one(v: float) -> Zone:
        if not np.isfinite(v):
            return Zone.UNSTEADY
        if v < 0.0:
            return Zone.BACKFLOW
        if v > limits.fastest:
            return Zone.FAST
        if v > limits.crowded * mean:
            return Zone.CROWDED
        return Zone.LAZY if v < limits.lazy * mean else Zone.EVEN

    values: NDArray[np.float64] = velocity
    return tuple(one(float(v)) for v in values)
