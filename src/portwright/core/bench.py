"""Effective area of the port, what a leak does to it, and flow at any test pressure as a view.

The stored result is the effective area at the test pressure::

    A_eff = Q_ref / sqrt(2 dp / rho_ref)

``Q_ref`` is the volume flow the head would pass at the test pressure ``dp`` in reference air
(20 degC, 101325 Pa, dry); the test pressure is stored beside it.  The definition is the
incompressible one the trade's figures rest on; what compressibility does is a separate, visible
step (:func:`isentropic_area`, :func:`flow_from_area`).
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from portwright.core.constants import (
    HEAT_CAPACITY_RATIO_AIR,
    STANDARD_PRESSURE,
    Array,
    Number,
    as_array,
    unwrapped,
)
from portwright.core.gasflow import expansion_ratio, jet_velocity
from portwright.core.metering import REFERENCE_DENSITY, need_above_zero
from portwright.errors import RangeError


class PressureLaw(StrEnum):
    """How flow is carried from the test pressure to another one."""

    COMPRESSIBLE = "compressible"
    SQUARE_ROOT = "square-root"


class LeakTreatment(StrEnum):
    """What is done with the leak found when the port was blanked."""

    AS_UNCERTAINTY = "as-uncertainty"
    SUBTRACT = "subtract"


def effective_area(
    flow: Number, pressure_drop: Number, density: Number = REFERENCE_DENSITY
) -> Array:
    """Compute the effective area from volume flow and test pressure.

    Parameters
    ----------
    flow : float or ndarray
        Volume flow, not below zero. [m3/s]
    pressure_drop : float or ndarray
        Test pressure, above zero. [Pa]
    density : float or ndarray
        Density of the air the flow is a volume of; reference air unless given. [kg/m3]

    Returns
    -------
    ndarray
        Effective area, incompressible definition, belonging to this test pressure. [m2]

    Raises
    ------
    RangeError
        Flow below zero, test pressure or density not above zero.

    Notes
    -----
    Definition: ``A_eff = Q / sqrt(2 dp / rho)``.

    Examples
    --------
    One square inch passes 147.1 cfm at 28 inH2O:

    >>> area = effective_area(147.1 * 4.719474e-4, 28 * 249.08891)
    >>> round(float(area) / 0.0254**2, 3)
    1.0
    """
    q = as_array(flow)
    if np.any(q < 0.0):
        raise RangeError("Flow below zero.", "For flow the other way record the other direction.")
    need_above_zero("Test pressure", as_array(pressure_drop))
    need_above_zero("Air density", as_array(density))
    return q / jet_velocity(density, pressure_drop)


def flow_from_area(
    area: Number,
    from_drop: Number,
    to_drop: Number,
    density: Number = REFERENCE_DENSITY,
    *,
    law: PressureLaw = PressureLaw.COMPRESSIBLE,
    upstream_pressure: Number = STANDARD_PRESSURE,
) -> Array:
    """Compute the volume flow a stored effective area means at any test pressure.

    Parameters
    ----------
    area : float or ndarray
        Effective area. [m2]
    from_drop : float or ndarray
        Test pressure the area was measured at. [Pa]
    to_drop : float or ndarray
        Test pressure wanted. [Pa]
    density : float or ndarray
        Density of the air ahead of the head; reference air unless given. [kg/m3]
    law : PressureLaw
        How the flow is carried over; without effect when both pressures are equal.
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the head. [Pa]

    Returns
    -------
    ndarray
        Volume flow at the wanted test pressure. [m3/s]

    Raises
    ------
    RangeError
        Pressure drop below zero or above the upstream pressure.

    Notes
    -----
    Square root: ``Q = A sqrt(2 dp_to/rho)``.  Compressible: the same times
    ``y(dp_to)/y(dp_from)`` with the expansion ratio y of a nozzle of unchanged coefficient (see
    :func:`portwright.core.gasflow.expansion_ratio`).  Neither knows about flow that separates at
    one pressure and not at the other.  Definition.
    """
    flow = as_array(area) * jet_velocity(density, to_drop)
    match law:
        case PressureLaw.SQUARE_ROOT:
            return flow + 0.0 * as_array(from_drop)
        case PressureLaw.COMPRESSIBLE:
            to_ratio = expansion_ratio(to_drop, upstream_pressure)
            return flow * to_ratio / expansion_ratio(from_drop, upstream_pressure)


def square_root_error(
    from_drop: Number, to_drop: Number, upstream_pressure: Number = STANDARD_PRESSURE
) -> Array:
    """Compute how much the plain square root overstates the flow at another test pressure.

    Parameters
    ----------
    from_drop : float or ndarray
        Test pressure of the measurement. [Pa]
    to_drop : float or ndarray
        Test pressure converted to. [Pa]
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the head. [Pa]

    Returns
    -------
    ndarray
        Square-root over compressible flow minus one; above zero means overstated. [-]

    Notes
    -----
    Definition: ``y(dp_from)/y(dp_to) - 1``.  From 10 to 28 inH2O 2.5 %, from 25 to 28 0.4 %.

    Examples
    --------
    >>> inch = 249.08891
    >>> round(float(square_root_error(10 * inch, 28 * inch)) * 100, 2)
    2.53
    """
    to_ratio = expansion_ratio(to_drop, upstream_pressure)
    return expansion_ratio(from_drop, upstream_pressure) / to_ratio - 1.0


def isentropic_area(
    area: Number,
    pressure_drop: Number,
    upstream_pressure: Number = STANDARD_PRESSURE,
    gamma: Number = HEAT_CAPACITY_RATIO_AIR,
) -> Array:
    """Compute the area a compressible nozzle of the same mass flow would have.

    What a gas-exchange simulation needs.

    Parameters
    ----------
    area : float or ndarray
        Stored effective area. [m2]
    pressure_drop : float or ndarray
        Test pressure it was measured at. [Pa]
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the head. [Pa]
    gamma : float or ndarray
        Ratio of specific heats. [-]

    Returns
    -------
    ndarray
        Effective area of the compressible nozzle, 3.9 % larger at 28 inH2O. [m2]

    Raises
    ------
    RangeError
        Pressure drop below zero or above the upstream pressure.

    Notes
    -----
    Definition: ``A_is = A_eff / y(dp)``.
    """
    return as_array(area) / expansion_ratio(pressure_drop, upstream_pressure, gamma)


def leak_corrected(area: Number, leak_area: Number, treatment: LeakTreatment) -> Array:
    """Apply the chosen treatment of a recorded leak to the effective area.

    Parameters
    ----------
    area : float or ndarray
        Effective area as measured. [m2]
    leak_area : float or ndarray
        Effective area of the leak at the same test pressure. [m2]
    treatment : LeakTreatment
        What is done with it.

    Returns
    -------
    ndarray
        Effective area; NaN where the leak is not below what was measured. [m2]

    Raises
    ------
    RangeError
        Leak below zero.

    Notes
    -----
    Definition.  Port and leak lie side by side, so their effective areas add.
    """
    leak = as_array(leak_area)
    if np.any(leak < 0.0):
        raise RangeError("A leak cannot be below zero.", "Zero the gauges and measure it again.")
    match treatment:
        case LeakTreatment.AS_UNCERTAINTY:
            return as_array(area) + 0.0 * leak
        case LeakTreatment.SUBTRACT:
            left = as_array(area) - leak
            return unwrapped(np.where(left > 0.0, left, np.nan))
