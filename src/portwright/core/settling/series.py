"""Mean of readings that follow each other closely, and how far it can be trusted.

Neighbouring readings of moving air resemble each other, so a hundred of them may say no more than
ten.  How many independent ones they are worth follows from their autocorrelation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from portwright.core.constants import Array
from portwright.errors import ShapeError

_FEWEST = 4  # fewer values have no autocorrelation to speak of
_WINDOW = 4.0  # lags are added up to this many correlation times
_NORMAL = (
    1.959964  # half of a 95 % interval of a normal error, in standard uncertainties (definition)
)


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with what it is worth.

    Parameters
    ----------
    value : float
    error : float
        Standard error, autocorrelation counted, same unit as the values; see :meth:`stated`.
    worth : float
        Number of independent values the series is worth. [-]
    scatter : float
        Half the width that holds 95 % of the values.
    freedom : float
        Degrees of freedom of the standard error. [-]
    """

    value: float
    error: float
    worth: float
    scatter: float
    freedom: float = math.inf

    def stated(self, drift: float = 0.0) -> Mean:
        """As handed on: with the standard uncertainty whose 1.96-fold is half the 95 % interval.

        Parameters
        ----------
        drift : float
            Change still under way, which may go on for as long again: rectangular with that half
            width. Same unit as the values.

        Notes
        -----
        ``u = error t / 1.96`` with Student's t for 95 % and ``freedom`` (JCGM 100:2008, G.3.2), so
        that whoever goes on with it needs no degrees of freedom.
        """
        error = math.hypot(self.error, drift / math.sqrt(12.0))
        if math.isfinite(error) and math.isfinite(self.freedom):
            error *= float(stdtrit(self.freedom, 0.975)) / _NORMAL
        return replace(self, error=error, freedom=math.inf)


@dataclass(frozen=True, slots=True)
class Correlation:
    """How closely the values of a series follow each other.

    Parameters
    ----------
    time : float
        How many successive values are worth one independent value, at least 1. [values]
    lags : int
        Lags that were added up for it.
    """

    time: float
    lags: int


def correlation(values: Array) -> Correlation:
    """Find how many successive values are worth one independent value.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Equally spaced; a trend must be taken out before.

    Notes
    -----
    ``tau = 1 + 2 sum(rho_k)``, summed while the autocorrelation stays above zero and no further
    than four times tau itself, so that the noise of far lags does not enter.  With a mean taken
    from the values every lag reads low by about tau/n; it is added back once.  Definition; the
    way of ending the sum is common in time-series practice (from memory).
    """
    n = values.size
    if n < _FEWEST:
        return Correlation(1.0, 0)
    rest = values - values.mean()
    power = float(rest @ rest)
    if power <= 0.0:
        return Correlation(1.0, 0)
    tau, lags = 1.0, 0
    for lag in range(1, n - 1):
        rho = float(rest[lag:] @ rest[:-lag]) / power
        if rho <= 0.0 or lag > _WINDOW * tau:
            break
        tau, lags = tau + 2.0 * rho, lag
    return Correlation(min(tau * (1.0 + min(1.0, tau / n)), float(n)), lags)


def mean_of(values: Array, longer: Array | None = None) -> Mean:
    """Compute mean and standard error of a series with its autocorrelation counted.

    Parameters
    ----------
    values : ndarray, shape (n,)
        At least one.
    longer : ndarray, shape (m,), optional
        A longer stretch without its trend, to which the values belong: a few seconds do not know
        how long their own swings last.

    Raises
    ------
    ShapeError
        No values.

    Notes
    -----
    ``u = s sqrt(tau/n)`` with the variance freed of what the correlation hides,
    ``s**2 = sum(rest**2)/(n - tau)``.  tau is that of the values or of ``longer``, whichever is
    larger, at most n/3.  Degrees of freedom: the smaller of ``n/tau - 1`` and ``n/(2 M + 1)`` with
    M lags added up, since a tau from so many lags scatters by ``tau sqrt(2 (2 M + 1)/n)`` (from
    memory, Monte Carlo practice).

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
        return Mean(middle, math.inf, 1.0, 0.0, 1.0)
    rest = values - middle
    own = correlation(rest)
    tau = own.time
    if longer is not None:
        tau = max(tau, min(correlation(longer).time, n / 3.0))
    tau = min(tau, n - 1.0)
    spread = float(rest @ rest) / (n - tau)
    low, high = np.percentile(rest, (2.5, 97.5))
    freedom = max(1.0, min(n / tau - 1.0, n / (2.0 * own.lags + 1.0)))
    error = math.sqrt(spread * tau / n)
    return Mean(middle, error, n / tau, 0.5 * float(high - low), freedom)


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
    tau = min(correlation(rest).time, n - 3.0)
    of_third = math.sqrt(float(rest @ rest) / (n - tau) * tau / third)
    return Shape(drift, bend, 1.5 * math.sqrt(2.0) * of_third, math.sqrt(1.5) * of_third, rest)
