"""Discharge coefficients of a valve on each of its areas, and figures too good to be true."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array, Number, as_array
from portwright.core.valve import (
    ValveShape,
    checked_lift,
    curtain_area,
    minimum_area,
    net_throat_area,
    valve_disc_area,
)

# Common practice, from memory: figures above these are worth checking, not impossible as such.
SUSPICIOUS_ON_MINIMUM_AREA = 1.15
"""Coefficient on the minimum area above which something is likely wrong. [-]

From memory.  About 1 is the ideal, yet a good exhaust valve at L/D 0.05 is quoted with up to 0.74
on the curtain, which on a 45 degree seat is 1.1 on the minimum area: the gap works as a short
diffuser, and an area that rests on a seat width of 1 or 2 mm is not exact.
"""
SUSPICIOUS_ON_NET_THROAT = 0.95
"""Coefficient on the net throat above which something is likely wrong (from memory). [-]"""
SUSPICIOUS_ON_CURTAIN = 0.80
"""Coefficient on the curtain above which something is likely wrong (from memory). [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class DischargeCoefficients:
    """Discharge coefficients of one sweep, each named by the area it refers to.

    Parameters
    ----------
    curtain : ndarray
        On the curtain ``pi D L``. [-]
    valve_disc : ndarray
        On the valve disc ``pi/4 D^2``. [-]
    net_throat : ndarray
        On the throat less the stem. [-]
    minimum_area : ndarray
        On the smallest geometric area at each lift. [-]
    """

    curtain: Array
    valve_disc: Array
    net_throat: Array
    minimum_area: Array


def discharge_coefficients(area: Number, lift: Number, shape: ValveShape) -> DischargeCoefficients:
    """Compute the discharge coefficient on each reference area.

    Parameters
    ----------
    area : float or ndarray
        Effective area. [m2]
    lift : float or ndarray
        Valve lift, not below zero; at zero the first and last coefficient are NaN. [m]
    shape : ValveShape
        Valve and seat.

    Returns
    -------
    DischargeCoefficients
        Effective area over curtain, valve disc, net throat and minimum area.

    Raises
    ------
    RangeError
        Lift below zero.

    Notes
    -----
    Definition.  The same flow has very different coefficients on different areas: always name it.
    """
    effective, height = np.broadcast_arrays(as_array(area), checked_lift(lift))
    open_lift = np.where(height > 0.0, height, np.nan)
    return DischargeCoefficients(
        curtain=effective / curtain_area(shape, open_lift),
        valve_disc=effective / valve_disc_area(shape),
        net_throat=effective / net_throat_area(shape),
        minimum_area=effective / minimum_area(shape, open_lift),
    )


def flow_per_valve_area(flow: Number, shape: ValveShape) -> Array:
    """Compute flow per area of the valve discs.

    Parameters
    ----------
    flow : float or ndarray
        Volume flow. [m3/s]
    shape : ValveShape
        Valve and seat.

    Returns
    -------
    ndarray
        Flow per valve area: a velocity, shown in the trade as cfm per square inch. [m/s]

    Notes
    -----
    Definition.
    """
    return as_array(flow) / valve_disc_area(shape)
