"""Sweeps filed under the wrong port or the wrong side of the head."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.detection.explain import View
from portwright.core.detection.limits import Limits
from portwright.core.detection.model import port_difference, sweep_covariance
from portwright.core.detection.sweeps import Group, Side, SweepRecord
from portwright.core.repeatability import Repeatability

# One faulty sweep in twenty is a swap (from memory); shared among the ports it may belong to.
_LOG_SHARE = math.log(0.05)
# A swap is only looked for where the sweep is this far from where it is filed. [-]
_LEAST_DIFFERENCE = 0.02
# Lifts that two curves must share to be compared. [-]
_LEAST_SHARED = 5
# Standard deviations of chi-squared beyond which a sweep does not belong to a place.
_FAR = 4.0
_ENOUGH_SISTERS = 12


@dataclass(frozen=True, slots=True)
class Swap:
    """Where a sweep seems to belong.

    Parameters
    ----------
    side : {"intake", "exhaust", ""}
        Other side, empty if it is another port of the same side.
    port : str
        The port it fits.
    difference : float
        Root-mean-square difference from where it is filed. [-]
    evidence : float
        Log of the odds against "nothing wrong", prior share included. [-]
    """

    side: Side
    port: str
    difference: float
    evidence: float


@dataclass(frozen=True, slots=True, eq=False)
class _Reference:
    """Median curve of one port, as ln(A/L) against lift."""

    group: Group
    lift: Array
    level: Array

    def at(self, lift: Array) -> Array:
        """ln(A/L), NaN outside the sweep."""
        return np.interp(lift, self.lift, self.level, left=np.nan, right=np.nan)


def _reference(group: Group) -> _Reference:
    lift = group.first.curve.lift
    levels = [
        np.interp(lift, s.curve.lift, np.log(s.curve.area / s.curve.lift)) for s in group.sweeps
    ]
    return _Reference(group, lift, np.median(levels, axis=0))


class SwapCandidates:
    """All ports a sweep could have been confused with.

    Parameters
    ----------
    groups : sequence of Group
        Everything in the job.
    repeatability : Repeatability
    limits : Limits
    """

    def __init__(
        self, groups: Sequence[Group], repeatability: Repeatability, limits: Limits
    ) -> None:
        self._repeatability = repeatability
        self._limits = limits
        self._families: dict[tuple[str, str], list[_Reference]] = {}
        for group in groups:
            first = group.first
            if first.port:
                self._families.setdefault((first.bench, first.stage), []).append(_reference(group))

    def find(self, view: View) -> Swap | None:
        """Best place for a sweep that does not fit where it is filed."""
        sweep = view.sweep
        difference = view.difference()
        rms = float(np.sqrt(np.mean(difference**2)))
        if rms < _LEAST_DIFFERENCE or not sweep.port:
            return None
        others = [
            r
            for r in self._families.get((sweep.bench, sweep.stage), [])
            if _could_be(r.group.first, sweep)
        ]
        best: Swap | None = None
        for reference in others:
            evidence = self._evidence(view, reference)
            if evidence is None or (best is not None and evidence <= best.evidence):
                continue
            first = reference.group.first
            side: Side = first.side if first.side != sweep.side else ""
            best = Swap(side, first.port, rms, evidence)
        if best is None:
            return None
        return Swap(best.side, best.port, rms, best.evidence + _LOG_SHARE - math.log(len(others)))

    def _evidence(self, view: View, reference: _Reference) -> float | None:
        """Log likelihood as a sweep of the other port less that where it is filed."""
        curve = view.sweep.curve
        step = np.log(curve.area / curve.lift) - reference.at(curve.lift)
        shared = np.isfinite(step)
        if shared.sum() < max(_LEAST_SHARED, 0.6 * shared.size):
            return None
        group = reference.group
        covariance = sweep_covariance(
            curve.area, view.slope, view.noise, self._repeatability, self._limits
        )
        covariance *= 1.0 + 1.0 / len(group.sweeps)
        if group.first.side != view.sweep.side:  # some port of the other side, not just this one
            covariance += port_difference(curve.lift)
        inner = covariance[np.ix_(shared, shared)]
        there = float(step[shared] @ np.linalg.solve(inner, step[shared]))
        if there > shared.sum() + _FAR * math.sqrt(2.0 * shared.sum()):
            return None
        own = np.linalg.inv(view.information)[np.ix_(shared, shared)]
        difference = view.difference()[shared]
        here = float(difference @ np.linalg.solve(own, difference))
        return 0.5 * (here - there + _log_det(own) - _log_det(inner))


def _could_be(other: SweepRecord, sweep: SweepRecord) -> bool:
    """Another port; on the same side only if it was set up the same way."""
    if other.side != sweep.side:
        return bool(other.side and sweep.side)
    return other.port != sweep.port and other.configuration == sweep.configuration


def _log_det(matrix: Array) -> float:
    return float(np.linalg.slogdet(matrix)[1])


def misfiled_sides(
    groups: Sequence[Group], repeatability: Repeatability, limits: Limits
) -> list[tuple[Group, Side]]:
    """Ports whose repeats agree with each other but look like the other side of the head.

    Needs two more ports on the side they are filed under and two on the other side.
    """
    families: dict[tuple[str, str], list[_Reference]] = {}
    for group in groups:
        if group.first.side:
            key = (group.first.bench, group.first.stage)
            families.setdefault(key, []).append(_reference(group))
    out: list[tuple[Group, Side]] = []
    for family in families.values():
        for candidate in family:
            side = candidate.group.first.side
            own = [r for r in family if r.group.first.side == side and r is not candidate]
            other = [r for r in family if r.group.first.side != side]
            if len(own) < 2 or len(other) < 2:
                continue
            here = _distance(candidate, own[:_ENOUGH_SISTERS], repeatability, limits)
            there = _distance(candidate, other[:_ENOUGH_SISTERS], repeatability, limits)
            if here > _FAR and there < 0.0 and here - there > 1.5 * _FAR:
                out.append((candidate.group, other[0].group.first.side))
    return out


def _distance(
    candidate: _Reference, others: Sequence[_Reference], r: Repeatability, limits: Limits
) -> float:
    """How far from the middle of other ports, in standard deviations of its square. [-]"""
    middle = np.median([o.at(candidate.lift) for o in others], axis=0)
    step = candidate.level - middle
    shared = np.isfinite(step)
    if shared.sum() < _LEAST_SHARED:
        return math.nan
    group = candidate.group
    area = group.first.curve.area
    covariance = sweep_covariance(area, group.slopes[0], group.noise[0], r, limits)
    covariance += port_difference(candidate.lift)
    covariance *= 1.0 + 1.0 / len(others)
    inner = covariance[np.ix_(shared, shared)]
    square = float(step[shared] @ np.linalg.solve(inner, step[shared]))
    n = float(shared.sum())
    return (square - n) / math.sqrt(2.0 * n)
