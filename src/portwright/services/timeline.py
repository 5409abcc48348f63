"""What happened to a job, stage by stage: what changed, what was tested, what was noted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from portwright.errors import UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement, Note, Stage
from portwright.model.run import Run
from portwright.nomenclature import term
from portwright.units import Kind


@dataclass(frozen=True, slots=True)
class Change:
    """One quantity measured at a stage, over all ports of a side (or cylinders, or heads).

    Parameters
    ----------
    quantity : str
    kind : Kind or None
        None where the quantity is not in the glossary.
    subjects : tuple of str
        Ports, cylinders or heads.
    before, after : tuple of Measurement
        Newest values of earlier stages, and those of this stage.
    """

    quantity: str
    kind: Kind | None
    subjects: tuple[str, ...]
    before: tuple[Measurement, ...]
    after: tuple[Measurement, ...]


@dataclass(frozen=True, slots=True)
class StageStep:
    """One stage of a job.

    Parameters
    ----------
    stage : Stage
    changes : tuple of Change
    runs : tuple of Run
    notes : tuple of Note
    """

    stage: Stage
    changes: tuple[Change, ...] = ()
    runs: tuple[Run, ...] = ()
    notes: tuple[Note, ...] = ()


@dataclass(slots=True)
class _Gathered:
    before: list[Measurement] = field(default_factory=list)
    after: list[Measurement] = field(default_factory=list)


@lru_cache(1024)  # a name the glossary lacks is compared with every other one
def kind_of(quantity: str) -> Kind | None:
    """Kind of a quantity, None where the glossary does not have it."""
    try:
        return Kind(term(quantity).kind)
    except UnknownNameError:
        return None


def timeline(contents: JobContents) -> list[StageStep]:
    """Stages in the order of work; what names no stage comes last under an empty one."""
    steps = [_step(contents, place) for place in range(len(contents.stages))]
    known = {stage.code for stage in contents.stages}
    loose = StageStep(
        Stage(""),
        changes=_changes(contents, [m for m in contents.measurements if m.stage not in known], []),
        runs=tuple(r for r in contents.runs if r.stage not in known),
        notes=tuple(n for n in contents.notes if n.stage not in known),
    )
    return [*steps, loose] if loose.changes or loose.runs or loose.notes else steps


def _step(contents: JobContents, place: int) -> StageStep:
    stage = contents.stages[place]
    earlier = {s.code for s in contents.stages[:place]}
    return StageStep(
        stage,
        changes=_changes(
            contents,
            [m for m in contents.measurements if m.stage == stage.code],
            [m for m in contents.measurements if m.stage in earlier],
        ),
        runs=tuple(r for r in contents.runs if r.stage == stage.code),
        notes=tuple(n for n in contents.notes if n.stage == stage.code),
    )


def _changes(
    contents: JobContents, now: Iterable[Measurement], earlier: Iterable[Measurement]
) -> tuple[Change, ...]:
    sides = {port.code: port.side.value for port in contents.ports}
    newest = {(m.subject, m.quantity, m.place): m for m in earlier}
    found: dict[tuple[str, str], _Gathered] = {}
    for item in now:
        if item.quantity == "clearance":
            continue  # clearances stand with the open checks
        gathered = found.setdefault((item.quantity, sides.get(item.subject, "")), _Gathered())
        gathered.after.append(item)
        before = newest.get((item.subject, item.quantity, item.place))
        if before is not None:
            gathered.before.append(before)
    return tuple(
        Change(
            quantity,
            kind_of(quantity),
            tuple(dict.fromkeys(m.subject for m in gathered.after)),
            tuple(gathered.before),
            tuple(gathered.after),
        )
        for (quantity, _), gathered in found.items()
    )
