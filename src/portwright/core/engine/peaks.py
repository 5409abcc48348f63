"""Peaks of curves over crank speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array


@dataclass(frozen=True, slots=True)
class Peak:
    """Peak of a curve.

    Parameters
    ----------
    speed : float
        [rev/min]
    value : float
        In the unit of the curve.
    inside : bool
        False where the largest value stands at an end of the speeds, so that the true peak may
        lie outside.
    """

    speed: float
    value: float
    inside: bool


def peak(speed: Array, value: Array) -> Peak | None:
    """Peak by a parabola through the three points round the largest.

    Parameters
    ----------
    speed, value : ndarray, shape (n,)
        Increasing speeds and the curve; NaN points are passed over. [rev/min], any

    Returns
    -------
    Peak or None
        None without a single number.
    """
    known = np.isfinite(value)
    x, y = speed[known], value[known]
    if x.size == 0:
        return None
    k = int(np.argmax(y))
    if k in {0, x.size - 1}:
        return Peak(float(x[k]), float(y[k]), inside=False)
    a, b, c = np.polyfit(x[k - 1 : k + 2] - x[k], y[k - 1 : k + 2], 2)
    if a >= 0.0:
        return Peak(float(x[k]), float(y[k]), inside=True)
    shift = -b / (2.0 * a)
    return Peak(float(x[k] + shift), float(c - b * b / (4.0 * a)), inside=True)
