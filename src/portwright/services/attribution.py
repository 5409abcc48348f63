"""Which cut did what: stage after stage of a port, and seat against port."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from portwright.archive.archive import Archive
from portwright.core.attribution import Attribution, attribute
from portwright.core.comparison import Verdict
from portwright.errors import Finding, InputError, PortwrightError, Severity
from portwright.services.compare import (
    RunComparison,
    archive_pressure,
    compare_groups,
    sweeps_of_group,
)
from portwright.services.findings import CheckedJob, check_job
from portwright.services.reduce import ReducedRun
from portwright.services.sweeps import port_named
from portwright.services.valves import valve_at

_POOR_FIT = 0.03  # relative misfit above which the split is not to be relied on, our choice


@dataclass(frozen=True, slots=True, eq=False)
class CutStep:
    """One stage against the one before it.

    Parameters
    ----------
    before, after : str
        Stage codes.
    note : str
        What was done.
    comparison : RunComparison
    since_first : RunComparison
        The stage against the first one.
    split : Attribution or None
        None where the lifts cannot tell seat from port.
    """

    before: str
    after: str
    note: str
    comparison: RunComparison
    since_first: RunComparison
    split: Attribution | None

    @property
    def real(self) -> bool:
        """Whether any band changed for real."""
        return any(b.gain.verdict is Verdict.REAL for b in self.comparison.result.bands)


@dataclass(frozen=True, slots=True, eq=False)
class PortHistory:
    """All cuts of one port.

    Parameters
    ----------
    job, port, bench : str
    steps : tuple of CutStep
    whole : Attribution or None
        First against last stage.
    findings : tuple of Finding
    """

    job: str
    port: str
    bench: str
    steps: tuple[CutStep, ...]
    whole: Attribution | None
    findings: tuple[Finding, ...]


def port_history(
    archive: Archive,
    job: str,
    port: str = "",
    told: Callable[[str], object] = lambda _: None,
) -> PortHistory:
    """Every stage of a port against the one before it, on the bench with most stages.

    Parameters
    ----------
    port : str
        "" takes the port with most stages.
    told : callable
        Hears what is being done.

    Raises
    ------
    InputError
        Fewer than two stages of the port have a sound sweep on one bench.
    UnknownNameError
        No such job.
    """
    told(f"Checking the sweeps of job {job}")
    checked = check_job(archive, job)
    groups = _groups(checked)
    chosen = [key for key in groups if not port or key[0] == port]
    if not chosen:
        raise InputError(f"{port or 'No port'} of {job} has no sound sweep.", "Sweep it first.")
    best = max(chosen, key=lambda key: (len(groups[key]), sum(map(len, groups[key].values()))))
    stages = groups[best]
    if len(stages) < 2:
        raise InputError(
            f"{best[0]} of {job} was swept at one stage only.", "Sweep it after the next cut."
        )
    order = [s.code for s in checked.contents.stages]
    names = sorted(stages, key=lambda s: order.index(s) if s in order else len(order))
    notes = {s.code: s.note for s in checked.contents.stages}
    pressure = archive_pressure(archive)
    first = (checked, stages[names[0]])
    steps = []
    for before, after in pairwise(names):
        told(f"{before} to {after}")
        old, new = (checked, stages[before]), (checked, stages[after])
        steps.append(
            CutStep(
                before,
                after,
                notes.get(after, ""),
                compare_groups(old, new, pressure),
                compare_groups(first, new, pressure),
                _split(checked, best[0], stages[before], stages[after], pressure),
            )
        )
    whole = _split(checked, best[0], stages[names[0]], stages[names[-1]], pressure)
    return PortHistory(job, best[0], best[1], tuple(steps), whole, tuple(_limits(whole)))


def _groups(
    checked: CheckedJob,
) -> dict[tuple[str, str, str], dict[str, list[ReducedRun]]]:
    """Sound sweeps by port, bench and set-up, then by stage."""
    found: dict[tuple[str, str, str], dict[str, list[ReducedRun]]] = {}
    for item in checked.sound():
        run = item.run
        key = (run.port, run.bench, run.conditions.configuration)
        found.setdefault(key, {}).setdefault(run.stage, []).append(item)
    return found


def _split(
    checked: CheckedJob,
    port: str,
    before: list[ReducedRun],
    after: list[ReducedRun],
    pressure: float,
) -> Attribution | None:
    shape = valve_at(checked.contents, port, after[0].run.stage)
    known = port_named(checked.contents, port)
    if shape is None:
        return None
    sides = [sweeps_of_group(checked, runs, pressure) for runs in (before, after)]
    try:
        return attribute(
            sides[0],
            sides[1],
            valve_diameter=shape.head_diameter,
            valves=known.valve_count if known else 1,
        )
    except PortwrightError:
        return None  # the comparison beside it says why the sweeps do not go together


def _limits(whole: Attribution | None) -> list[Finding]:
    if whole is None:
        return [
            Finding(
                "no-split",
                Severity.NOTE,
                "Seat and port cannot be told apart: the valve was not measured, or the sweeps "
                "do not reach from low to high lift.",
                "Enter the valve head diameter; sweep from L/D 0.05 to 0.25 and above.",
            )
        ]
    worst = max(whole.before.misfit, whole.after.misfit)
    if worst <= _POOR_FIT:
        return []
    return [
        Finding(
            "split-fits-poorly",
            Severity.WARNING,
            f"Seat and port in series fit these sweeps to {100 * worst:.1f} % only, so the split "
            "between them is a hint, not a result.",
            "A port that separates at high lift does not follow this model.",
            size=worst,
        )
    ]


def story(found: PortHistory) -> str:
    """Which cuts did something, in two sentences."""
    real = [s.after for s in found.steps if s.real]
    rest = [s.after for s in found.steps if not s.real]
    parts = []
    if real:
        parts.append(f"Changed the flow for real: {', '.join(real)}.")
    if rest:
        parts.append(f"Nothing the bench can see: {', '.join(rest)}.")
    best = max(found.steps, key=_worth)
    gain = best.comparison.result.over_cam
    if gain is not None and gain.verdict is Verdict.REAL and gain.gain > 0.0:
        parts.append(f"Worth most over the open time of the cam: {best.after}.")
    return " ".join(parts)


def _worth(step: CutStep) -> float:
    gain = step.comparison.result.over_cam
    return gain.gain if gain is not None else 0.0
