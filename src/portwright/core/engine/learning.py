"""What dyno results teach: the shop's own factor on forecasts, and how often they were right."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from portwright.core.curve import Array
from portwright.errors import ShapeError


@dataclass(frozen=True, slots=True)
class Agreement:
    """Measured against forecast on one engine.

    Parameters
    ----------
    factor : float
        Measured over forecast, geometric mean over the speeds. [-]
    scatter : float
        Standard deviation of its logarithm over the speeds: how far the shape is off. [-]
    points : int
        Speeds compared.
    hits : int
        Speeds at which the measured value lies inside the forecast's range.
    """

    factor: float
    scatter: float
    points: int
    hits: int


def agreement(measured: Array, forecast: Array, low: Array, high: Array) -> Agreement | None:
    """Compare measured with forecast values.

    Parameters
    ----------
    measured, forecast, low, high : ndarray, shape (n,)
        Values at the same speeds with the ends of the forecast's range; NaN where there is
        none. Any unit, above zero.

    Returns
    -------
    Agreement or None
        None without a common speed.

    Raises
    ------
    ShapeError
        Arrays of different length.
    """
    if len({a.shape for a in (measured, forecast, low, high)}) != 1:
        raise ShapeError("Measured and forecast values have different lengths.")
    known = np.isfinite(measured) & np.isfinite(forecast)
    count = int(known.sum())
    if count == 0:
        return None
    ratio = np.log(measured[known] / forecast[known])
    hits = int(np.sum((measured[known] >= low[known]) & (measured[known] <= high[known])))
    scatter = float(np.std(ratio, ddof=1)) if count > 1 else float("nan")
    return Agreement(float(np.exp(ratio.mean())), scatter, count, hits)


@dataclass(frozen=True, slots=True)
class ShopFactor:
    """Factor a shop has learned for its forecasts.

    Parameters
    ----------
    factor : float
        [-]
    half_width : float or None
        Half width of what the next engine may do at 95 %, relative; None from fewer than three
        engines, which cannot tell. [-]
    engines : int
    """

    factor: float
    half_width: float | None
    engines: int


def shop_factor(factors: Array) -> ShopFactor | None:
    """Combine the factors of single engines.

    Parameters
    ----------
    factors : ndarray, shape (n,)
        Measured over forecast, one for each engine. [-]

    Returns
    -------
    ShopFactor or None
        None without an engine.

    Notes
    -----
    Geometric mean; the next engine lies within ``t s sqrt(1 + 1/n)`` of it (definition of a
    prediction interval, logarithms taken as normal).
    """
    if factors.size == 0:
        return None
    logs = np.log(factors)
    width = None
    if factors.size >= 3:
        spread = float(np.std(logs, ddof=1))
        reach = student.ppf(0.975, factors.size - 1) * spread * np.sqrt(1.0 + 1.0 / factors.size)
        width = float(np.expm1(reach))
    return ShopFactor(float(np.exp(logs.mean())), width, int(factors.size))
