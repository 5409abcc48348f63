"""Air speed in the sections of a port while the engine runs, and the section a speed needs."""

from __future__ import annotations

import numpy as np

from portwright.core.curve import Array
from portwright.errors import RangeError


def mean_velocity(area: float | Array, bore: float, stroke: float, speed: float | Array) -> Array:
    """Mean air speed in a section over the intake stroke.

    Parameters
    ----------
    area : float or ndarray
        Area of the section, of all ports of a cylinder together. [m2]
    bore, stroke : float
        [m]
    speed : float or ndarray
        Crank speed. [rev/min]

    Returns
    -------
    ndarray
        Speed. [m/s]

    Notes
    -----
    Continuity at constant density: ``v = A_p 2 S N / (60 A)``, the swept volume drawn through the
    section in half a turn.
    """
    piston = 0.25 * np.pi * bore**2
    found: Array = piston * 2.0 * stroke * np.asarray(speed) / (60.0 * np.asarray(area))
    return found


def peak_over_mean(stroke: float, rod: float) -> float:
    """Greatest over mean piston speed, which is greatest over mean air speed without waves.

    Parameters
    ----------
    stroke, rod : float
        [m]

    Returns
    -------
    float
        About 1.6 to 1.7. [-]

    Raises
    ------
    RangeError
        Rod not longer than half the stroke.

    Notes
    -----
    Slider-crank motion (definition), greatest value over half a turn.
    """
    ratio = 2.0 * rod / stroke
    if not ratio > 1.0:
        raise RangeError("The rod must be longer than half the stroke.", "Check both lengths.")
    angle = np.linspace(0.0, np.pi, 20001)
    sine, cosine = np.sin(angle), np.cos(angle)
    pace = sine + sine * cosine / np.sqrt(ratio**2 - sine**2)
    return float(0.5 * np.pi * pace.max())


def smallest_section(bore: float, stroke: float, speed: float | Array, velocity: float) -> Array:
    """Smallest section that keeps the mean air speed at a limit.

    Parameters
    ----------
    bore, stroke : float
        [m]
    speed : float or ndarray
        Crank speed. [rev/min]
    velocity : float
        Mean air speed not to exceed. [m/s]

    Returns
    -------
    ndarray
        Area, of all ports of a cylinder together. [m2]

    Raises
    ------
    RangeError
        A limit not above zero.

    Notes
    -----
    :func:`mean_velocity` solved for the area.
    """
    if not velocity > 0.0:
        raise RangeError("The velocity limit must be above zero.", "90 to 120 m/s are usual.")
    return mean_velocity(velocity, bore, stroke, speed)


def speed_at_velocity(area: float, bore: float, stroke: float, velocity: float) -> float:
    """Crank speed at which the mean air speed in a section reaches a limit. [rev/min]

    Parameters
    ----------
    area : float
        [m2]
    bore, stroke : float
        [m]
    velocity : float
        [m/s]
    """
    return float(velocity / mean_velocity(area, bore, stroke, 1.0))
