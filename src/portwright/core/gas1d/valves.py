"""Valve lift against crank angle, and effective area from lift and a flow curve."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from portwright.core.curve import Array
from portwright.core.gas1d.engine import CURVE_SIZE
from portwright.errors import RangeError, ShapeError

ANGLES = np.linspace(0.0, 720.0, CURVE_SIZE)


def lift_from_table(offset: Array, lift: Array, centre: float, lash: float = 0.0) -> Array:
    """Valve lift at every quarter degree from a measured lift table.

    Parameters
    ----------
    offset : ndarray, shape (n,)
        Crank angle from the centre of the lobe, increasing. [deg]
    lift : ndarray, shape (n,)
        Lift at the valve without lash, zero or more. [m]
    centre : float
        Crank angle of the lobe centre from firing dead centre: 360 plus the intake centre after
        dead centre, 360 minus the exhaust centre before it. [deg]
    lash : float
        Running clearance taken off the lift. [m]

    Returns
    -------
    ndarray, shape (2881,)
        Lift from 0 to 720 degrees. [m]

    Raises
    ------
    ShapeError
        Columns that do not fit together.
    RangeError
        Angles not increasing or lift below zero.
    """
    if offset.shape != lift.shape or offset.size < 4:
        raise ShapeError("A lift table needs the same number of angles and lifts, four or more.")
    if not (np.all(np.diff(offset) > 0.0) and np.all(lift >= 0.0)):
        raise RangeError("Angles of a lift table must increase and lifts not be below zero.")
    around = (ANGLES - centre + 360.0) % 720.0 - 360.0
    curve = PchipInterpolator(offset, lift, extrapolate=False)(around)
    out: Array = np.maximum(np.nan_to_num(curve, nan=0.0) - lash, 0.0)
    return out


def lift_from_events(opens: float, closes: float, checking_lift: float, most_lift: float) -> Array:
    """Smooth lift curve through timing at a checking lift.

    For a cam known only by its card. The shape ``L (1 - (a/a0)^2)^2`` is our own choice; ``a0``
    follows from the timing. A measured lift table is better.

    Parameters
    ----------
    opens, closes : float
        Crank angles from firing dead centre at the checking lift. [deg]
    checking_lift, most_lift : float
        Checking lift and largest lift at the valve. [m]

    Returns
    -------
    ndarray, shape (2881,)
        Lift from 0 to 720 degrees. [m]

    Raises
    ------
    RangeError
        Events or lifts that describe no lobe.
    """
    width = closes - opens
    if not (0.0 < checking_lift < most_lift and 0.0 < width < 480.0):
        raise RangeError(
            "A cam card needs a checking lift below the largest lift and closing after opening.",
            "Give both events as crank angle from firing dead centre, 0 to 720.",
        )
    half = 0.5 * width

    def miss(seat: float) -> float:
        return most_lift * (1.0 - (half / seat) ** 2) ** 2 - checking_lift

    seat = float(brentq(miss, half * 1.0000001, half * 50.0))
    around = (ANGLES - 0.5 * (opens + closes) + 360.0) % 720.0 - 360.0
    inside = np.clip(1.0 - (around / seat) ** 2, 0.0, 1.0)
    lift: Array = most_lift * inside**2
    return lift


def area_against_crank(lift_curve: Array, lift: Array, area: Array) -> Array:
    """Effective valve area at every quarter degree.

    Parameters
    ----------
    lift_curve : ndarray, shape (2881,)
        Valve lift from 0 to 720 degrees. [m]
    lift : ndarray, shape (n,)
        Lifts of the flow curve, increasing, above zero. [m]
    area : ndarray, shape (n,)
        Effective area of the valve alone at these lifts. [m2]

    Returns
    -------
    ndarray, shape (2881,)
        Effective area; above the last tested lift it stays what it was there. [m2]

    Raises
    ------
    ShapeError
        Arrays that do not fit together.
    """
    if lift.shape != area.shape or lift_curve.shape != (CURVE_SIZE,):
        raise ShapeError("Lift curve and flow curve do not fit together.")
    curve = PchipInterpolator(np.append(0.0, lift), np.append(0.0, area))
    out: Array = curve(np.clip(lift_curve, 0.0, lift[-1]))
    return np.maximum(out, 0.0)
