"""How much of a flow curve a cam uses, and where more lift stops paying."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.engine.breathing import open_period
from portwright.errors import RangeError

_SMALL = 0.01  # more lift pays while it adds at least this share of the integral
_STEPS = 400


@dataclass(frozen=True, slots=True)
class LiftUse:
    """What a cam makes of the lifts of a flow curve.

    Parameters
    ----------
    most_lift : float
        Largest lift of this cam, lash taken off. [m]
    tested_to : float
        Highest lift of the flow curve. [m]
    share_of_peak : float
        Mean effective area over the open period over the largest effective area reached. [-]
    enough : float
        All lift above this adds less than 1 % of the integral of area over the open period. [m]
    gain_of_more : float
        Gain of that integral by the cam's lift raised by ``step`` everywhere in proportion. [-]
    step : float
        [m]
    pays_up_to : float or None
        Full lift from which another ``step`` adds less than 1 %, the same lobe scaled; None
        where that is not reached inside the tested lifts. [m]
    held : float
        Share of the open angle above the highest tested lift, where its area is held. [-]
    """

    most_lift: float
    tested_to: float
    share_of_peak: float
    enough: float
    gain_of_more: float
    step: float
    pays_up_to: float | None
    held: float


def lift_use(lift_curve: Array, lift: Array, area: Array, step: float = 1e-3) -> LiftUse:
    """Work out how a cam uses a flow curve.

    Parameters
    ----------
    lift_curve : ndarray, shape (2881,)
        Valve lift from 0 to 720 degrees, every quarter degree. [m]
    lift, area : ndarray, shape (n,)
        Flow curve. [m, m2]
    step : float
        Additional full lift that is tried. [m]

    Returns
    -------
    LiftUse

    Raises
    ------
    RangeError
        The valve never opens, or a step not above zero.

    Notes
    -----
    Two different questions. ``enough`` cuts the top off the lift curve of this cam until 1 % of
    the integral is lost. ``pays_up_to`` scales the whole lobe, so that the valve also opens and
    closes faster. Above the highest tested lift the area is held.
    """
    if not step > 0.0:
        raise RangeError("The step of lift must be above zero.")
    most = float(lift_curve.max())
    whole = open_period(lift_curve, lift, area)

    def capped(limit: float) -> float:
        return open_period(np.minimum(lift_curve, limit), lift, area).integral

    caps = np.linspace(most / _STEPS, most, _STEPS)
    kept = np.array([capped(c) for c in caps]) / whole.integral
    enough = float(np.interp(1.0 - _SMALL, kept, caps))

    def scaled(full: float) -> float:
        return open_period(lift_curve * (full / most), lift, area).integral

    gain = scaled(most + step) / whole.integral - 1.0
    pays = None
    for full in np.arange(2.0 * step, float(lift[-1]) - step + 1e-9, 0.1 * step):
        if scaled(full + step) / scaled(full) - 1.0 < _SMALL:
            pays = float(full)
            break
    peak = float(np.interp(min(most, float(lift[-1])), lift, area))
    is_open = lift_curve > 0.0
    held = float(np.mean(lift_curve[is_open] > lift[-1]))
    return LiftUse(most, float(lift[-1]), whole.mean_area / peak, enough, gain, step, pays, held)
