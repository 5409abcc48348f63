"""Steady one-dimensional flow of an ideal gas: isentropic relations, choking, mass flow."""

from __future__ import annotations

import numpy as np

from portwright.core.constants import HEAT_CAPACITY_RATIO_AIR, Array, Number, as_array, unwrapped
from portwright.errors import RangeError

_SERIES_DROP = 1e-6
"""Pressure-drop fraction below which the expansion ratio uses its series: the closed form loses
digits there, and the next series term is below 1e-12. [-]"""


def temperature_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute static over total temperature.

    Parameters
    ----------
    mach : float or ndarray
        Mach number. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        T / T0. [-]

    Notes
    -----
    Definition of isentropic ideal-gas flow: ``T/T0 = 1 / (1 + (gamma - 1)/2 M^2)``.
    """
    g = as_array(gamma)
    return 1.0 / (1.0 + 0.5 * (g - 1.0) * as_array(mach) ** 2)


def pressure_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute static over total pressure.

    Parameters
    ----------
    mach : float or ndarray
        Mach number. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        p / p0. [-]

    Notes
    -----
    Definition of isentropic ideal-gas flow: ``p/p0 = (T/T0)^(gamma/(gamma - 1))``.
    """
    g = as_array(gamma)
    ratio: Array = temperature_ratio(mach, g) ** (g / (g - 1.0))
    return ratio


def density_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute static over total density.

    Parameters
    ----------
    mach : float or ndarray
        Mach number. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        rho / rho0. [-]

    Notes
    -----
    Definition of isentropic ideal-gas flow: ``rho/rho0 = (T/T0)^(1/(gamma - 1))``.
    """
    g = as_array(gamma)
    ratio: Array = temperature_ratio(mach, g) ** (1.0 / (g - 1.0))
    return ratio


def area_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute the area over the area at which the same flow would be sonic.

    Parameters
    ----------
    mach : float or ndarray
        Mach number, above zero. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        A / A*. [-]

    Notes
    -----
    Definition of isentropic ideal-gas flow:
    ``A/A* = (1/M) [2/(gamma + 1) (1 + (gamma - 1)/2 M^2)]^((gamma + 1)/(2 (gamma - 1)))``.
    """
    M, g = as_array(mach), as_array(gamma)
    base = 2.0 / ((g + 1.0) * temperature_ratio(M, g))
    ratio: Array = base ** ((g + 1.0) / (2.0 * (g - 1.0))) / M
    return ratio


