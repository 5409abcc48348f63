"""Mean of readings that follow each other closely, and how far it can be trusted.

Neighbouring readings of moving air resemble each other, so a hundred of them may say no more than
ten.  How many independent ones they are worth follows from their autocorrelation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.errors import ShapeError

_FEWEST = 4  # fewer values have no autocorrelation to speak of
_WINDOW = 4.0  # lags are added up to this many correlation times


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with what it is worth.

    Parameters
    ----------
    value : float
    error : float
        Standard error, autocorrelation counted, same unit as the values.
    worth : float
        Number of independent values the series is worth. [-]
    scatter : float
        Half the width that holds 95 % of the values.
    """

    value: float
    error: float
    worth: float
    scatter: float


def correlation_time(values: Array, mean: float | None = None) -> float:
    """How many successive values are worth one independent value.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Equally spaced; a trend must be taken out before.
    mean : float, optional
        Known mean of them; their own when left out.

    Returns
    -------
    float
        Integrated autocorrelation time, at least 1. [values]

    Notes
    -----
    ``tau = 1 + 2 sum(rho_k)``, summed while the autocorrelation stays above zero and no further
    than four times tau itself, so that the noise of far lags does not enter.  With a mean taken
    from the values every lag reads low by about tau/n; it is added back once.  Definition; the
    way of ending the sum is common in time-series practice (from memory).
    """
    n = values.size
    if n < _FEWEST:
        return 1.0
    rest = values - (values.mean() if mean is None else mean)
    power = float(rest @ rest)
    if power <= 0.0:
        return 1.0
    tau = 1.0
    for lag in range(1, n - 1):
        rho = float(rest[lag:] @ rest[:-lag]) / power
        if rho <= 0.0 or lag > _WINDOW * tau:
            break
        tau += 2.0 * rho
    if mean is None:
        tau *= 1.0 + min(1.0, tau / n)
    return min(tau, float(n))


def mean_of(values: Array, trend_free: Array | None = None) -> Mean:
    """Compute mean and standard error of a series with its autocorrelation counted.

    Parameters
    ----------
    values : ndarray, shape (n,)
        At least one.
    trend_free : ndarray, shape (n,), optional
        The same without its trend, from which the correlation is taken.

    Raises
    ------
    ShapeError
        No values.

    Notes
    -----
    ``u = s sqrt(tau/n)`` with the variance freed of what the correlation hides,
    ``s**2 = sum(rest**2)/(n - tau)``.

    Examples
    --------
    >>> round(mean_of(np.array([1.0, 2.0, 1.0, 2.0])).value, 2)
    1.5
    """
    n = values.size
    if n == 0:
        raise ShapeError("A mean needs at least one value.")
    middle = float(values.mean())
    if n == 1:
        return Mean(middle, math.inf, 1.0, 0.0)
    rest = values - middle if trend_free is None else trend_free
    tau = min(correlation_time(rest), n - 1.0)
    spread = float(rest @ rest) / (n - tau)
    low, high = np.percentile(rest, (2.5, 97.5))
    return Mean(middle, math.sqrt(spread * tau / n), n / tau, 0.5 * float(high - low))


@dataclass(frozen=True, slots=True)
class Shape:
    """How a stretch changes from its first third to its last.

    Parameters
    ----------
    drift, bend : float
        Change over the whole stretch, and what the middle third stands off the line through the
        others.
    drift_error, bend_error : float
        Standard errors, autocorrelation counted.
    rest : ndarray, shape (n,)
        What is left without line and bend.
    """

    drift: float
    bend: float
    drift_error: float
    bend_error: float
    rest: Array

    def within(self, tolerance: float, confidence: float) -> bool:
        """Whether drift and bend are surely smaller than ``tolerance``."""
        return (
            abs(self.drift) + confidence * self.drift_error <= tolerance
            and abs(self.bend) + confidence * self.bend_error <= tolerance
        )

    def none_seen(self, confidence: float) -> bool:
        """Whether drift and bend are no larger than the scatter explains."""
        return (
            abs(self.drift) <= confidence * self.drift_error
            and abs(self.bend) <= confidence * self.bend_error
        )


def shape_of(values: Array) -> Shape:
    """Compare the thirds of a stretch.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Equally spaced, at least six.

    Notes
    -----
    With the means ``b1, b2, b3`` of the thirds the drift over the stretch is ``1.5 (b3 - b1)``,
    because the middles of the outer thirds lie two thirds of it apart, and the bend is
    ``b2 - (b1 + b3)/2``.  Each mean has the variance ``s**2 tau/(n/3)``.  Definition.
    """
    n = values.size
    third = n // 3
    start = n - 3 * third
    parts = values[start:].reshape(3, third)
    first, middle, last = (float(m) for m in parts.mean(axis=1))
    place = np.linspace(-1.0, 1.0, n)
    drift, bend = 1.5 * (last - first), middle - 0.5 * (first + last)
    # a parabola that has these thirds: slope drift/2, and 8/9 of its height between the thirds
    rest = values - values.mean() - 0.5 * drift * place + 2.25 * bend * (place**2 - 1.0 / 3.0)
    tau = min(correlation_time(rest), n - 3.0)
    of_third = math.sqrt(float(rest @ rest) / (n - tau) * tau / third)
    return Shape(drift, bend, 1.5 * math.sqrt(2.0) * of_third, math.sqrt(1.5) * of_third, rest)
