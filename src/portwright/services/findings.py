"""What looks wrong with the runs of a job, and what their repeatability is."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from portwright.archive.archive import Archive
from portwright.core.curve import FlowCurve
from portwright.core.detection import find
from portwright.core.port.limits import PortLimits
from portwright.core.repeatability import Repeatability, estimate_repeatability
from portwright.core.sessions import learn_session_shift
from portwright.errors import Finding, Severity, Where
from portwright.model.bench import Calibration
from portwright.model.contents import JobContents
from portwright.model.run import Run
from portwright.nomenclature import measurement_findings
from portwright.services.metal import metal_findings
from portwright.services.port_limits import limits_of
from portwright.services.reduce import ReducedRun, reduce_runs
from portwright.services.sweeps import (
    RepeatKey,
    missing_conditions,
    port_named,
    repeat_groups,
    session_of,
    sweep_records,
)

# A finding of one of these on a run means its numbers do not belong in a comparison.
FAULT_CODES = frozenset(
    {
        "lift-zero-offset",
        "leak",
        "constant-factor",
        "range-step",
        "outlier-repeat",
        "swapped-side",
        "swapped-port",
        "wrong-pressure",
        "sweep-not-usable",
    }
)
_HISTORY = 400  # runs of a bench that its repeatability is learned from


@dataclass(frozen=True, slots=True, eq=False)
class CheckedJob:
    """A job's runs, reduced and checked.

    Parameters
    ----------
    contents : JobContents
    reduced : tuple of ReducedRun
    repeatability : dict of str to Repeatability
        By bench code.
    findings : tuple of Finding
    """

    contents: JobContents
    reduced: tuple[ReducedRun, ...]
    repeatability: dict[str, Repeatability]
    findings: tuple[Finding, ...]

    @property
    def faulty(self) -> dict[str, Finding]:
        """First disqualifying finding of each faulty run, by run code."""
        found: dict[str, Finding] = {}
        for finding in self.findings:
            if (
                finding.where.run
                and finding.code in FAULT_CODES
                and finding.severity is not Severity.NOTE
            ):
                found.setdefault(finding.where.run, finding)
        return found

    def sound(self) -> list[ReducedRun]:
        """Runs fit for comparison: usable, not excluded by hand, without a fault."""
        faulty = self.faulty
        return [
            r
            for r in self.reduced
            if r.curve is not None and not r.run.left_out and r.run.code not in faulty
        ]


def learn_repeatability(
    reduced: Iterable[ReducedRun], faulty: Collection[str] = ()
) -> Repeatability:
    """Repeatability of a bench from everything repeated on it.

    Falls back on common practice where nothing was repeated.

    Parameters
    ----------
    reduced : iterable of ReducedRun
        Runs of one bench.
    faulty : collection of str
        Codes of runs known to be faulty, not to be learned from.
    """
    states: list[list[list[FlowCurve]]] = []
    for members in repeat_groups([r for r in reduced if r.run.code not in faulty]).values():
        sessions: dict[str, list[FlowCurve]] = {}
        for item in members:
            if item.curve is not None:
                sessions.setdefault(session_of(item.run), []).append(item.curve)
        states.append(list(sessions.values()))
    within = estimate_repeatability([s for state in states for s in state if len(s) > 1])
    return learn_session_shift(states, within)


def check_job(archive: Archive, number: str) -> CheckedJob:
    """Reduce and check every run of a job.

    Repeatability comes from the newest runs of each bench in the whole shop file.

    Raises
    ------
    UnknownNameError
        No such job.
    """
    calibrations = archive.calibrations()
    contents = archive.job(number)
    history = {
        bench: reduce_runs(archive.runs_of_bench(bench, _HISTORY), calibrations)
        for bench in sorted({run.bench for run in contents.runs})
    }
    first_look = {bench: learn_repeatability(runs) for bench, runs in history.items()}
    checked = check_contents(contents, calibrations, first_look, limits_of(archive))
    # faults found with the first figures would otherwise make the bench look worse than it is
    faulty = checked.faulty
    sharper = {bench: learn_repeatability(runs, faulty) for bench, runs in history.items()}
    return replace(checked, repeatability=sharper)


def check_contents(
    contents: JobContents,
    calibrations: Sequence[Calibration],
    repeatability: dict[str, Repeatability],
    limits: PortLimits | None = None,
) -> CheckedJob:
    """As :func:`check_job` for contents already at hand."""
    reduced = reduce_runs(contents.runs, calibrations)
    records = sweep_records([r for r in reduced if not r.run.left_out], contents)
    found: list[Finding] = [f for r in reduced for f in r.findings]
    benches = {r.run.code: r.run.bench for r in reduced}
    for bench in sorted(repeatability):
        on_bench = [r for r in records if benches[r.where.run] == bench]
        if on_bench:
            found += find(on_bench, repeatability[bench], learned_here=True)
    found += _missing(contents, reduced)
    for measurement in contents.measurements:
        found += measurement_findings(measurement)
    found += metal_findings(contents, limits)
    return CheckedJob(contents, tuple(reduced), repeatability, _tidy(found, contents.job.number))


def _missing(contents: JobContents, reduced: Sequence[ReducedRun]) -> list[Finding]:
    """Each condition that sheets left out, said once for all runs it concerns."""
    by_name: dict[str, list[Run]] = {}
    for item in reduced:
        port = port_named(contents, item.run.port)
        for name in missing_conditions(item.run, port.side if port else None):
            by_name.setdefault(name, []).append(item.run)
    found = []
    for name, runs in by_name.items():
        shown = ", ".join(r.code for r in runs[:3]) + (" and others" if len(runs) > 3 else "")
        where = Where(
            run=_same(r.code for r in runs),
            port=_same(r.port for r in runs),
            stage=_same(r.stage for r in runs),
        )
        found.append(
            Finding(
                "missing-condition",
                Severity.WARNING if name == "test pressure" else Severity.NOTE,
                f"The {name} was not recorded for {len(runs)} runs ({shown})."
                if len(runs) > 1
                else f"The {name} was not recorded for run {shown}.",
                "Add it if it is known; without it a result compares safely only with sweeps "
                "made in the same set-up.",
                where,
                size=float(len(runs)),
            )
        )
    return found


def _tidy(findings: Iterable[Finding], job: str) -> tuple[Finding, ...]:
    """Worst first, each with its job."""
    rank = {Severity.FAULT: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    placed = [replace(f, where=replace(f.where, job=f.where.job or job)) for f in findings]
    return tuple(sorted(placed, key=lambda f: (rank[f.severity], f.code, f.where.run)))


def _same(values: Iterable[str]) -> str:
    distinct = set(values)
    return distinct.pop() if len(distinct) == 1 else ""


def findings_of_run(checked: CheckedJob, code: str) -> tuple[Finding, ...]:
    """Findings that concern one run: its own, and those of its whole group of repeats."""
    run = next(r.run for r in checked.reduced if r.run.code == code)
    key = RepeatKey.of(run)
    return tuple(
        f
        for f in checked.findings
        if f.where.run == code
        or (not f.where.run and f.where.port == key.port and f.where.stage in {key.stage, ""})
    )
