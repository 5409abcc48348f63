"""How hard an engine breathes through its intake valve: mean inlet Mach number, Mach index."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d.valves import ANGLES, area_against_crank
from portwright.errors import RangeError

_STEP = float(np.radians(ANGLES[1] - ANGLES[0]))
# Flow per area at a sonic throat over density and sound speed at rest, gamma 1.4: (5/6)^3.
CHOKED_FLUX = (5.0 / 6.0) ** 3


@dataclass(frozen=True, slots=True)
class OpenPeriod:
    """Area a valve offers over one opening.

    Parameters
    ----------
    integral : float
        Effective area integrated over crank angle. [m2 rad]
    angle : float
        Crank angle for which the valve is open. [rad]
    """

    integral: float
    angle: float

    @property
    def mean_area(self) -> float:
        """Mean effective area over the open angle. [m2]"""
        return self.integral / self.angle


def open_period(lift_curve: Array, lift: Array, area: Array) -> OpenPeriod:
    """Integrate the effective area of a valve over its opening.

    Parameters
    ----------
    lift_curve : ndarray, shape (2881,)
        Valve lift from 0 to 720 degrees, every quarter degree. [m]
    lift : ndarray, shape (n,)
        Lifts of the flow curve. [m]
    area : ndarray, shape (n,)
        Effective area at these lifts, of all intake valves of a cylinder. [m2]

    Returns
    -------
    OpenPeriod

    Raises
    ------
    RangeError
        The valve never opens.
    """
    offered = area_against_crank(lift_curve, lift, area)
    is_open = lift_curve[:-1] > 0.0
    if not np.any(is_open):
        raise RangeError("This valve never opens.", "Check lift, lash and timing of the cam.")
    integral = float(np.sum(offered[:-1]) * _STEP)
    return OpenPeriod(integral, float(np.count_nonzero(is_open) * _STEP))


def mean_inlet_mach(
    period: OpenPeriod,
    swept: float,
    sound_speed: float,
    speed: float | Array,
    volumetric_efficiency: float = 1.0,
) -> Array:
    """Mean inlet Mach number over the open period of the intake valve.

    Parameters
    ----------
    period : OpenPeriod
        Of the intake valve.
    swept : float
        Swept volume of one cylinder. [m3]
    sound_speed : float
        Of the intake air. [m/s]
    speed : float or ndarray
        Crank speed. [rev/min]
    volumetric_efficiency : float
        Share of the swept volume that is filled. [-]

    Returns
    -------
    ndarray
        Mean Mach number. [-]

    Notes
    -----
    ``M = eta_v V_s / (a integral(A dt))``, with ``dt = d(theta) / (2 pi N / 60)``: the mean speed
    of the air through the effective area while the valve is open, over the sound speed.

    References
    ----------
    I. Fukutani, E. Watanabe, SAE 790484 (definition from memory).
    """
    turning = np.asarray(speed, dtype=np.float64) * np.pi / 30.0
    mach: Array = volumetric_efficiency * swept * turning / (sound_speed * period.integral)
    return mach


def speed_at_mach(
    period: OpenPeriod,
    swept: float,
    sound_speed: float,
    mach: float,
    volumetric_efficiency: float = 1.0,
) -> float:
    """Crank speed at which the mean inlet Mach number has a value. [rev/min]

    Parameters as in :func:`mean_inlet_mach`; ``mach`` is the wanted value [-].
    """
    at_one = mean_inlet_mach(period, swept, sound_speed, 1.0, volumetric_efficiency)
    return float(mach / at_one)


def mach_index(
    period: OpenPeriod, bore: float, stroke: float, sound_speed: float, speed: float | Array
) -> Array:
    """Mean inlet Mach index: piston against mean effective valve area.

    Parameters
    ----------
    period : OpenPeriod
        Of the intake valve.
    bore, stroke : float
        [m]
    sound_speed : float
        Of the intake air. [m/s]
    speed : float or ndarray
        Crank speed. [rev/min]

    Returns
    -------
    ndarray
        Index. [-]

    Notes
    -----
    ``Z = A_p S_p / (A_mean a)``: piston area times mean piston speed over mean effective area
    (seat to seat) times sound speed. It ignores how long the valve is open, so long cams reach
    0.7 to 0.8 where the mean Mach number is near 0.5.

    References
    ----------
    C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, vol. 1, ch. 6 (from
    memory).
    """
    piston_speed = 2.0 * stroke * np.asarray(speed, dtype=np.float64) / 60.0
    piston = 0.25 * np.pi * bore**2
    index: Array = piston * piston_speed / (period.mean_area * sound_speed)
    return index
