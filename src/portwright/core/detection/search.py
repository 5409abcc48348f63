"""Finding the faulty sweeps of a cluster, the plainest case first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from scipy.special import chdtri, logsumexp

from portwright.core.curve import Array
from portwright.core.detection.explain import (
    Explanation,
    View,
    alarm_limits,
    explanations,
    scan,
    sharpen,
    worth_naming,
)
from portwright.core.detection.limits import Limits
from portwright.core.detection.model import Cluster
from portwright.core.detection.roughness import Roughness, allow, roughness
from portwright.core.detection.swaps import Swap, SwapCandidates
from portwright.core.detection.sweeps import SweepRecord
from portwright.core.detection.templates import UNEXPLAINED_ALARM_SHARE, templates
from portwright.core.repeatability import Repeatability

# A sweep is named as the wrong one of its siblings when it is this likely to be it.
_SURE = 0.90
# A shape that leaves more of the misfit than this unexplained is not the explanation.
_UNEXPLAINED = 0.30
# No alarm limit is below this |z|: it saves working out the limits of sweeps that are fine. [-]
_LEAST_STRENGTH = 2.5
# Siblings behind the most suspect one by this log of the odds are not looked at further.
_HOPELESS = 20.0
# Log of the odds below which a second cause is mentioned as well.
_NEARLY = float(np.log(4.0))


_Judged: TypeAlias = dict[int, tuple[list[Explanation], Swap | None]]


@dataclass(frozen=True, slots=True, eq=False)
class Verdict:
    """What was concluded about one sweep, or about a pair that disagrees.

    Parameters
    ----------
    sweep : SweepRecord
        The faulty one; with ``rival`` set, one of the two that may be.
    rival : SweepRecord or None
        The other one, if it cannot be told which is wrong.
    explanation : Explanation or None
        None where no shape fits.
    other : Explanation or None
        Next best cause, where it is nearly as likely.
    swap : Swap or None
        Set if the sweep belongs to another port or side.
    difference : ndarray, shape (n,)
        Reading less what the others make expect, relative. [-]
    """

    sweep: SweepRecord
    difference: Array
    rival: SweepRecord | None = None
    explanation: Explanation | None = None
    other: Explanation | None = None
    swap: Swap | None = None


@dataclass(slots=True)
class _State:
    """Inverse covariance with the mistakes accepted so far allowed for."""

    cluster: Cluster
    precision: Array
    views: list[View]
    settled: set[int] = field(default_factory=set)

    rough: list[Roughness] = field(default_factory=list)

    def roughen(self, found: Roughness) -> None:
        """Allow the extra scatter."""
        self.precision = allow(self.precision, found)
        self.rough.append(found)
        self.refresh()

    def accept(self, member: int, shape: Array) -> None:
        """Allow any size of the shape in this sweep, so that it no longer spoils its siblings."""
        wide = self.precision[:, self.cluster.blocks[member]] @ shape
        inner = shape.T @ wide[self.cluster.blocks[member]]
        self.precision = self.precision - wide @ np.linalg.pinv(inner, rcond=1e-10) @ wide.T
        self.settled.add(member)
        self.refresh()

    def refresh(self) -> None:
        score = self.precision @ self.cluster.deviation
        self.views = [
            replace(view, score=score[block], information=self.precision[block, block])
            for view, block in zip(self.views, self.cluster.blocks, strict=True)
        ]


class Search:
    """Search through one cluster.

    Parameters
    ----------
    cluster : Cluster
    repeatability : Repeatability
    limits : Limits
    leak_excess : sequence of float
        Recorded leak above the usual, per sweep of the cluster, NaN if not recorded. [m2]
    cold : sequence of bool
        First sweep of its session.
    swaps : SwapCandidates
    learned_here : bool
        The repeatability was learned from these very sweeps.
    """

    def __init__(
        self,
        cluster: Cluster,
        repeatability: Repeatability,
        limits: Limits,
        *,
        leak_excess: Sequence[float],
        cold: Sequence[bool],
        swaps: SwapCandidates,
        learned_here: bool,
    ) -> None:
        self._limits = limits
        self._repeatability = repeatability
        self._swaps = swaps
        self._learned_here = learned_here
        none = np.empty(0)
        views = [
            View(
                sweep=cluster.groups[g].sweeps[k],
                slope=cluster.groups[g].slopes[k],
                noise=cluster.groups[g].noise[k],
                score=none,
                information=none,
                shapes=templates(cluster.groups[g].sweeps[k], cluster.groups[g].slopes[k]),
                leak_excess=leak_excess[i],
                cold=cold[i],
                siblings=len(cluster.groups[g].sweeps),
            )
            for i, (g, k) in enumerate(cluster.members)
        ]
        self._state = _State(cluster, cluster.precision, views)
        self._state.refresh()

    @property
    def rough(self) -> list[Roughness]:
        """Scatter found while searching that nobody had noted."""
        return self._state.rough

    def run(self) -> list[Verdict]:
        """Settle sweeps one by one until nothing stands out any more."""
        out: list[Verdict] = []
        views = self._state.views
        for _ in range(2 * len(views)):
            member = self._worst()
            if member is None:
                break
            verdict = self._settle(member)
            if verdict is not None:
                out.append(verdict)
        return out

    def _needed(self, view: View) -> Array:
        return alarm_limits(view, self._repeatability, self._limits, self._learned_here)

    def _worst(self) -> int | None:
        """The sweep with the strongest evidence among those above their alarm limit."""
        best, found = 0.0, None
        for i, view in enumerate(self._state.views):
            if i in self._state.settled:
                continue
            strength, evidence = scan(view)
            above = strength >= _LEAST_STRENGTH
            if above.any():
                above = strength >= self._needed(view)
            score = float(np.max(evidence[above], initial=-np.inf)) if above.any() else -np.inf
            if not above.any() and self._out_of_line(i):
                score = 0.5 * view.misfit() - view.score.size
            if np.isfinite(score) and (found is None or score > best):
                best, found = score, i
        return found

    def _out_of_line(self, member: int) -> bool:
        view = self._state.views[member]
        if len(self._siblings(member)) < 2:
            return False
        chance = self._limits.false_alarm * UNEXPLAINED_ALARM_SHARE
        return view.misfit() > float(chdtri(view.score.size, chance))

    def _siblings(self, member: int) -> list[int]:
        group = self._state.cluster.members[member][0]
        return [i for i, (g, _) in enumerate(self._state.cluster.members) if g == group]

    def _suspects(self, member: int) -> list[int]:
        """The sweep and those of its siblings that could be the wrong one instead."""
        views, settled = self._state.views, self._state.settled
        strongest = {
            i: max(float(np.max(scan(views[i])[1])), 0.5 * views[i].misfit() - views[i].score.size)
            for i in self._siblings(member)
            if i not in settled
        }
        least = max(strongest.values()) - _HOPELESS
        return [i for i, value in strongest.items() if value >= least or i == member]

    def _judge(self, member: int) -> tuple[list[Explanation], Swap | None]:
        view = self._state.views[member]
        expected = view.sweep.curve.area * np.exp(-view.difference())
        view = sharpen(view, expected)
        found = explanations(view, self._needed(view))
        return found, self._swaps.find(view)

    def _settle(self, member: int) -> Verdict | None:
        siblings = self._suspects(member)
        judged = {i: self._judge(i) for i in siblings}
        weight = {i: _weight(*judged[i]) for i in siblings}
        member = max(siblings, key=lambda i: weight[i])
        share = np.exp(weight[member] - logsumexp(list(weight.values())))
        found, swap = judged[member]
        view = self._state.views[member]
        if swap is not None and swap.evidence > found[0].evidence and share > _SURE:
            difference = view.difference()
            self._state.accept(member, np.eye(view.score.size))
            return Verdict(view.sweep, difference, swap=swap)
        if self._only_rough(member, judged):
            return None
        rival = None
        if share < _SURE:
            second = max((i for i in siblings if i != member), key=lambda i: weight[i])
            rival = self._state.views[second].sweep
            self._state.settled.add(second)
        return self._name(member, found, rival)

    def _only_rough(self, member: int, judged: _Judged) -> bool:
        """Put it down to scatter, and allow for that, if this explains more than a mistake."""
        state = self._state
        found = roughness(state.cluster, state.precision, member)
        if found is None or any(
            r.evidence > 0.0 and np.isin(found.rows, r.rows).all() for r in state.rough
        ):
            return False
        believed = [e.evidence for mistakes, _ in judged.values() for e in mistakes if e.believable]
        if found.evidence < max(believed, default=0.0):
            return False
        state.roughen(found)
        return True

    def _name(
        self, member: int, found: Sequence[Explanation], rival: SweepRecord | None
    ) -> Verdict | None:
        """Put a name to what is wrong with this sweep, if it matters; allow for it in any case."""
        view = self._state.views[member]
        difference = view.difference()
        best = next((e for e in found if e.believable), None)
        if best is None or self._unexplained(view, best):
            alone = len(self._siblings(member)) < 2
            self._state.accept(member, np.eye(view.score.size))
            if alone or np.max(np.abs(difference)) < self._limits.reading:
                return None
            return Verdict(view.sweep, difference, rival=rival)
        self._state.accept(member, best.matrix)
        parts = zip(best.causes, best.sizes, strict=True)
        if not any(worth_naming(cause, size, self._limits) for cause, size in parts):
            return None
        other = next((e for e in found if not set(e.causes) & set(best.causes)), None)
        if other is not None and other.evidence < best.evidence - _NEARLY:
            other = None
        return Verdict(view.sweep, difference, rival=rival, explanation=best, other=other)

    def _unexplained(self, view: View, best: Explanation) -> bool:
        misfit = view.misfit()
        left = misfit - best.gain
        chance = self._limits.false_alarm * UNEXPLAINED_ALARM_SHARE
        too_much = left > chdtri(view.score.size - len(best.causes), chance)
        return bool(too_much and left > _UNEXPLAINED * misfit)


def _weight(found: Sequence[Explanation], swap: Swap | None) -> float:
    """Log of how likely it is that this sweep is the wrong one."""
    terms = [e.evidence for e in found]
    if swap is not None:
        terms.append(swap.evidence)
    return float(logsumexp(terms))
