"""What happened to a port, stage by stage."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from portwright.archive.archive import Archive
from portwright.errors import Finding, InputError, UnknownNameError
from portwright.services.compare import RunComparison, archive_pressure, choose, compare_groups
from portwright.services.display import Display
from portwright.services.findings import CheckedJob, check_job
from portwright.services.wording import sentence


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One piece of work on a port and what it did.

    Parameters
    ----------
    before, after : str
        Stage codes.
    change : str
        What was done, as noted at the later stage.
    comparison : RunComparison
    sentence : str
    """

    before: str
    after: str
    change: str
    comparison: RunComparison
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class StageStory:
    """All work on one port.

    Parameters
    ----------
    port : str
    steps : tuple of Step
    whole : Step or None
        First against last stage.
    left_out : dict of str to str
        Sweeps not used, with the cause.
    findings : tuple of Finding
        Of the whole job.
    """

    port: str
    steps: tuple[Step, ...]
    whole: Step | None
    left_out: dict[str, str]
    findings: tuple[Finding, ...]


def stages_of(checked: CheckedJob, port: str) -> list[str]:
    """Stages of a port that have usable sweeps, in the order of work."""
    order = [s.code for s in checked.contents.stages]
    present = {r.run.stage for r in checked.reduced if r.run.port == port and r.curve is not None}
    return [code for code in order if code in present]


def developed_port(checked: CheckedJob) -> str:
    """Port with sweeps at most stages: the one the work was developed on.

    Raises
    ------
    InputError
        The job has no sweeps.
    """
    ports = sorted({r.run.port for r in checked.reduced if r.curve is not None})
    if not ports:
        raise InputError(
            f"Job {checked.contents.job.number} has no flow runs yet.", "Import a flow sheet."
        )
    return max(ports, key=lambda p: (len(stages_of(checked, p)), -ports.index(p)))


def stage_story(archive: Archive, job: str, port: str = "") -> StageStory:
    """Compare every stage of a port with the one before it, and the last with the first.

    Parameters
    ----------
    port : str
        Port code; "" takes the one developed most.

    Raises
    ------
    UnknownNameError, InputError
    """
    checked = check_job(archive, job)
    shop = archive.shop()
    return story_of(checked, archive_pressure(archive), Display.of(shop), port)


def story_of(checked: CheckedJob, pressure: float, display: Display, port: str = "") -> StageStory:
    """As :func:`stage_story` for a job already checked."""
    known = {p.code for p in checked.contents.ports}
    if port and port not in known:
        raise UnknownNameError("port", port, known)
    port = port or developed_port(checked)
    stages = stages_of(checked, port)
    notes = {s.code: s.note for s in checked.contents.stages}

    def step(before: str, after: str) -> Step | None:
        sides = [(checked, choose(checked, None, port, stage)) for stage in (before, after)]
        try:
            result = compare_groups(sides[0], sides[1], pressure)
        except InputError:
            return None
        return Step(before, after, notes.get(after, ""), result, sentence(result, display.length))

    steps = tuple(s for s in (step(a, b) for a, b in pairwise(stages)) if s)
    whole = step(stages[0], stages[-1]) if len(stages) > 1 else None
    left_out: dict[str, str] = {}
    for item in steps:
        left_out |= item.comparison.before.left_out | item.comparison.after.left_out
    return StageStory(port, steps, whole, left_out, checked.findings)
