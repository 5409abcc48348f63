"""How far apart ports are in one band of lift, and how much of that repeats explain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.stats import studentized_range

from portwright.core.comparison import Verdict
from portwright.core.curve import Array, FlowCurve
from portwright.core.lift_bands import BandWeights
from portwright.core.repeatability import Repeatability, known_reading_variance
from portwright.core.uncertainty import coverage_factor, sum_of_students

_MANY = 1000.0  # degrees of freedom treated as known


@dataclass(frozen=True, slots=True)
class Deviation:
    """One port in one band against the mean of all ports.

    Parameters
    ----------
    value : float
        Relative deviation. [-]
    half : float
        Half width of its 95 % interval, for all ports together. [-]
    verdict : Verdict
        REAL where it is more than the repeats explain.
    """

    value: float
    half: float
    verdict: Verdict


class PortSpread:
    """Mean area of a band for every port, with what its sweeps are worth.

    Parameters
    ----------
    curves : mapping of str to sequence of FlowCurve
        Sweeps of each port.
    sessions : mapping of str to set of str
        Sessions at the bench in which each port was swept.
    rep : Repeatability
    grid : ndarray, shape (n,)
        Lifts that all sweeps cover. [m]
    span : BandWeights
        Weights of these lifts.
    """

    def __init__(
        self,
        curves: Mapping[str, Sequence[FlowCurve]],
        sessions: Mapping[str, set[str]],
        rep: Repeatability,
        grid: Array,
        span: BandWeights,
    ) -> None:
        logs, inside, between = [], [], []
        apart = len(set().union(*sessions.values())) > 1
        for port, members in curves.items():
            worth = [_sweep_variance(c, rep, grid, span) for c in members]
            means = [float(np.log(span.weight @ c.at(grid))) for c in members]
            logs.append(float(np.mean(means)))
            inside.append(float(np.mean(worth)) / len(members))
            between.append(rep.session**2 / len(sessions[port]) if apart else 0.0)
        self._log = np.array(logs)
        self._variances = np.array([inside, between])
        self._free = np.array([rep.degrees_of_freedom, rep.session_degrees_of_freedom])

    def deviations(self) -> list[Deviation]:
        """Each port against the mean of all, the interval holding for all of them at once."""
        n = self._log.size
        off = self._log - self._log.mean()
        share = np.full((n, n), 1.0 / n**2)
        np.fill_diagonal(share, (1.0 - 1.0 / n) ** 2)
        variances = self._variances @ share
        known = variances.max(axis=1) > 0.0
        deviation, freedom = sum_of_students(variances[known], self._free[known])
        wide = coverage_factor(freedom, 1.0 - 0.05 / n) * deviation
        narrow = coverage_factor(freedom, 1.0 - 0.10 / n) * deviation
        return [
            Deviation(float(np.expm1(v)), float(w), _verdict(abs(v), float(w), float(t)))
            for v, w, t in zip(off, wide, narrow, strict=True)
        ]

    def widths(self) -> tuple[float, float]:
        """Spread of the ports, and what repeats alone stay below."""
        n = self._log.size
        known = self._variances.max(axis=1) > 0.0
        mean = self._variances[known].mean(axis=1, keepdims=True)
        deviation, freedom = sum_of_students(mean, self._free[known])
        limit = _largest_range(n, round(min(float(freedom[0]), _MANY), 1))
        spread = float(np.expm1(self._log.max() - self._log.min()))
        return spread, limit * float(deviation[0])


@lru_cache(maxsize=64)
def _largest_range(ports: int, freedom: float) -> float:
    """Range of equal ports over the deviation of one, stayed below in 95 of 100 cases. [-]"""
    return float(studentized_range.ppf(0.95, ports, freedom))


def _verdict(size: float, wide: float, narrow: float) -> Verdict:
    if size > wide:
        return Verdict.REAL
    return Verdict.PROBABLY if size > narrow else Verdict.CANT_TELL


def _sweep_variance(curve: FlowCurve, rep: Repeatability, grid: Array, span: BandWeights) -> float:
    """Relative variance of the mean area of a band from one sweep. [-]"""
    area = curve.at(grid)
    share = span.weight * area / (span.weight @ area)
    slope = np.interp(grid, curve.lift, curve.log_slope())
    noise = np.interp(grid, curve.lift, known_reading_variance(curve))
    lift = rep.lift_setting * float(share @ slope)
    return float(rep.common**2 + lift**2 + share**2 @ (rep.reading**2 + noise))
