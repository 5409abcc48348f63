"""Gauge study: how much of a measured spread is the gauge and the person, and how much the part."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from portwright.core.curve import Array
from portwright.errors import RangeError, ShapeError

# Range of a sample over its standard deviation, averaged over many samples (d2*), from the
# AIAG measurement-systems tables as commonly quoted (seen second hand); keyed by sample size.
# K = 1 / d2*: trials (many samples), appraisers and parts (one sample).
_TRIAL_FACTOR = {2: 0.8862, 3: 0.5908}
_APPRAISER_FACTOR = {2: 0.7071, 3: 0.5231}
_PART_FACTOR = {
    2: 0.7071,
    3: 0.5231,
    4: 0.4467,
    5: 0.4030,
    6: 0.3742,
    7: 0.3534,
    8: 0.3375,
    9: 0.3249,
    10: 0.3146,
}


@dataclass(frozen=True, slots=True)
class OneWayAnova:
    """Spread between groups and within them.

    Parameters
    ----------
    mean : float
        Mean of all values.
    between_square, within_square : float
        Mean squares between and within groups, squared units of the values.
    between_freedom, within_freedom : int
        Their degrees of freedom. [-]
    ratio, probability : float
        F ratio and the chance of one as large if all groups were alike. [-]
    within_deviation, between_deviation : float
        Standard deviation within a group and of the true group means; units of the values.
    """

    mean: float
    between_square: float
    within_square: float
    between_freedom: int
    within_freedom: int
    ratio: float
    probability: float
    within_deviation: float
    between_deviation: float


def one_way_anova(values: Array, groups: NDArray[np.int64]) -> OneWayAnova:
    """Split the spread of values into within and between groups (random effects).

    Parameters
    ----------
    values : ndarray, shape (n,)
        Any one quantity.
    groups : ndarray of int, shape (n,)
        Group of each value. [-]

    Raises
    ------
    ShapeError
        Different lengths, fewer than two groups, or no group with a repeat.

    References
    ----------
    ISO 5725-2 and any statistics text; unequal groups with the usual effective size
    ``(n - sum n_g^2 / n) / (g - 1)`` (definition).
    """
    values = np.asarray(values, dtype=np.float64)
    _, index, counts = np.unique(groups, return_inverse=True, return_counts=True)
    if index.shape != values.shape:
        raise ShapeError("Values and their groups have different lengths.")
    between_freedom, within_freedom = counts.size - 1, values.size - counts.size
    if between_freedom < 1 or within_freedom < 1:
        raise ShapeError("Comparing groups needs at least two groups and one repeat.")
    means = np.bincount(index, weights=values) / counts
    mean = float(values.mean())
    between = float(counts @ (means - mean) ** 2) / between_freedom
    within = float(np.sum((values - means[index]) ** 2)) / within_freedom
    ratio = between / within if within > 0.0 else math.inf
    size = (values.size - float(counts @ counts) / values.size) / between_freedom
    return OneWayAnova(
        mean=mean,
        between_square=between,
        within_square=within,
        between_freedom=between_freedom,
        within_freedom=within_freedom,
        ratio=ratio,
        probability=float(fdtrc(between_freedom, within_freedom, ratio)),
        within_deviation=math.sqrt(within),
        between_deviation=math.sqrt(max((between - within) / size, 0.0)),
    )


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Standard deviations found by a gauge study, in units of the values.

    Parameters
    ----------
    repeatability : float
        Same person, same part, same gauge (equipment variation).
    reproducibility : float
        Between persons (appraiser variation).
    gauge : float
        Both together.
    part : float
        Between parts.
    total : float
        Gauge and part together.
    """

    repeatability: float
    reproducibility: float
    gauge: float
    part: float
    total: float

    @property
    def share(self) -> float:
        """Gauge over total standard deviation. [-]"""
        return self.gauge / self.total

    @property
    def distinct_categories(self) -> int:
        """How many sizes of part the gauge can tell apart: 1.41 part / gauge, rounded down. [-]"""
        return max(int(math.sqrt(2.0) * self.part / self.gauge), 1)


def _study(repeatability: float, reproducibility: float, part: float) -> GaugeStudy:
    gauge = math.hypot(repeatability, reproducibility)
    return GaugeStudy(repeatability, reproducibility, gauge, part, math.hypot(gauge, part))


def _checked(values: Array) -> Array:
    values = np.asarray(values, dtype=np.float64)
    if values.ndim != 3 or min(values.shape) < 2:
        raise ShapeError(
            "A gauge study needs a full table: persons x parts x repeats, two or more of each."
        )
    if not np.all(np.isfinite(values)):
        raise RangeError("A gauge study has missing values.", "Measure every part equally often.")
    return values


def gauge_rr_range(values: Array) -> GaugeStudy:
    """Gauge study by averages and ranges, as done by hand on a form.

    Parameters
    ----------
    values : ndarray, shape (persons, parts, repeats)
        2 or 3 persons, 2 to 10 parts, 2 or 3 repeats; any one quantity.

    Raises
    ------
    ShapeError
        Not a full three-way table, or larger than the range factors cover.
    RangeError
        Missing values.

    References
    ----------
    AIAG, Measurement Systems Analysis: average and range method (figures seen second hand).
    """
    values = _checked(values)
    persons, parts, repeats = values.shape
    known = persons in _APPRAISER_FACTOR and parts in _PART_FACTOR and repeats in _TRIAL_FACTOR
    if not known:
        raise ShapeError(
            f"Range factors cover 2-3 persons, 2-10 parts, 2-3 repeats, not {values.shape}.",
            "Use the analysis of variance instead.",
        )
    repeatability = float(np.ptp(values, axis=2).mean()) * _TRIAL_FACTOR[repeats]
    spread = float(np.ptp(values.mean(axis=(1, 2)))) * _APPRAISER_FACTOR[persons]
    reproducibility = math.sqrt(max(spread**2 - repeatability**2 / (parts * repeats), 0.0))
    part = float(np.ptp(values.mean(axis=(0, 2)))) * _PART_FACTOR[parts]
    return _study(repeatability, reproducibility, part)


def gauge_rr(values: Array) -> GaugeStudy:
    """Gauge study by analysis of variance, the interaction pooled with the repeats.

    Parameters
    ----------
    values : ndarray, shape (persons, parts, repeats)
        Two or more of each; any one quantity.

    Raises
    ------
    ShapeError
        Not a full three-way table.
    RangeError
        Missing values.

    References
    ----------
    Two-way random-effects analysis of variance, AIAG Measurement Systems Analysis (definition).
    """
    values = _checked(values)
    persons, parts, repeats = values.shape
    mean = values.mean()
    person_sum = parts * repeats * float(np.sum((values.mean(axis=(1, 2)) - mean) ** 2))
    part_sum = persons * repeats * float(np.sum((values.mean(axis=(0, 2)) - mean) ** 2))
    rest_sum = float(np.sum((values - mean) ** 2)) - person_sum - part_sum
    person_square = person_sum / (persons - 1)
    part_square = part_sum / (parts - 1)
    rest_square = rest_sum / (values.size - persons - parts + 1)
    return _study(
        math.sqrt(rest_square),
        math.sqrt(max(person_square - rest_square, 0.0) / (parts * repeats)),
        math.sqrt(max(part_square - rest_square, 0.0) / (persons * repeats)),
    )
