"""Is the bench still the bench it was: control charts of its plate checks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from portwright.core.curve import Array
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.errors import RangeError, ShapeError

_LIMIT = 3.0  # standard deviations, Shewhart's own choice
_SHARE = 0.2  # weight of the newest session in the moving average
_FIRST = 5  # sessions that set the centre
_PRIOR_FREEDOM = 3.0  # what common practice counts against the shop's own sessions


class Alarm(StrEnum):
    """What a point of a chart says."""

    NONE = ""
    STEP = "step"  # one session lies outside the limits
    DRIFT = "drift"  # the moving average does


@dataclass(frozen=True, slots=True, eq=False)
class ControlChart:
    """One plate on one bench, session by session.

    Parameters
    ----------
    value : ndarray, shape (n,)
        Mean of each session, measured over certified less one. [-]
    centre : float
        Mean of the sessions that set the chart. [-]
    deviation : float
        Standard deviation of one session mean. [-]
    low, high : ndarray, shape (n,)
        Limits for one session (Shewhart). [-]
    average : ndarray, shape (n,)
        Exponentially weighted moving average. [-]
    average_low, average_high : ndarray, shape (n,)
        Its limits. [-]
    alarms : tuple of Alarm
    base : int
        Sessions that set the centre.
    """

    value: Array
    centre: float
    deviation: float
    low: Array
    high: Array
    average: Array
    average_low: Array
    average_high: Array
    alarms: tuple[Alarm, ...]
    base: int


def control_chart(
    value: Array, repeats: Array, repeat_deviation: float, session: float = SHOP_DEFAULT.session
) -> ControlChart:
    """Judge each session of plate checks against the first ones.

    Parameters
    ----------
    value : ndarray, shape (n,)
        Mean deviation of each session from the certified flow, oldest first. [-]
    repeats : ndarray, shape (n,)
        Readings behind each. [-]
    repeat_deviation : float
        Standard deviation of one reading within a session. [-]
    session : float
        Standard deviation of the shift between sessions before the shop has its own. [-]

    Raises
    ------
    ShapeError
        No sessions, or different lengths.
    RangeError
        Values or deviations that make no sense.

    Notes
    -----
    Limits of one session are three standard deviations about the centre, widened by
    ``sqrt(1 + 1/k)`` because the centre is itself the mean of ``k`` sessions.  The moving average
    ``z_i = 0.2 x_i + 0.8 z_(i-1)`` has limits of ``3 s sqrt(0.2/1.8 (1 - 0.8^(2i)))`` (the usual
    charts of Shewhart and of Roberts, Technometrics 1, 239 (1959), from memory), likewise widened.
    The session shift is weighed between common practice and the moving ranges of the first
    sessions.
    """
    value = np.asarray(value, dtype=np.float64)
    count = value.size
    if count == 0 or value.shape != repeats.shape:
        raise ShapeError("A control chart needs sessions, each with its number of readings.")
    if not np.all(np.isfinite(value)) or np.any(repeats < 1) or repeat_deviation < 0.0:
        raise RangeError("Sessions of a control chart must be numbers from one reading or more.")
    base = min(_FIRST, max(count - 1, 1))
    first = value[:base]
    centre = float(first.mean())
    within = repeat_deviation**2 / float(np.mean(repeats))
    squares, free = 0.0, 0
    if base > 1:
        moving = np.diff(first) ** 2 / 2.0 - within
        squares, free = float(np.sum(moving)), base - 1
    between = max((_PRIOR_FREEDOM * session**2 + squares) / (_PRIOR_FREEDOM + free), 0.0)
    deviation = math.sqrt(between + within)
    steps = np.arange(1, count + 1)
    inside = steps <= base
    half = _LIMIT * deviation * np.sqrt(np.where(inside, 1.0, 1.0 + 1.0 / base))
    average = np.empty(count)
    held = centre
    for k, x in enumerate(value):
        held = _SHARE * x + (1.0 - _SHARE) * held
        average[k] = held
    settled = _SHARE / (2.0 - _SHARE) * (1.0 - (1.0 - _SHARE) ** (2 * steps))
    narrow = _LIMIT * deviation * np.sqrt(settled + np.where(inside, 0.0, 1.0 / base))
    alarms = []
    for k in range(count):
        if abs(value[k] - centre) > half[k]:
            alarms.append(Alarm.STEP)
        elif abs(average[k] - centre) > narrow[k]:
            alarms.append(Alarm.DRIFT)
        else:
            alarms.append(Alarm.NONE)
    return ControlChart(
        value=value,
        centre=centre,
        deviation=deviation,
        low=centre - half,
        high=centre + half,
        average=average,
        average_low=centre - narrow,
        average_high=centre + narrow,
        alarms=tuple(alarms),
        base=base,
    )
