"""What a sweep on one bench would read on another, learned from what was tested on both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.special import chdtrc, ndtr

from portwright.core.curve import Array
from portwright.core.line_fit import fit_slope_correlated
from portwright.errors import RangeError, ShapeError

_STEPS = 31  # of the scatter between heads tried
_SPAN = (5e-4, 0.05)  # least and largest scatter tried [-]
_LEAST_SPAN = 1.5  # largest over smallest flow that a curve against flow needs
_BEYOND = math.log(1.02)  # how far past the tested flows a reading may lie


@dataclass(frozen=True, slots=True)
class BenchScatter:
    """How much heads scatter about the relation of two benches, before this shop has data.

    Parameters
    ----------
    head : float
        Standard deviation of one head's own shift. [-]
    degrees_of_freedom : float
        How much that guess counts against data. [-]
    offset : float
        Standard deviation of what all heads share against plates: adapter, inlet aid. [-]
    plate : float
        Standard deviation of one plate's own shift, from refitting it. [-]
    """

    head: float = 0.007
    degrees_of_freedom: float = 4.0
    offset: float = 0.010
    plate: float = 0.0015


# Common practice (from memory): two benches agree to 1-2 % after plates and a travelling head.
USUAL_SCATTER = BenchScatter()


@dataclass(frozen=True, slots=True, eq=False)
class CommonPoints:
    """Readings of the same things on both benches.

    Parameters
    ----------
    log_here, log_there : ndarray, shape (n,)
        Logarithm of effective area. [ln m2]
    covariance_here, covariance_there : ndarray, shape (n, n)
        Of the errors of measurement, relative. [-]
    article : ndarray of int, shape (n,)
        Which plate or head each point belongs to. [-]
    head : ndarray of bool, shape (n,)
        True for heads, False for plates. [-]
    added : ndarray, shape (n,)
        Standard uncertainty of its article for a set-up that differs. [-]
    """

    log_here: Array
    log_there: Array
    covariance_here: Array
    covariance_there: Array
    article: NDArray[np.int64]
    head: NDArray[np.bool_]
    added: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """The fit for one assumed scatter between heads."""

    weight: float
    scatter: float
    line: Array  # (2,) at the centre, and slope
    line_covariance: Array  # (2, 2)
    pull: Array  # (2,) what the shared offset of heads takes from the data: for mean and line
    offset: float
    offset_variance: float


@dataclass(frozen=True, slots=True, eq=False)
class Predicted:
    """Readings on the other bench, as a mixture over the scatter between heads.

    Parameters
    ----------
    log_area : ndarray, shape (n,)
        Best value. [ln m2]
    weight : ndarray, shape (k,)
        Of each assumed scatter. [-]
    mean : ndarray, shape (k, n)
        [ln m2]
    covariance : ndarray, shape (k, n, n)
        Relative. [-]
    """

    log_area: Array
    weight: Array
    mean: Array
    covariance: Array

    def deviation(self) -> Array:
        """Standard uncertainty at each reading, relative. [-]"""
        variance = np.diagonal(self.covariance, axis1=1, axis2=2)
        spread = (self.mean - self.log_area) ** 2
        total: Array = np.sqrt(self.weight @ (variance + spread))
        return total

    def interval(
        self, weights: Array | None = None, added: Array | None = None, level: float = 0.95
    ) -> tuple[Array, Array]:
        """Ends of an interval of the best value or of weighed sums of it.

        Parameters
        ----------
        weights : ndarray, shape (m, n), optional
            Sums asked for; each reading by itself when None. [-]
        added : ndarray, shape (m,), optional
            Further variance of each sum, for example of what it is compared with. [-]
        level : float
            Confidence, between 0 and 1. [-]

        Returns
        -------
        tuple of ndarray
            Low and high, as differences from the best value. [-]
        """
        rows = np.eye(self.log_area.size) if weights is None else weights
        shift = (self.mean - self.log_area) @ rows.T
        variance = np.einsum("mi,kij,mj->km", rows, self.covariance, rows)
        deviation = np.sqrt(variance + (0.0 if added is None else added))
        tail = (1.0 - level) / 2.0
        return (
            _quantile(tail, self.weight, shift, deviation),
            _quantile(1.0 - tail, self.weight, shift, deviation),
        )


def _quantile(share: float, weight: Array, mean: Array, deviation: Array) -> Array:
    """Quantile of each of m mixtures of k normal distributions, by bisection."""
    low = np.min(mean - 9.0 * deviation, axis=0)
    high = np.max(mean + 9.0 * deviation, axis=0)
    for _ in range(50):
        middle = (low + high) / 2.0
        below = weight @ ndtr((middle - mean) / deviation) < share
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    result: Array = (low + high) / 2.0
    return result


@dataclass(frozen=True, slots=True, eq=False)
class BenchRelation:
    """Logarithm of the reading there as a straight line in that of the reading here.

    Parameters
    ----------
    slope : float
        Of the errors-in-variables fit; 1 where the benches differ by one factor. [-]
    centre : float
        Where the line is anchored. [ln m2]
    low, high : float
        Smallest and largest effective area tested on both. [m2]
    scatter : float
        Most likely scatter between heads. [-]
    heads, plates : int
        How many of each stand behind it.
    misfit : float
        Chance of points this far off a straight line; small says the line is not straight. [-]
    """

    slope: float
    centre: float
    low: float
    high: float
    scatter: float
    heads: int
    plates: int
    misfit: float
    _steps: Sequence[_Step]

    def covers(self, log_here: Array) -> NDArray[np.bool_]:
        """Which readings lie inside the flows tested on both benches. [-]"""
        inside: NDArray[np.bool_] = (log_here >= math.log(self.low) - _BEYOND) & (
            log_here <= math.log(self.high) + _BEYOND
        )
        return inside

    def each(self, log_here: Array) -> tuple[Array, Array, Array]:
        """Many heads at once, one reading of each.

        Parameters
        ----------
        log_here : ndarray, shape (n,)
            [ln m2]

        Returns
        -------
        tuple of ndarray, each shape (n,)
            Best value there [ln m2]; standard uncertainty of each head's own shift, and of what
            all of them share, relative. [-]
        """
        design = np.column_stack([np.ones(log_here.size), log_here - self.centre])
        weight = np.array([s.weight for s in self._steps])
        mean = np.array([design @ s.line + s.offset for s in self._steps])
        shared = np.array(
            [
                s.offset_variance
                + np.einsum("ni,ij,nj->n", design - s.pull, s.line_covariance, design - s.pull)
                for s in self._steps
            ]
        )
        own = math.sqrt(float(weight @ np.array([s.scatter**2 for s in self._steps])))
        return weight @ mean, np.full(log_here.size, own), np.sqrt(weight @ shared)

    def predict(
        self, log_here: Array, covariance: Array | None = None, added: float = 0.0
    ) -> Predicted:
        """What a head that was not on both benches would read there.

        Parameters
        ----------
        log_here : ndarray, shape (n,)
            Its readings here; the caller leaves out what :meth:`covers` refuses. [ln m2]
        covariance : ndarray, shape (n, n), optional
            Of their errors, relative; none when None. [-]
        added : float
            Standard uncertainty for a set-up unlike that of the relation. [-]
        """
        size = log_here.size
        own = np.zeros((size, size)) if covariance is None else covariance
        ones = np.ones((size, size))
        design = np.column_stack([np.ones(size), log_here - self.centre])
        means, covariances = [], []
        for step in self._steps:
            means.append(design @ step.line + step.offset)
            left = design - step.pull
            covariances.append(
                self.slope**2 * own
                + (step.offset_variance + step.scatter**2 + added**2) * ones
                + left @ step.line_covariance @ left.T
            )
        weight = np.array([s.weight for s in self._steps])
        mean = np.array(means)
        return Predicted(weight @ mean, weight, mean, np.array(covariances))


def relate_benches(points: CommonPoints, usual: BenchScatter = USUAL_SCATTER) -> BenchRelation:
    """Learn the relation of two benches from plates and heads tested on both.

    Parameters
    ----------
    points : CommonPoints
    usual : BenchScatter
        What is assumed about scatter before there are data.

    Raises
    ------
    ShapeError
        Fewer than three points.
    RangeError
        Flows too close together for a curve against flow.

    Notes
    -----
    ``ln A_there = a + b ln A_here + shared offset of heads + own shift of each article + errors``.
    The slope is that of York's fit with shared errors
    (:func:`portwright.core.line_fit.fit_slope_correlated`).  The scatter between heads is
    integrated over, with a scaled inverse chi-square prior and the restricted likelihood of the
    data, so that a relation from one head is not believed as one from ten; the prediction for a
    new head is the best linear one (universal kriging).  Definitions; coverage is measured in
    ``benchmarks/ranking.py``.
    """
    x, y = points.log_here, points.log_there
    if x.size < 3:
        raise ShapeError(
            f"Only {x.size} readings were taken on both benches; three are the least.",
            "Test the same plates and a travelling head on both benches.",
        )
    if np.ptp(x) < math.log(_LEAST_SPAN):
        raise RangeError(
            "Everything tested on both benches has nearly the same flow.",
            "Test plates of several sizes, or a head at several lifts, on both.",
        )
    same = (points.article[:, None] == points.article[None, :]).astype(np.float64)
    of_heads = np.outer(points.head, points.head) * same
    of_plates = same - of_heads
    shared = points.head.astype(np.float64) * usual.offset**2
    fixed = (
        points.covariance_there
        + usual.plate**2 * of_plates
        + same * np.outer(points.added, points.added)
        + np.outer(points.head, shared)
    )
    first = fixed + usual.head**2 * of_heads
    slope = fit_slope_correlated(x, y, points.covariance_here, first)
    centre = float(x.mean())
    design = np.column_stack([np.ones(x.size), x - centre])
    base = fixed + slope**2 * points.covariance_here

    steps, likelihoods, squares = [], [], []
    for scatter in np.geomspace(*_SPAN, _STEPS):
        factor = cho_factor(base + scatter**2 * of_heads)
        inverse_design = cho_solve(factor, design)
        covariance = np.linalg.inv(design.T @ inverse_design)
        line = covariance @ (inverse_design.T @ y)
        residual = y - design @ line
        weighed = cho_solve(factor, residual)
        square = float(residual @ weighed)
        determinant = 2.0 * float(np.sum(np.log(np.diagonal(factor[0]))))
        prior = -usual.degrees_of_freedom * (math.log(scatter) + 0.5 * (usual.head / scatter) ** 2)
        likelihoods.append(
            prior - 0.5 * (determinant - math.log(np.linalg.det(covariance)) + square)
        )
        squares.append(square)
        steps.append(
            _Step(
                weight=0.0,
                scatter=float(scatter),
                line=line,
                line_covariance=covariance,
                pull=inverse_design.T @ shared,
                offset=float(shared @ weighed),
                offset_variance=usual.offset**2 - float(shared @ cho_solve(factor, shared)),
            )
        )
    best = int(np.argmax(likelihoods))
    weight = np.exp(np.array(likelihoods) - likelihoods[best])
    weight /= weight.sum()
    return BenchRelation(
        slope=slope,
        centre=centre,
        low=float(np.exp(x.min())),
        high=float(np.exp(x.max())),
        scatter=steps[best].scatter,
        heads=len(set(points.article[points.head].tolist())),
        plates=len(set(points.article[~points.head].tolist())),
        misfit=float(chdtrc(x.size - 2, squares[best])),
        _steps=tuple(
            _Step(
                float(w),
                s.scatter,
                s.line,
                s.line_covariance,
                s.pull,
                s.offset,
                s.offset_variance,
            )
            for w, s in zip(weight, steps, strict=True)
        ),
    )
