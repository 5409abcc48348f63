"""Where one value stands among others of its class, with what that is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, ndtr

from portwright.core.curve import Array
from portwright.errors import RangeError, ShapeError

_NODES = np.linspace(-3.5, 3.5, 15)  # of the value's own error, in standard deviations
_LEAST_SHARE = 0.05  # of the seen variance that is taken as real spread at least


@dataclass(frozen=True, slots=True)
class Standing:
    """One value among its class.

    Parameters
    ----------
    share_below : float
        Best guess of the share of the class below it, 0 to 1. [-]
    low, high : float
        95 % interval of that share. [-]
    count : int
        Members of the class. [-]
    reached : int
        Members that measured as high or higher. [-]
    reached_low, reached_high : int
        How many may really have reached it, 95 %. [-]
    """

    share_below: float
    low: float
    high: float
    count: int
    reached: int
    reached_low: int
    reached_high: int


def standing(value: float, deviation: float, members: Array, member_deviation: Array) -> Standing:
    """Say where a value stands among the members of its class.

    Parameters
    ----------
    value : float
        Any scale on which errors are alike, usually a logarithm.
    deviation : float
        Its standard uncertainty, same unit.
    members, member_deviation : ndarray, shape (n,)
        The others, and their standard uncertainties; the value itself is not among them.

    Raises
    ------
    ShapeError
        No members, or different lengths.
    RangeError
        Values that are not finite, or uncertainties below zero.

    Notes
    -----
    The share is that of the population the class was drawn from.  Errors of measurement widen the
    seen spread, so all values are drawn towards the mean by ``s^2 / (s^2 + u^2)`` before they are
    counted (empirical Bayes, definition): the best of many readings was partly lucky.  For each
    possible true value the number below it gives the beta distribution of Bayes' rule with every
    share equally likely beforehand (definition); the interval is that of their mixture.  Coverage
    is measured in ``benchmarks/ranking.py``.
    """
    members = np.asarray(members, dtype=np.float64)
    error = np.asarray(member_deviation, dtype=np.float64)
    if members.ndim != 1 or members.shape != error.shape or members.size == 0:
        raise ShapeError("A class needs members, each with its uncertainty.")
    if not (np.isfinite(value) and np.all(np.isfinite(members)) and np.all(error >= 0.0)):
        raise RangeError("Values of a class must be numbers, with uncertainties of zero or more.")
    count = members.size
    everything, errors = np.append(members, value), np.append(error, deviation)
    centre, spread, likely = float(members.mean()), errors, everything
    if count > 2:
        seen = float(members.var(ddof=1))
        real = max(seen - float(np.mean(error**2)), _LEAST_SHARE * seen)
        kept = np.divide(
            real, real + errors**2, out=np.ones_like(errors), where=real + errors**2 > 0.0
        )
        likely, spread = centre + kept * (everything - centre), np.sqrt(kept) * errors
    weight = np.exp(-0.5 * _NODES**2)
    weight = weight / weight.sum()
    truth = likely[-1] + spread[-1] * _NODES
    step = np.maximum(spread[:-1], 1e-12 + 1e-9 * abs(centre))
    chance = ndtr((truth[:, None] - likely[None, :-1]) / step[None, :])
    k, w = chance.sum(axis=1), weight
    low, high = _quantiles(k + 1.0, count - k + 1.0, w)
    order = np.argsort(k)
    cumulative = np.cumsum(w[order])
    fewest, most = (float(k[order][np.searchsorted(cumulative, p)]) for p in (0.025, 0.975))
    return Standing(
        share_below=float(w @ ((k + 1.0) / (count + 2.0))),
        low=low,
        high=high,
        count=int(count),
        reached=int(np.sum(members >= value)),
        reached_low=round(count - most),
        reached_high=round(count - fewest),
    )


def _quantiles(a: Array, b: Array, weight: Array) -> tuple[float, float]:
    """2.5 and 97.5 % points of a mixture of beta distributions, by bisection."""
    target = np.array([0.025, 0.975])
    low, high = np.zeros(2), np.ones(2)
    for _ in range(20):  # to a millionth
        middle = (low + high) / 2.0
        below: NDArray[np.bool_] = weight @ betainc(a[:, None], b[:, None], middle) < target
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return float(low[0]), float(high[1])
