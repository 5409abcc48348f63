"""Properties of the air that goes through the head: density, speed of sound, viscosity."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import (
    MOLAR_GAS_CONSTANT,
    MOLAR_MASS_DRY_AIR,
    MOLAR_MASS_WATER,
    STANDARD_PRESSURE,
    ZERO_CELSIUS,
    Array,
    Number,
    as_array,
)
from portwright.errors import Finding, RangeError, Severity

# CIPM-2007 (Picard, Davis, Glaser, Fujii, Metrologia 45 (2008) 149-155); how each was obtained
# is written in the docstrings below.
_PSV_A, _PSV_B, _PSV_C, _PSV_D = 1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3
_F_ALPHA, _F_BETA, _F_GAMMA = 1.00062, 3.14e-8, 5.6e-7
_Z_A0, _Z_A1, _Z_A2 = 1.58123e-6, -2.9331e-8, 1.1043e-10
_Z_B0, _Z_B1, _Z_C0, _Z_C1 = 5.707e-6, -2.051e-8, 1.9898e-4, -2.376e-6
_Z_D, _Z_E = 1.83e-11, -0.765e-8
_CO2_REFERENCE, _CO2_MOLAR_SLOPE = 400e-6, 12.011e-3

# U.S. Standard Atmosphere 1976, equation 51 (seen second hand).
_SUTHERLAND_FACTOR, _SUTHERLAND_TEMPERATURE = 1.458e-6, 110.4

# Ideal-gas heat capacities at constant pressure near 20 degC as multiples of the gas constant:
# 7/2 for a rigid diatomic gas; 4.04 for water vapour (from memory, checked against Cantera).
_HEAT_CAPACITY_DRY, _HEAT_CAPACITY_VAPOUR = 3.5, 4.04

CIPM_PRESSURE = (60_000.0, 110_000.0)
"""Pressures CIPM-2007 was made for (seen second hand). [Pa]"""

CIPM_TEMPERATURE = (ZERO_CELSIUS + 15.0, ZERO_CELSIUS + 27.0)
"""Temperatures CIPM-2007 was made for (seen second hand). [K]"""

POSSIBLE_TEMPERATURE = (150.0, 400.0)
"""Air colder or hotter than this cannot be at a flow bench (our choice). [K]"""


def saturation_vapour_pressure(temperature: Number) -> Array:
    """Compute the pressure of water vapour over liquid water at saturation.

    Parameters
    ----------
    temperature : float or ndarray
        Air temperature. [K]

    Returns
    -------
    ndarray
        Saturation vapour pressure. [Pa]

    Notes
    -----
    ``psv = exp(A T^2 + B T + C + D/T)``, CIPM-2007.  All four constants were read second hand, in
    several independent transcriptions that agree.

    References
    ----------
    Picard, Davis, Glaser, Fujii, Metrologia 45 (2008) 149-155, appendix A1.

    Examples
    --------
    >>> round(float(saturation_vapour_pressure(293.15)), 1)
    2339.2
    """
    T = as_array(temperature)
    pressure: Array = np.exp(_PSV_A * T**2 + _PSV_B * T + _PSV_C + _PSV_D / T)
    return pressure


def vapour_fraction(pressure: Number, temperature: Number, relative_humidity: Number) -> Array:
    """Compute the mole fraction of water vapour in moist air.

    Parameters
    ----------
    pressure : float or ndarray
        Absolute pressure of the air. [Pa]
    temperature : float or ndarray
        Air temperature. [K]
    relative_humidity : float or ndarray
        Relative humidity, 0 dry to 1 saturated. [-]

    Returns
    -------
    ndarray
        Mole fraction of water vapour. [-]

    Notes
    -----
    ``xv = h f psv / p`` with the enhancement factor ``f = alpha + beta p + gamma t^2``, t in degC;
    CIPM-2007, constants seen second hand.

    References
    ----------
    Picard, Davis, Glaser, Fujii, Metrologia 45 (2008) 149-155, appendix A1.
    """
    p = as_array(pressure)
    t = as_array(temperature) - ZERO_CELSIUS
    enhancement = _F_ALPHA + _F_BETA * p + _F_GAMMA * t**2
    return as_array(relative_humidity) * enhancement * saturation_vapour_pressure(temperature) / p


def compressibility(pressure: Number, temperature: Number, vapour: Number) -> Array:
    """Compute the compressibility factor Z of moist air.

    Parameters
    ----------
    pressure : float or ndarray
        Absolute pressure of the air. [Pa]
    temperature : float or ndarray
        Air temperature. [K]
    vapour : float or ndarray
        Mole fraction of water vapour. [-]

    Returns
    -------
    ndarray
        Compressibility factor, 0.9996 for room air. [-]

    Notes
    -----
    ``Z = 1 - (p/T)[a0 + a1 t + a2 t^2 + (b0 + b1 t) xv + (c0 + c1 t) xv^2] + (p/T)^2 (d + e xv^2)``
    with t in degC; CIPM-2007, constants read in an implementation that names equation A1.4.

    References
    ----------
    Picard, Davis, Glaser, Fujii, Metrologia 45 (2008) 149-155, appendix A1.
    """
    T, x = as_array(temperature), as_array(vapour)
    t = T - ZERO_CELSIUS
    ratio = as_array(pressure) / T
    linear = _Z_A0 + _Z_A1 * t + _Z_A2 * t**2
    linear = linear + (_Z_B0 + _Z_B1 * t) * x + (_Z_C0 + _Z_C1 * t) * x**2
    return 1.0 - ratio * linear + ratio**2 * (_Z_D + _Z_E * x**2)


def moist_air_density(
    pressure: Number,
    temperature: Number,
    relative_humidity: Number,
    co2_fraction: Number = _CO2_REFERENCE,
) -> Array:
    """Compute the density of moist air by CIPM-2007.

    Made for 600 to 1100 hPa and 15 to 27 degC; outside it still answers (smoothly) and
    :func:`air_findings` says so.

    Parameters
    ----------
    pressure : float or ndarray
        Absolute pressure of the air. [Pa]
    temperature : float or ndarray
        Air temperature. [K]
    relative_humidity : float or ndarray
        Relative humidity, 0 dry to 1 saturated. [-]
    co2_fraction : float or ndarray
        Mole fraction of carbon dioxide. [-]

    Returns
    -------
    ndarray
        Density. [kg/m3]

    Raises
    ------
    RangeError
        Air that cannot exist: see :func:`check_air`.

    Notes
    -----
    ``rho = p Ma / (Z R T) [1 - xv (1 - Mv/Ma)]`` with
    ``Ma = 28.96546e-3 + 12.011e-3 (xCO2 - 400e-6)``.  How the constants came: Ma, Mv, R and those
    of Z were read in an implementation that names the paper; those of the enhancement factor
    and the saturation pressure second hand in several transcriptions.  The paper's own worked
    table was not available.  NaN in gives NaN out.

    References
    ----------
    Picard, Davis, Glaser, Fujii, Metrologia 45 (2008) 149-155, appendix A1.

    Examples
    --------
    >>> round(float(moist_air_density(101325.0, 293.15, 0.5)), 4)
    1.1993
    """
    check_air(pressure, temperature, relative_humidity)
    p, T = as_array(pressure), as_array(temperature)
    x = vapour_fraction(p, T, relative_humidity)
    molar_mass = MOLAR_MASS_DRY_AIR + _CO2_MOLAR_SLOPE * (as_array(co2_fraction) - _CO2_REFERENCE)
    dry = p * molar_mass / (compressibility(p, T, x) * MOLAR_GAS_CONSTANT * T)
    return dry * (1.0 - x * (1.0 - MOLAR_MASS_WATER / molar_mass))


def speed_of_sound(
    temperature: Number,
    relative_humidity: Number = 0.0,
    pressure: Number = STANDARD_PRESSURE,
) -> Array:
    """Compute the speed of sound in moist air as an ideal-gas mixture.

    Parameters
    ----------
    temperature : float or ndarray
        Air temperature. [K]
    relative_humidity : float or ndarray
        Relative humidity, 0 dry to 1 saturated. [-]
    pressure : float or ndarray
        Absolute pressure, which sets how much vapour the humidity means. [Pa]

    Returns
    -------
    ndarray
        Speed of sound. [m/s]

    Notes
    -----
    Definition for ideal gases, ``a = sqrt(gamma R T / M)`` with gamma and M of the mixture from
    mole fractions.  At 20 degC, dry, 343.23 m/s; CoolProp (a real-gas equation of state) gives
    343.34, which is 0.03 % more.  Within 0.04 % of CoolProp, dry, from 0 to 60 degC, and within
    0.05 % of Cantera for moist air from 20 to 40 degC.
    """
    T = as_array(temperature)
    x = vapour_fraction(pressure, T, relative_humidity)
    heat_capacity = (1.0 - x) * _HEAT_CAPACITY_DRY + x * _HEAT_CAPACITY_VAPOUR
    gamma = heat_capacity / (heat_capacity - 1.0)
    molar_mass = (1.0 - x) * MOLAR_MASS_DRY_AIR + x * MOLAR_MASS_WATER
    speed: Array = np.sqrt(gamma * MOLAR_GAS_CONSTANT * T / molar_mass)
    return speed


def dynamic_viscosity(temperature: Number) -> Array:
    """Compute the dynamic viscosity of air by Sutherland's formula.

    Good enough where viscosity only enters through a Reynolds number; humidity is left out
    (CoolProp: saturated air is 0.7 % less viscous than dry at 20 degC, 1.3 % at 30 degC).

    Parameters
    ----------
    temperature : float or ndarray
        Air temperature. [K]

    Returns
    -------
    ndarray
        Dynamic viscosity. [Pa s]

    Notes
    -----
    ``mu = 1.458e-6 T^1.5 / (T + 110.4)``.  At 20 degC 1.8134e-5 Pa s; CoolProp gives 1.8206e-5,
    so this is 0.4 % low.  Within 0.6 % of CoolProp (dry) from 0 to 60 degC.  Half a percent of
    Reynolds number moves an orifice coefficient by about 0.01 % at most.

    References
    ----------
    U.S. Standard Atmosphere, 1976, NASA-TM-X-74335, equation 51 (seen second hand).
    """
    T = as_array(temperature)
    return _SUTHERLAND_FACTOR * T**1.5 / (T + _SUTHERLAND_TEMPERATURE)


def check_air(pressure: Number, temperature: Number, relative_humidity: Number) -> None:
    """Refuse air that cannot exist; NaN passes.

    Parameters
    ----------
    pressure : float or ndarray
        Absolute pressure, above zero. [Pa]
    temperature : float or ndarray
        Air temperature, 150 to 400. [K]
    relative_humidity : float or ndarray
        Relative humidity, 0 to 1. [-]

    Raises
    ------
    RangeError
        Any value outside these limits.

    Notes
    -----
    Definition; limits are wide enough that only a wrong unit or a slip of the pen meets them.
    """
    p, h = as_array(pressure), as_array(relative_humidity)
    if np.any(p <= 0.0) or np.any(np.isinf(p)):
        raise RangeError(
            f"Air pressure of {np.min(p) / 1e3:.4g} kPa cannot be.",
            "Enter the absolute (barometer) pressure, not the reading below atmosphere.",
        )
    low, high = POSSIBLE_TEMPERATURE
    kelvin = as_array(temperature)
    beyond = (kelvin < low) | (kelvin > high)
    if np.any(beyond):
        odd = kelvin[beyond].flat[0]
        raise RangeError(
            f"Air temperature of {odd:.4g} K ({odd - ZERO_CELSIUS:.4g} degC) cannot be.",
            "Check the unit: degC, degF or K.",
        )
    beyond = (h < 0.0) | (h > 1.0)
    if np.any(beyond):
        odd = h[beyond].flat[0]
        raise RangeError(
            f"Relative humidity of {odd * 100:.4g} % cannot be.", "It lies between 0 and 100 %."
        )


def air_findings(
    pressure: Number, temperature: Number, relative_humidity: Number
) -> tuple[Finding, ...]:
    """Say where the air lies outside the range the density formula was made for.

    Parameters
    ----------
    pressure : float or ndarray
        Absolute pressure of the air. [Pa]
    temperature : float or ndarray
        Air temperature. [K]
    relative_humidity : float or ndarray
        Relative humidity, 0 dry to 1 saturated. [-]

    Returns
    -------
    tuple of Finding
        At most one ``air-outside-range`` for pressure and one for temperature, with the value
        farthest out; empty when all is inside.

    Raises
    ------
    RangeError
        Air that cannot exist: see :func:`check_air`.

    Notes
    -----
    Definition of the range: CIPM-2007, 600 to 1100 hPa and 15 to 27 degC (seen second hand).
    """
    check_air(pressure, temperature, relative_humidity)
    found = []
    p_out = _farthest_out(as_array(pressure), CIPM_PRESSURE)
    if p_out is not None:
        found.append(_outside(f"Air pressure {p_out / 1e2:.4g} hPa", "600 to 1100 hPa", p_out))
    t_out = _farthest_out(as_array(temperature), CIPM_TEMPERATURE)
    if t_out is not None:
        shown = f"Air temperature {t_out - ZERO_CELSIUS:.4g} degC"
        found.append(_outside(shown, "15 to 27 degC", t_out))
    return tuple(found)


def _farthest_out(value: Array, limits: tuple[float, float]) -> float | None:
    """Value farthest outside the limits, None when all are inside or NaN."""
    low, high = limits
    # 273.15 + 15 and a typed 288.15 differ in the last bit: not a finding
    excess = np.maximum(low - value, value - high) - 1e-9 * high
    if not np.any(excess > 0.0):
        return None
    return float(value.flat[int(np.nanargmax(excess))])


def _outside(what: str, span: str, size: float) -> Finding:
    return Finding(
        code="air-outside-range",
        severity=Severity.NOTE,
        message=f"{what} is outside {span}, the range the density formula was made for.",
        hint="Density is still computed; if the value is right, the extra error is small.",
        size=size,
    )


@dataclass(frozen=True, slots=True)
class Air:
    """State of the air at one place: at the head, or at the meter.

    Parameters
    ----------
    pressure : float
        Absolute pressure. [Pa]
    temperature : float
        Temperature. [K]
    relative_humidity : float
        Relative humidity, 0 dry to 1 saturated. [-]

    Raises
    ------
    RangeError
        Air that cannot exist: see :func:`check_air`.
    """

    pressure: float
    temperature: float
    relative_humidity: float

    def __post_init__(self) -> None:
        check_air(self.pressure, self.temperature, self.relative_humidity)

    @property
    def density(self) -> float:
        """Density by CIPM-2007. [kg/m3]"""
        return float(moist_air_density(self.pressure, self.temperature, self.relative_humidity))

    @property
    def speed_of_sound(self) -> float:
        """Speed of sound. [m/s]"""
        return float(speed_of_sound(self.temperature, self.relative_humidity, self.pressure))

    @property
    def viscosity(self) -> float:
        """Dynamic viscosity. [Pa s]"""
        return float(dynamic_viscosity(self.temperature))


REFERENCE_AIR = Air(STANDARD_PRESSURE, ZERO_CELSIUS + 20.0, 0.0)
"""Air that stored flow is expressed in: 20 degC, 101325 Pa, dry.

Our choice, because it needs no humidity, lies inside the range of the density formula and gives
1.2046 kg/m3, within 0.3 % of the 0.075 lb/ft3 many sheets assume.  Effective area does not
depend on it to first order.
"""
