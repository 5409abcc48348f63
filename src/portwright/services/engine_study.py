"""Engine with several things varied within limits: every combination, or a search for the best."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.engine.change import Change
from portwright.core.engine.ranges import Point, Range, every, search
from portwright.core.engine.sweep import Piece, PieceDone
from portwright.core.gas1d.simulate import Settings
from portwright.errors import (
    Finding,
    InputError,
    NotConvergedError,
    Severity,
    SolveCancelledError,
)
from portwright.services.compare import archive_pressure
from portwright.services.engine_case import TwoHeads, two_heads
from portwright.services.engine_knobs import KNOBS, change_of
from portwright.services.engine_pool import Progress, Runner, gather, runner
from portwright.services.engine_quick import TO_RPM, chosen_port, last_stage
from portwright.services.engine_sensitivity import TOLD_FROM
from portwright.services.engine_tries import Tries, same_engine
from portwright.services.findings import check_job

_SETTINGS = Settings(cell=10e-3, tolerance=2e-4)
USUAL_TRIES = 120


class Goal(StrEnum):
    """What is to be most."""

    TORQUE = "mean torque"
    POWER = "peak power"


@dataclass(frozen=True, slots=True, eq=False)
class Combination:
    """One combination of values and what came of it.

    Parameters
    ----------
    values : tuple of float
        In the units of the things varied, in their order.
    torque : ndarray, shape (n,)
        At each speed, NaN where it could not be solved. [N m]
    gain : float
        Change of the goal from the engine as it is. [-]
    """

    values: Point
    torque: Array
    gain: float


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """Combinations that were tried.

    Parameters
    ----------
    heads : TwoHeads
        The engine; its ``after`` is the head that was changed.
    ranges : tuple of Range
    goal : Goal
    speed, plain : ndarray, shape (n,)
        Speeds, and torque of the engine as it is. [rev/min, N m]
    tried : tuple of Combination
        Best first; without an answer last.
    known : int
        How many of them had been tried before. [-]
    as_good : dict of str to tuple of float
        Lowest and highest value of each thing among the combinations that cannot be told from the
        best.
    findings : tuple of Finding
    """

    heads: TwoHeads
    ranges: tuple[Range, ...]
    goal: Goal
    speed: Array
    plain: Array
    tried: tuple[Combination, ...]
    known: int
    as_good: dict[str, tuple[float, float]]
    findings: tuple[Finding, ...]


def worth(goal: Goal, speed: Array, torque: Array) -> float:
    """Goal of one torque curve, NaN where a speed has no answer. [N m or N m rev/min]"""
    return float(np.mean(torque) if goal is Goal.TORQUE else np.max(torque * speed))


class _Trial:
    """Tries combinations, but none twice."""

    def __init__(
        self,
        heads: TwoHeads,
        ranges: Sequence[Range],
        speed: Array,
        goal: Goal,
        tries: Tries,
        run: Runner,
        told: Callable[[int], bool],
    ) -> None:
        self._heads, self._ranges, self._speed, self._goal = heads, ranges, speed, goal
        self._tries, self._run, self._told = tries, run, told
        self.fresh = 0

    def torques(self, changes: Sequence[Change]) -> list[Array]:
        """Torque of each change; what is new is kept even when the work is stopped."""
        wanted = {c: None for c in changes if self._tries.get(c) is None}
        pieces = [
            Piece(
                ("try", k),
                self._heads.case,
                self._heads.after.head,
                tuple(map(float, self._speed)),
                _SETTINGS,
                change=change,
            )
            for k, change in enumerate(wanted)
        ]
        begun = self.fresh

        def keep(done: PieceDone) -> None:
            torque = [np.nan if isinstance(p, str) else p.torque for p in done.points]
            self._tries.add(pieces[done.key[1]].change, np.array(torque))
            self.fresh += 1

        try:
            if pieces:
                gather(
                    self._run, pieces, progress=lambda done, _: self._told(begun + done), each=keep
                )
        finally:
            self._tries.save()
        found = [self._tries.get(c) for c in changes]
        return [f for f in found if f is not None]

    def worth(self, points: list[Point]) -> Array:
        """Goal of each combination."""
        changes = [change_of(self._ranges, p) for p in points]
        return np.array([worth(self._goal, self._speed, t) for t in self.torques(changes)])


def study(
    archive: Archive,
    job: str,
    ranges: Sequence[Range],
    *,
    tries: int | None = None,
    goal: Goal = Goal.TORQUE,
    stage: str = "",
    port: str = "",
    speeds: Sequence[float] = (),
    workers: int | None = None,
    cluster: str = "",
    afresh: bool = False,
    progress: Progress | None = None,
) -> Study:
    """Vary things within limits.

    What was tried is kept in the shop file, also when the work is stopped: asked again, it goes
    on where it was.

    Parameters
    ----------
    ranges : sequence of Range
        By names of :data:`~portwright.services.engine_knobs.KNOBS`, in their units.
    tries : int, optional
        Search with about so many combinations; without it every combination is tried. [-]
    goal : Goal
    stage, port : str
        As in :func:`~portwright.services.engine_sensitivity.sensitivity`.
    speeds : sequence of float
        Four over the engine's band where empty. [rev/min]
    workers, cluster
        See :func:`~portwright.services.engine_pool.runner`.
    afresh : bool
        Forget what was tried before on this engine.
    progress : callable, optional
        Called with combinations done and about how many there will be; False stops.

    Raises
    ------
    UnknownNameError, InputError, RangeError
    NotConvergedError
        The engine could not be solved as it is.
    SolveCancelledError
    """
    if not ranges:
        raise InputError("Nothing is varied.", "Give at least one range.")
    checked = check_job(archive, job)
    code = chosen_port(checked, port)
    chosen = stage or last_stage(checked, code)
    heads = two_heads(checked, archive_pressure(archive), code, chosen, chosen)
    engine = heads.description
    low, high = (v.si * TO_RPM for v in (engine.lowest_speed, engine.highest_speed))
    speed = np.array(speeds or np.linspace(low, high, 4).round(-2), dtype=float)
    points = [] if tries else every(ranges)
    total = 1 + (tries or len(points))
    kept = Tries(
        archive,
        same_engine(heads.case, heads.after.head, tuple(map(float, speed)), _SETTINGS),
        afresh=afresh,
    )

    def told(done: int) -> bool:
        return progress is None or progress(min(done, total), total)

    with runner(workers, cluster) as run:
        trial = _Trial(heads, ranges, speed, goal, kept, run, told)
        try:
            (plain,) = trial.torques([Change()])
            base = worth(goal, speed, plain)
            if not np.isfinite(base):
                raise NotConvergedError(f"{chosen}: the engine as it is cannot be solved.")
            if tries:
                points = search(ranges, trial.worth, tries, (0.0,) * len(ranges))
            torques = trial.torques([change_of(ranges, p) for p in points])
        except SolveCancelledError as error:
            raise SolveCancelledError(
                f"Stopped; {len(kept)} combinations of this engine are kept.",
                "Begin again to go on from there.",
            ) from error
    combined = [
        Combination(p, t, worth(goal, speed, t) / base - 1.0)
        for p, t in zip(points, torques, strict=True)
    ]
    combined.sort(key=lambda c: -np.nan_to_num(c.gain, nan=-np.inf))
    return Study(
        heads=heads,
        ranges=tuple(ranges),
        goal=goal,
        speed=speed,
        plain=plain,
        tried=tuple(combined),
        known=sum(kept.was_kept(change_of(ranges, p)) for p in points),
        as_good=_as_good(ranges, combined),
        findings=(*heads.findings, *_doubts(ranges, combined, heads)),
    )


def _as_good(
    ranges: Sequence[Range], combined: Sequence[Combination]
) -> dict[str, tuple[float, float]]:
    best = combined[0].gain
    alike = [c.values for c in combined if c.gain >= best - TOLD_FROM]
    return {
        r.name: (min(v[k] for v in alike), max(v[k] for v in alike))
        for k, r in enumerate(ranges)
        if alike
    }


def _doubts(
    ranges: Sequence[Range], combined: Sequence[Combination], heads: TwoHeads
) -> list[Finding]:
    found = []
    failed = sum(not np.isfinite(c.gain) for c in combined)
    if failed:
        found.append(
            Finding(
                "combinations-not-solved",
                Severity.NOTE,
                f"{failed} of {len(combined)} combinations have no answer at some speed.",
                "They are left out of the comparison.",
            )
        )
    best = combined[0]
    if not np.isfinite(best.gain):
        return found
    at_limit = [
        KNOBS[r.name].words
        for r, v in zip(ranges, best.values, strict=True)
        if v in (r.values()[0], r.values()[-1]) and abs(v) > 1e-9
    ]
    if at_limit:
        found.append(
            Finding(
                "best-at-a-limit",
                Severity.NOTE,
                f"The best combination lies at the limit of {', '.join(at_limit)}.",
                "Widen the limits if metal, class rules and valve train allow.",
            )
        )
    lift = max((v for r, v in zip(ranges, best.values, strict=True) if r.name == "lift"), default=0)
    most = float(heads.case.intake_lift.max()) + 1e-3 * lift
    tested = float(heads.after.head.intake.lift[-1])
    if lift > 0 and most > tested + 1e-9:
        found.append(
            Finding(
                "cam-above-tested-lift",
                Severity.NOTE,
                f"The best lifts to {most * 1e3:.2f} mm, tested up to {tested * 1e3:.2f} mm; the "
                "area is held above.",
                "Test higher to know what more lift does.",
            )
        )
    return found
