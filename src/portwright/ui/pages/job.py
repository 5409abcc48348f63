"""One job: where it stands, what was done, what is open."""

from __future__ import annotations

from collections.abc import Iterable

from nicegui import ui

from portwright.errors import Finding, Severity
from portwright.model.contents import JobContents
from portwright.model.job import Stage
from portwright.services.findings import check_job
from portwright.services.jobs import today
from portwright.services.timeline import timeline
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.guest_links import guest_links
from portwright.ui.components.open_checks import open_checks
from portwright.ui.components.photos import photos
from portwright.ui.components.stage_step import stage_step
from portwright.ui.errors import show_finding
from portwright.ui.layout import button, heading, link_button, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_ORDER = (Severity.FAULT, Severity.WARNING, Severity.NOTE)


@screen(links.JOB)
async def job(number: str) -> None:
    """Timeline of stages beside findings, clearances and photos."""
    contents = await in_thread(shop_file().job, number)
    with page_frame(f"Job {number}", "jobs") as view:
        _summary(contents)
        with ui.element("div").classes("row-wrap"):
            link_button("Flow test", links.bench(number), "main")
            link_button("Measure", links.measure(number))
            link_button("Compare", links.compare(number))
            if contents.job.casting:
                link_button("Same casting", links.jobs(contents.job.casting))
        with ui.element("div").classes("columns"):
            with ui.element("section").classes("stack"):
                heading("Stages")

                @ui.refreshable
                def stages() -> None:
                    with ui.element("ol").classes("timeline"):
                        for step in timeline(shop_file().job(number)):
                            stage_step(number, step, view)

                stages()
                view.on_change(stages.refresh)
                _new_stage(contents)
            with ui.element("div").classes("stack"):
                open_checks(contents)
                await _findings(number)
                photos(contents)
                guest_links(number)


def _summary(contents: JobContents) -> None:
    facts = contents.job
    said = (
        ("Customer", facts.customer),
        ("Car", facts.vehicle),
        ("Casting", facts.casting),
        ("Goal", facts.goal),
        ("Opened", facts.opened),
        ("Promised", facts.promised),
        ("Delivered", facts.delivered),
    )
    with ui.element("dl").classes("facts wide"):
        for name, value in said:
            if value:
                with ui.element("div"):
                    with ui.element("dt"):
                        ui.label(name)
                    with ui.element("dd"):
                        ui.label(value)


async def _findings(number: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("Findings")
        place = ui.element("div").classes("stack").props("aria-live=polite")
        with place:
            ui.label("Checking the runs …").classes("soft")

    async def look() -> None:
        checked = await in_thread(check_job, shop_file(), number)
        place.clear()
        with place:
            _show_findings(checked.findings)

    ui.timer(0.05, look, once=True)


def _show_findings(findings: Iterable[Finding]) -> None:
    """Findings by weight; many of one kind stand under the first of them."""
    by_code: dict[str, list[Finding]] = {}
    for finding in sorted(findings, key=lambda f: _ORDER.index(f.severity)):
        by_code.setdefault(finding.code, []).append(finding)
    if not by_code:
        ui.label("Nothing found.").classes("soft")
    for same in by_code.values():
        show_finding(same[0])
        if len(same) > 1:
            with ui.expansion(f"{len(same) - 1} more of this kind").classes("fold"):
                for finding in same[1:]:
                    ui.label(finding.message).classes("small")


def _new_stage(contents: JobContents) -> None:
    code = f"S{len(contents.stages)}"
    with ui.element("section").classes("sheet"):
        heading("Next stage", 3)
        with ui.element("div").classes("fields"):
            name = Field("Stage", code)
            done = Field("What was done")

        def add() -> None:
            shop_file().add_stage(
                contents.job.number, Stage(name.value.strip(), done.value.strip(), today())
            )
            ui.navigate.reload()

        button("Add the stage", add).style("align-self: flex-start")
