"""Job, port and stage a screen works on, kept in its address."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.services.jobs import JobLine
from portwright.ui.components.field import Field


def choose_job(lines: list[JobLine], number: str, address: Callable[[str], str]) -> None:
    """Choice of a job; choosing opens ``address(number)``."""
    options = {"": "Choose a job"} | {
        line.job.number: " · ".join(t for t in (line.job.number, line.job.customer) if t)
        for line in lines
    }
    if number and number not in options:
        options[number] = number
    Field(
        "Job",
        number,
        kind="choice",
        options=options,
        on_change=lambda chosen: ui.navigate.to(address(chosen)),
    )


def choose_port_and_stage(
    contents: JobContents,
    port: str,
    stage: str,
    address: Callable[[str, str], str],
    *,
    any_stage: str = "",
) -> None:
    """Choice of port and stage; choosing opens ``address(port, stage)``.

    ``any_stage`` are the words for no stage in particular, "" where one must be chosen.
    """
    stages = {"": any_stage} if any_stage else {}
    Field(
        "Port",
        port,
        kind="choice",
        options={p.code: f"{p.code} {p.side.value}" for p in contents.ports},
        on_change=lambda chosen: ui.navigate.to(address(chosen, stage)),
    )
    Field(
        "Stage",
        stage,
        kind="choice",
        options=stages | {s.code: f"{s.code} {s.note[:48]}" for s in contents.stages},
        on_change=lambda chosen: ui.navigate.to(address(port, chosen)),
    )


def chosen_place(contents: JobContents, port: str, stage: str) -> tuple[str, str]:
    """Port and stage asked for, else the first port and the newest stage."""
    known = {p.code for p in contents.ports}
    stages = [s.code for s in contents.stages]
    return (
        port if port in known else contents.ports[0].code,
        stage if stage in stages else stages[-1],
    )