def critical_pressure_ratio(gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute the pressure ratio at which a nozzle chokes.

    Parameters
    ----------
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        Throat pressure over total pressure at Mach 1, 0.5283 for air. [-]

    Notes
    -----
    Definition: :func:`pressure_ratio` at Mach 1.
    """
    return pressure_ratio(1.0, gamma)


def isentropic_mass_flux(
    total_pressure: Number,
    total_temperature: Number,
    pressure: Number,
    gamma: Number,
    gas_constant: Number,
) -> Array:
    """Compute the mass flow per effective area from a reservoir to a lower pressure.

    Parameters
    ----------
    total_pressure : float or ndarray
        Upstream total pressure. [Pa]
    total_temperature : float or ndarray
        Upstream total temperature. [K]
    pressure : float or ndarray
        Pressure at the smallest area; at or below the critical ratio the flow is choked and
        this pressure no longer matters. [Pa]
    gamma : float or ndarray
        Ratio of specific heats. [-]
    gas_constant : float or ndarray
        Specific gas constant. [J/(kg K)]

    Returns
    -------
    ndarray
        Mass flow per effective area. [kg/(s m2)]

    Raises
    ------
    RangeError
        Pressure below zero or above the total pressure (reversed flow: swap the sides).

    Notes
    -----
    ``G = p0/sqrt(R T0) (p/p0)^(1/gamma) sqrt(2 gamma/(gamma-1) [1 - (p/p0)^((gamma-1)/gamma)])``,
    with p/p0 not below the critical ratio.

    References
    ----------
    Heywood, Internal Combustion Engine Fundamentals (1988), equations C.8 and C.9 (numbers from
    memory).
    """
    p0, p, g = as_array(total_pressure), as_array(pressure), as_array(gamma)
    if np.any(p > p0) or np.any(p < 0.0):
        raise RangeError(
            "Pressure behind the restriction must lie between zero and the upstream pressure.",
            "For flow the other way round swap the two sides.",
        )
    ratio = np.maximum(p / p0, critical_pressure_ratio(g))
    drop = -np.expm1((g - 1.0) / g * np.log(ratio))
    shape = ratio ** (1.0 / g) * np.sqrt(2.0 * g / (g - 1.0) * drop)
    flux: Array = p0 / np.sqrt(as_array(gas_constant) * as_array(total_temperature)) * shape
    return flux


def mass_flow(
    area: Number,
    total_pressure: Number,
    total_temperature: Number,
    pressure: Number,
    *,
    gamma: Number,
    gas_constant: Number,
) -> Array:
    """Compute the mass flow through an effective area, choking included.

    Parameters
    ----------
    area : float or ndarray
        Effective area of the compressible nozzle (coefficient times area). [m2]
    total_pressure : float or ndarray
        Upstream total pressure. [Pa]
    total_temperature : float or ndarray
        Upstream total temperature. [K]
    pressure : float or ndarray
        Pressure at the smallest area. [Pa]
    gamma : float or ndarray
        Ratio of specific heats. [-]
    gas_constant : float or ndarray
        Specific gas constant. [J/(kg K)]

    Returns
    -------
    ndarray
        Mass flow. [kg/s]

    Raises
    ------
    RangeError
        As :func:`isentropic_mass_flux`.

    Notes
    -----
    Definition: area times :func:`isentropic_mass_flux`.
    """
    flux = isentropic_mass_flux(total_pressure, total_temperature, pressure, gamma, gas_constant)
    return as_array(area) * flux


def incompressible_mass_flux(density: Number, pressure_drop: Number) -> Array:
    """Compute the mass flow per effective area as if the air kept its density.

    Parameters
    ----------
    density : float or ndarray
        Upstream density. [kg/m3]
    pressure_drop : float or ndarray
        Pressure drop, zero or above. [Pa]

    Returns
    -------
    ndarray
        Mass flow per effective area. [kg/(s m2)]

    Notes
    -----
    Definition, from Bernoulli's equation: ``G = sqrt(2 rho dp)``.
    """
    flux: Array = np.sqrt(2.0 * as_array(density) * as_array(pressure_drop))
    return flux


def jet_velocity(density: Number, pressure_drop: Number) -> Array:
    """Compute the velocity of an ideal jet as if the air kept its density.

    Parameters
    ----------
    density : float or ndarray
        Upstream density. [kg/m3]
    pressure_drop : float or ndarray
        Pressure drop, zero or above. [Pa]

    Returns
    -------
    ndarray
        Velocity. [m/s]

    Notes
    -----
    Definition, from Bernoulli's equation: ``v = sqrt(2 dp / rho)``; also the flow per effective
    area and the velocity a pitot tube means by its reading.
    """
    velocity: Array = np.sqrt(2.0 * as_array(pressure_drop) / as_array(density))
    return velocity


def expansion_ratio(
    pressure_drop: Number,
    upstream_pressure: Number,
    gamma: Number = HEAT_CAPACITY_RATIO_AIR,
) -> Array:
    """Compute compressible over incompressible mass flow through one nozzle.

    Parameters
    ----------
    pressure_drop : float or ndarray
        Pressure drop, zero or above. [Pa]
    upstream_pressure : float or ndarray
        Absolute total pressure upstream. [Pa]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        Ratio, 1 for a vanishing drop, 0.962 at 28 inH2O below one atmosphere. [-]

    Raises
    ------
    RangeError
        Drop below zero or above the upstream pressure.

    Notes
    -----
    Definition: :func:`isentropic_mass_flux` over :func:`incompressible_mass_flux` with the
    upstream density ``p0/(R T0)``, so temperature and gas cancel::

        y = r^(1/gamma) sqrt(gamma/(gamma - 1) (1 - r^((gamma - 1)/gamma)) / (1 - r)),

    ``r = 1 - dp/p0``, held at the critical ratio in the numerator when choked.  For small drops
    ``y = 1 - 3/(4 gamma) dp/p0``.

    Examples
    --------
    >>> round(float(expansion_ratio(28 * 249.08891, 101325.0)), 5)
    0.96242
    """
    fraction = as_array(pressure_drop) / as_array(upstream_pressure)
    if np.any(fraction < 0.0) or np.any(fraction > 1.0):
        raise RangeError(
            "Pressure drop must lie between zero and the absolute upstream pressure.",
            "Check the sign and the unit of the test pressure.",
        )
    g = as_array(gamma)
    small = fraction < _SERIES_DROP
    safe = np.where(small, _SERIES_DROP, fraction)
    # 1 - r is the given fraction, not recomputed, to keep its digits; 0.9 is choked for any gas
    log_ratio = np.maximum(np.log1p(-np.minimum(safe, 0.9)), np.log(critical_pressure_ratio(g)))
    work = -np.expm1((g - 1.0) / g * log_ratio)
    closed = np.exp(log_ratio / g) * np.sqrt(g / (g - 1.0) * work / safe)
    series = 1.0 - 0.75 / g * fraction
    return unwrapped(np.where(small, series, closed))


def shock_mach(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute the Mach number behind a normal shock.

    Parameters
    ----------
    mach : float or ndarray
        Mach number ahead of the shock, 1 or above. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        Mach number behind. [-]

    Notes
    -----
    Definition (Rankine-Hugoniot):
    ``M2^2 = (1 + (gamma-1)/2 M1^2) / (gamma M1^2 - (gamma-1)/2)``.
    """
    M2, g = as_array(mach) ** 2, as_array(gamma)
    behind: Array = np.sqrt((1.0 + 0.5 * (g - 1.0) * M2) / (g * M2 - 0.5 * (g - 1.0)))
    return behind


def shock_pressure_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute static pressure behind over ahead of a normal shock.

    Parameters
    ----------
    mach : float or ndarray
        Mach number ahead of the shock, 1 or above. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        p2 / p1. [-]

    Notes
    -----
    Definition (Rankine-Hugoniot): ``p2/p1 = 1 + 2 gamma/(gamma + 1) (M1^2 - 1)``.
    """
    g = as_array(gamma)
    return 1.0 + 2.0 * g / (g + 1.0) * (as_array(mach) ** 2 - 1.0)


def shock_density_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute density behind over ahead of a normal shock.

    Parameters
    ----------
    mach : float or ndarray
        Mach number ahead of the shock, 1 or above. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        rho2 / rho1. [-]

    Notes
    -----
    Definition (Rankine-Hugoniot): ``rho2/rho1 = (gamma + 1) M1^2 / ((gamma - 1) M1^2 + 2)``.
    """
    M2, g = as_array(mach) ** 2, as_array(gamma)
    return (g + 1.0) * M2 / ((g - 1.0) * M2 + 2.0)


def shock_total_pressure_ratio(mach: Number, gamma: Number = HEAT_CAPACITY_RATIO_AIR) -> Array:
    """Compute total pressure behind over ahead of a normal shock: what the shock costs.

    Parameters
    ----------
    mach : float or ndarray
        Mach number ahead of the shock, 1 or above. [-]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        p02 / p01. [-]

    Notes
    -----
    Definition: static ratio across the shock with the isentropic ratios on both sides.
    """
    ahead = pressure_ratio(mach, gamma)
    behind = pressure_ratio(shock_mach(mach, gamma), gamma)
    return shock_pressure_ratio(mach, gamma) * ahead / behind
