"""What a flow bench shows, as volume flow in reference air: one function per kind of metering.

All flows end as ``Q_ref``, the volume flow the head would pass at its test pressure in reference
air (20 degC, 101325 Pa, dry); :func:`portwright.core.bench.effective_area` does the rest.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from portwright.core.air import REFERENCE_AIR
from portwright.core.constants import Array, Number, as_array
from portwright.core.orifice import Taps, pipe_orifice_mass_flow, plate_mass_flow
from portwright.errors import RangeError

REFERENCE_DENSITY = REFERENCE_AIR.density
"""Density stored flow is expressed in. [kg/m3]"""


class FlowMeaning(StrEnum):
    """What air a volume flow shown by a bench is a volume of."""

    REFERENCE_AIR = "reference-air"  # as if the air had been reference air, the trade's cfm
    ACTUAL_AIR = "actual-air"  # of the air that was at the head


class RangeScale(StrEnum):
    """What the full-scale flow of a numbered range does when the test pressure changes."""

    FIXED = "fixed"  # the meter passes the same flow whatever the drop across the head
    SQUARE_ROOT = "square-root"  # range constants are stated per test pressure and go as its root


def reference_flow(mass_flow: Number, head_density: Number) -> Array:
    """Express a mass flow as volume flow the head would pass in reference air.

    Parameters
    ----------
    mass_flow : float or ndarray
        Mass flow through the head. [kg/s]
    head_density : float or ndarray
        Density of the air ahead of the head. [kg/m3]

    Returns
    -------
    ndarray
        Volume flow in reference air. [m3/s]

    Notes
    -----
    Definition: the same area at the same drop passes ``m ~ sqrt(rho)`` and ``Q ~ 1/sqrt(rho)``, so
    ``Q_ref = m / sqrt(rho_head rho_ref)``.
    """
    flow: Array = as_array(mass_flow) / np.sqrt(as_array(head_density) * REFERENCE_DENSITY)
    return flow


def direct_flow(indicated: Number, meaning: FlowMeaning, head_density: Number) -> Array:
    """Read a bench that shows volume flow directly.

    Parameters
    ----------
    indicated : float or ndarray
        Volume flow shown. [m3/s]
    meaning : FlowMeaning
        What air it is a volume of.
    head_density : float or ndarray
        Density of the air ahead of the head; only used for actual air. [kg/m3]

    Returns
    -------
    ndarray
        Volume flow in reference air. [m3/s]

    Notes
    -----
    Definition: reference air as shown; actual air is the mass flow ``rho_head Q`` put through
    :func:`reference_flow`.
    """
    flow = as_array(indicated)
    match meaning:
        case FlowMeaning.REFERENCE_AIR:
            return flow + 0.0 * as_array(head_density)
        case FlowMeaning.ACTUAL_AIR:
            return reference_flow(flow * as_array(head_density), head_density)


def percent_of_range_flow(
    fraction: Number,
    full_scale: Number,
    range_pressure: Number,
    test_pressure: Number,
    scale: RangeScale,
) -> Array:
    """Read a bench with numbered ranges and a percent scale.

    Parameters
    ----------
    fraction : float or ndarray
        Reading as fraction of full scale, 0 to 1.2. [-]
    full_scale : float or ndarray
        Flow at full scale of the range in use. [m3/s]
    range_pressure : float or ndarray
        Test pressure the full-scale flow is stated for. [Pa]
    test_pressure : float or ndarray
        Test pressure of this reading. [Pa]
    scale : RangeScale
        What the full-scale flow does between the two pressures; they are usually equal.

    Returns
    -------
    ndarray
        Volume flow at the test pressure, in the air the full-scale flow is stated for. [m3/s]

    Raises
    ------
    RangeError
        Fraction below 0 or above 1.2, full scale or a pressure not above zero.

    Notes
    -----
    Definition: ``Q = fraction Q_fs`` for a fixed scale, times ``sqrt(dp_test/dp_range)`` for
    the other.  Percent means percent of flow; a scale in percent of pressure must be rooted first.
    """
    f, q = as_array(fraction), as_array(full_scale)
    if np.any((f < 0.0) | (f > 1.2)):
        raise RangeError(
            "Percent of range must lie between 0 and 120 %.", "Is the reading a flow instead?"
        )
    dp_range, dp_test = as_array(range_pressure), as_array(test_pressure)
    need_above_zero("Full-scale flow of the range", q)
    need_above_zero("Test pressure", dp_range, dp_test)
    match scale:
        case RangeScale.FIXED:
            return f * q + 0.0 * dp_test
        case RangeScale.SQUARE_ROOT:
            flow: Array = f * q * np.sqrt(dp_test / dp_range)
            return flow


def orifice_flow(
    plate_drop: Number,
    bore: Number,
    coefficient: Number,
    *,
    meter_pressure: Number,
    meter_density: Number,
    head_density: Number,
) -> Array:
    """Read a bench with a freely discharging plate of known coefficient and two pressures.

    Parameters
    ----------
    plate_drop : float or ndarray
        Drop across the plate. [Pa]
    bore : float or ndarray
        Bore of the plate. [m]
    coefficient : float or ndarray
        Discharge coefficient, without expansion. [-]
    meter_pressure : float or ndarray
        Absolute pressure ahead of the plate. [Pa]
    meter_density : float or ndarray
        Density ahead of the plate. [kg/m3]
    head_density : float or ndarray
        Density ahead of the head. [kg/m3]

    Returns
    -------
    ndarray
        Volume flow in reference air. [m3/s]

    Raises
    ------
    RangeError
        As :func:`portwright.core.orifice.plate_mass_flow`.

    Notes
    -----
    Definition: mass flow of the plate put through :func:`reference_flow`; air temperature and
    pressure at both places are thereby accounted for.
    """
    mass = plate_mass_flow(
        bore,
        coefficient,
        plate_drop,
        upstream_pressure=meter_pressure,
        upstream_density=meter_density,
    )
    return reference_flow(mass, head_density)


def pipe_orifice_flow(
    plate_drop: Number,
    pipe_diameter: Number,
    bore: Number,
    taps: Taps,
    *,
    meter_pressure: Number,
    meter_density: Number,
    meter_viscosity: Number,
    head_density: Number,
) -> Array:
    """Read a bench with an ISO 5167-2 plate in a pipe.

    Parameters
    ----------
    plate_drop : float or ndarray
        Drop across the taps. [Pa]
    pipe_diameter : float or ndarray
        Inside diameter of the pipe. [m]
    bore : float or ndarray
        Bore of the plate. [m]
    taps : Taps
        Where the pressures are taken.
    meter_pressure : float or ndarray
        Absolute pressure ahead of the plate. [Pa]
    meter_density : float or ndarray
        Density ahead of the plate. [kg/m3]
    meter_viscosity : float or ndarray
        Dynamic viscosity at the plate. [Pa s]
    head_density : float or ndarray
        Density ahead of the head. [kg/m3]

    Returns
    -------
    ndarray
        Volume flow in reference air. [m3/s]

    Raises
    ------
    RangeError, NotConvergedError
        As :func:`portwright.core.orifice.pipe_orifice_mass_flow`.

    Notes
    -----
    Definition: mass flow of the plate put through :func:`reference_flow`.
    """
    mass = pipe_orifice_mass_flow(
        pipe_diameter,
        bore,
        plate_drop,
        upstream_pressure=meter_pressure,
        upstream_density=meter_density,
        viscosity=meter_viscosity,
        taps=taps,
    )
    return reference_flow(mass, head_density)


def meter_air_factor(head_density: Number, meter_density: Number) -> Array:
    """Correct an orifice bench for air of different density at head and meter.

    Parameters
    ----------
    head_density : float or ndarray
        Density ahead of the head. [kg/m3]
    meter_density : float or ndarray
        Density ahead of the meter. [kg/m3]

    Returns
    -------
    ndarray
        Factor to multiply the shown flow by. [-]

    Notes
    -----
    Definition, from one mass flow through both: the meter shows ``Q = K sqrt(dp_m/rho_ref)`` while
    ``m = K sqrt(rho_m dp_m)``, so ``Q_ref = m/sqrt(rho_h rho_ref) = Q sqrt(rho_m/rho_h)``.  A
    bench calibrated with the same plenum pressure has the pressure part in its constants already:
    then use :func:`temperature_factor`.
    """
    factor: Array = np.sqrt(as_array(meter_density) / as_array(head_density))
    return factor


def temperature_factor(head_temperature: Number, meter_temperature: Number) -> Array:
    """Correct an orifice bench for air warmer at one place than at the other.

    Parameters
    ----------
    head_temperature : float or ndarray
        Air temperature ahead of the head. [K]
    meter_temperature : float or ndarray
        Air temperature ahead of the meter. [K]

    Returns
    -------
    ndarray
        Factor to multiply the shown flow by; below 1 when the blower warms the meter. [-]

    Notes
    -----
    :func:`meter_air_factor` with ``rho ~ 1/T``: ``sqrt(T_head/T_meter)`` (definition), whichever
    comes first in the air's way.
    """
    factor: Array = np.sqrt(as_array(head_temperature) / as_array(meter_temperature))
    return factor


def need_above_zero(what: str, *values: Array) -> None:
    """Refuse values that are not above zero; NaN passes.

    Parameters
    ----------
    what : str
        Name of the quantity for the message.
    *values : ndarray
        Values to look at. [-]

    Raises
    ------
    RangeError
        Any value at or below zero.

    Notes
    -----
    Definition.
    """
    for value in values:
        if np.any(value <= 0.0):
            raise RangeError(f"{what} must be above zero.", "Check the value and its sign.")
