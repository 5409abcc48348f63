"""One stage of a job: what changed, what was tested."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from portwright import units
from portwright.model.job import Measurement
from portwright.model.run import Run
from portwright.services.timeline import Change, StageStep
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.layout import heading, link_button, table
from portwright.ui.state import View
from portwright.units import Kind


def stage_step(job: str, step: StageStep, view: View) -> None:
    """A stage with its changes, runs and notes."""
    stage = step.stage
    with ui.element("li").classes("step"):
        heading(stage.code or "Not tied to a stage", 3)
        if stage.note:
            ui.label(stage.note).classes("strong")
        for note in step.notes[:6]:
            ui.label(f"{note.subject}: {note.text}" if note.subject else note.text).classes("small")
        if step.runs:
            _runs(job, stage.code, step.runs)
        if step.changes:
            told = len(step.changes)
            with ui.expansion(f"Measured: {told} thing{'s' if told != 1 else ''}").classes("fold"):
                rows = [_row(change, view) for change in step.changes]
                table(("", "Where", "Before", "At this stage"), rows)


def _runs(job: str, stage: str, runs: Sequence[Run]) -> None:
    ports = list(dict.fromkeys(run.port for run in runs))
    benches = ", ".join(dict.fromkeys(run.bench for run in runs))
    many = f"{len(runs)} sweep{'s' if len(runs) != 1 else ''}"
    with ui.element("div").classes("row-wrap"):
        ui.label(f"{many} of {_few(ports)} on {benches}").classes("small")
        out = [run for run in runs if run.left_out]
        if out:
            ui.label(f"{len(out)} left out").classes("tag ask")
        if stage:
            link_button("Compare", links.compare(job, ",".join(r.code for r in runs[:12])), "quiet")


def _few(names: Sequence[str]) -> str:
    some = [name for name in names if name]
    return ", ".join(some) if len(some) <= 4 else f"{some[0]} to {some[-1]}"


def _row(change: Change, view: View) -> tuple[str, str, str, str]:
    return (
        change.quantity,
        _few(change.subjects),
        _span(change.before, change.kind, view),
        _span(change.after, change.kind, view),
    )


def _span(items: Sequence[Measurement], kind: Kind | None, view: View) -> str:
    """One value, or smallest and largest."""
    if not items:
        return "–"
    ordered = sorted(items, key=lambda m: m.value.si)
    low, high = ordered[0].value, ordered[-1].value
    if kind is None or low.unit not in units.units_of(kind):
        return str(low) if low == high else f"{low} … {high}"
    if low.si == high.si:
        return shown.typed(low, kind, view)
    return f"{shown.typed_number(low, kind, view)} … {shown.typed(high, kind, view)}"
