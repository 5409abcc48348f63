"""Any number of stages or sweeps against one of them, each job checked once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from portwright.archive.archive import Archive
from portwright.errors import Finding, InputError, PortwrightError, Severity
from portwright.model.contents import JobContents
from portwright.model.run import Run
from portwright.services.compare import (
    RunComparison,
    archive_pressure,
    choose,
    compare_groups,
    find_group,
)
from portwright.services.findings import CheckedJob, check_job
from portwright.services.reduce import ReducedRun
from portwright.services.sweeps import RepeatKey
from portwright.services.translate import compare_translated

MOST = 6  # curves against the first


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """One comparison with the first name, or why there is none.

    Parameters
    ----------
    name : str
        As asked for.
    comparison : RunComparison or None
    refused : PortwrightError or None
    """

    name: str
    comparison: RunComparison | None = None
    refused: PortwrightError | None = None


def side_by_side(
    archive: Archive,
    names: Sequence[str],
    *,
    cam: str | None = None,
    single: bool = False,
    as_read: bool = False,
    told: Callable[[str], object] = lambda _: None,
) -> list[Beside]:
    """Compare the first name with each of the others.

    Parameters
    ----------
    names : sequence of str
        "JOB/PORT:STAGE", "JOB/RUN" or a run code; two or more.
    cam : str, optional
        Card of the later job's cam; None takes its only one.
    single : bool
        A run stands for itself, not for all repeats of its stage.
    as_read : bool
        Sweeps of two benches as each bench read them. Otherwise the first is translated to the
        bench of the other, as far as plates or heads were tested on both.
    told : callable
        Hears what is being done, for a progress line.

    Returns
    -------
    list of Beside
        One for each name after the first; a refusal does not stop the others.

    Raises
    ------
    InputError
        Fewer than two names, or too many.
    UnknownNameError
        A name that does not exist.
    """
    if not 2 <= len(names) <= MOST + 1:
        raise InputError(f"Choose two to {MOST + 1} curves to compare.", "Add one, or drop some.")
    found = [find_group(archive, name) for name in names]
    checked: dict[str, CheckedJob] = {}
    for number in dict.fromkeys(job for job, *_ in found):
        told(f"Checking the sweeps of job {number}")
        checked[number] = check_job(archive, number)
    first = found[0]
    out = []
    for name, other in zip(names[1:], found[1:], strict=True):
        told(f"Comparing with {name}")
        alone = single or _repeats(first, other)
        try:
            before, after = (_group(checked, side, single=alone) for side in (first, other))
            result = compare_groups(before, after, archive_pressure(archive), cam)
            if not as_read and result.before.bench != result.after.bench:
                result = _translated(archive, before, after, result)
        except PortwrightError as error:
            out.append(Beside(name, refused=error))
        else:
            out.append(Beside(name, result))
    return out


_Side = tuple[CheckedJob, list[ReducedRun]]


def _translated(
    archive: Archive, before: _Side, after: _Side, as_read: RunComparison
) -> RunComparison:
    """Two benches, the first translated; where that cannot be, as read, with the reason."""
    try:
        found = compare_translated(archive, before, after)
    except InputError as error:
        why = Finding(
            "not-translated",
            Severity.WARNING,
            f"Not translated from bench {as_read.before.bench} to {as_read.after.bench}, each is "
            f"shown as its own bench read it. {error.message}",
            error.hint,
        )
        return replace(as_read, findings=(why, *as_read.findings))
    known = {f.code for f in found.findings} | {"different-bench"}
    others = (f for f in as_read.findings if f.code not in known)
    return replace(found, findings=(*found.findings, *others))


_Found = tuple[str, Run | None, str, str]


def _repeats(first: _Found, other: _Found) -> bool:
    """Two runs that repeat each other are compared as single runs."""
    one, two = first[1], other[1]
    if one is None or two is None or one.job != two.job:
        return False
    return RepeatKey.of(one) == RepeatKey.of(two)


def _group(checked: Mapping[str, CheckedJob], found: _Found, *, single: bool) -> _Side:
    job, run, port, stage = found
    return checked[job], choose(checked[job], run, port, stage, single=single)


def names_of(contents: JobContents, codes: Sequence[str]) -> list[str]:
    """Names to compare for run codes that were picked somewhere else.

    Runs of several stages become one name for each stage of their port; runs of one stage stand
    against the stage before; two or more runs that cannot be told apart like this stand alone.
    """
    runs = [r for r in contents.runs if r.code in set(codes)]
    if not runs:
        return []
    job, port = contents.job.number, runs[0].port
    order = [s.code for s in contents.stages]
    stages = sorted(
        {r.stage for r in runs if r.port == port},
        key=lambda s: order.index(s) if s in order else len(order),
    )
    ports = list(dict.fromkeys(r.port for r in runs if r.stage == stages[0]))
    if len(stages) > 1:
        return [f"{job}/{port}:{s}" for s in stages]
    earlier = order[: order.index(stages[0])] if stages[0] in order else []
    swept = {r.stage for r in contents.runs if r.port == port}
    before = next((s for s in reversed(earlier) if s in swept), "")
    if before:
        return [f"{job}/{port}:{before}", f"{job}/{port}:{stages[0]}"]
    if len(ports) > 1:
        return [f"{job}/{p}:{stages[0]}" for p in ports[: MOST + 1]]
    return [f"{job}/{r.code}" for r in runs[: MOST + 1]]
