"""Shapes that known mistakes leave in one sweep, as relative change of effective area.

* constant factor: ``1``
* lift-zero offset ``d``: ``[ln A(L + d) - ln A(L)] / d``, which is dlnA/dL for a small offset
* leak ``q``: ``ln(1 + q/A) / q``, which is 1/A for a small leak
* step: ``1`` from one lift or one range change on, or on one range only
* odd reading: ``1`` at one lift
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from portwright.core.curve import Array
from portwright.core.detection.sweeps import SweepRecord


class Cause(StrEnum):
    """Mistakes with a shape of their own; the values are the codes of the findings."""

    LIFT = "lift-zero-offset"
    LEAK = "leak"
    FACTOR = "constant-factor"
    STEP = "range-step"
    READING = "odd-reading"


# How often each cause is met among faulty sweeps, and how large (standard deviation; a leak is
# only ever positive): from memory, wide on purpose; they only settle near ties.
_SHARE = {
    Cause.LIFT: 0.30,
    Cause.LEAK: 0.20,
    Cause.FACTOR: 0.20,
    Cause.STEP: 0.10,
    Cause.READING: 0.20,
}
_TYPICAL = {
    Cause.LIFT: 0.2e-3,  # [m]
    Cause.LEAK: 6e-6,  # [m2], about 1.4 cfm at 28 inH2O
    Cause.FACTOR: 0.02,
    Cause.STEP: 0.03,
    Cause.READING: 0.05,
}
# Share of the allowed false alarms; many shapes share one entry for steps and readings.
_ALARM_SHARE = {
    Cause.LIFT: 0.25,
    Cause.LEAK: 0.15,
    Cause.FACTOR: 0.25,
    Cause.STEP: 0.10,
    Cause.READING: 0.15,
}
UNEXPLAINED_ALARM_SHARE = 0.10


@dataclass(frozen=True, slots=True, eq=False)
class Templates:
    """Shapes of one sweep, one column each.

    Parameters
    ----------
    matrix : ndarray, shape (n, k)
        Relative change of area for a mistake of typical size. [-]
    causes : tuple of Cause
        Cause of each column.
    at : ndarray of int, shape (k,)
        First lift a column acts on.
    typical : ndarray, shape (k,)
        Standard deviation of sizes met. [unit of size]
    log_prior : ndarray, shape (k,)
        Log of the share among faults. [-]
    alarm : ndarray, shape (k,)
        Share of the allowed false alarms. [-]
    """

    matrix: Array
    causes: tuple[Cause, ...]
    at: NDArray[np.int64]
    typical: Array
    log_prior: Array
    alarm: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Fixed:
    """What does not depend on the areas: shared by all sweeps with these lifts and ranges."""

    columns: Array
    causes: tuple[Cause, ...]
    at: NDArray[np.int64]
    typical: Array
    log_prior: Array
    alarm: Array


SMOOTH = (Cause.LIFT, Cause.LEAK, Cause.FACTOR)


@lru_cache(maxsize=256)
def _fixed(n: int, ranges: tuple[int, ...]) -> _Fixed:
    steps = _steps(n, ranges)
    columns = np.column_stack([np.ones(n), *[s for s, _ in steps], np.eye(n)])
    causes = (*SMOOTH, *[Cause.STEP] * len(steps), *[Cause.READING] * n)
    at = np.array([0, 0, 0, *[k for _, k in steps], *range(n)], dtype=np.int64)
    count = {cause: causes.count(cause) for cause in Cause}
    return _Fixed(
        columns=columns,
        causes=causes,
        at=at,
        typical=np.array([_TYPICAL[c] for c in causes]),
        log_prior=np.log([_SHARE[c] / count[c] for c in causes]),
        alarm=np.array([_ALARM_SHARE[c] / count[c] for c in causes]),
    )


def _steps(n: int, ranges: tuple[int, ...]) -> list[tuple[Array, int]]:
    """Step shapes with the lift they start at, none that is a factor or a single reading."""
    number = np.array(ranges)
    changes = [k for k in range(1, n) if ranges[k] != ranges[k - 1]]
    if not np.any(number):
        changes = list(range(2, n - 1))
    shapes = [((np.arange(n) >= k).astype(np.float64), k) for k in changes]
    if np.any(number):  # a range between two others may be wrong by itself
        shapes += [((number == ranges[k]).astype(np.float64), k) for k in changes[:-1]]
    return [(shape, k) for shape, k in shapes if 2 <= shape.sum() <= n - 2]


def templates(sweep: SweepRecord, slope: Array) -> Templates:
    """Shapes of small mistakes for one sweep.

    Parameters
    ----------
    sweep : SweepRecord
    slope : ndarray, shape (n,)
        d(ln A)/dL of the port. [1/m]
    """
    curve = sweep.curve
    fixed = _fixed(curve.lift.size, tuple(int(r) for r in curve.range_number))
    return Templates(
        matrix=np.column_stack([slope, 1.0 / curve.area, fixed.columns]) * fixed.typical,
        causes=fixed.causes,
        at=fixed.at,
        typical=fixed.typical,
        log_prior=fixed.log_prior,
        alarm=fixed.alarm,
    )


class SizedShapes:
    """Shapes of large mistakes, which are not proportional to their size.

    Parameters
    ----------
    lift : ndarray, shape (n,)
        [m]
    expected : ndarray, shape (n,)
        Area the sweep should have shown. [m2]
    """

    def __init__(self, lift: Array, expected: Array) -> None:
        self._lift = lift
        self._expected = expected
        self._curve = PchipInterpolator(np.append(0.0, lift), np.append(0.0, expected))
        self._end_slope = max(float(self._curve.derivative()(lift[-1])), 0.0)

    def lift_offset(self, offset: float) -> Array:
        """Relative change per unit of lift-zero offset, at this offset. [1/m]"""
        offset = offset if abs(offset) > 1e-6 else 1e-6
        moved = np.maximum(self._lift + offset, 0.05 * self._lift[0])
        inside = np.minimum(moved, self._lift[-1])
        area = self._curve(inside) + (moved - inside) * self._end_slope
        change: Array = np.log(area / self._expected) / offset
        return change

    def leak(self, size: float) -> Array:
        """Relative change per unit of leak area, at this leak. [1/m2]"""
        size = size if abs(size) > 1e-10 else 1e-10
        change: Array = np.log1p(np.maximum(size / self._expected, -0.9)) / size
        return change
