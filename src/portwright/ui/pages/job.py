"""One job: where it stands, what was done, what is open."""

from __future__ import annotations

from collections.abc import Mapping

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.model.job import Stage
from portwright.services.findings import check_job
from portwright.services.head_facts import facts_in_words
from portwright.services.jobs import today
from portwright.services.timeline import timeline
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.guest_links import guest_links
from portwright.ui.components.job_findings import job_findings
from portwright.ui.components.job_places import job_places
from portwright.ui.components.job_result import job_result, told
from portwright.ui.components.open_checks import open_checks
from portwright.ui.components.photos import photos
from portwright.ui.components.stage_step import stage_step
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.layout import button, heading, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


@screen(links.JOB)
async def job(number: str) -> None:
    """Timeline of stages beside findings, clearances and photos."""
    contents = await in_thread(shop_file().job, number)
    steps = await in_thread(timeline, contents)
    facts = await in_thread(facts_in_words, shop_file(), contents)
    with page_frame(f"Job {number}", "jobs") as view:
        _summary(contents, facts)
        await thin_walls(contents, view, shown=3)
        job_places(contents.job)
        with ui.element("div").classes("columns"):
            with ui.element("section").classes("stack"):
                heading("Stages")

                @ui.refreshable
                def stages() -> None:
                    with ui.element("ol").classes("timeline"):
                        for step in steps:
                            stage_step(number, step, view)

                stages()
                view.on_change(stages.refresh)
                _new_stage(contents)
            with ui.element("div").classes("stack"):
                result = ui.element("div").classes("stack").props("aria-live=polite")
                open_checks(contents)
                findings = ui.element("div").classes("stack").props("aria-live=polite")
                photos(contents)
                guest_links(number)
    for place, title in ((result, "Result"), (findings, "Findings")):
        with place, ui.element("section").classes("sheet"):
            heading(title)
            ui.label("Checking the runs …").classes("soft")

    async def look() -> None:
        checked = await in_thread(check_job, shop_file(), number)
        findings.clear()
        with findings:
            job_findings(checked.findings)
        story = await in_thread(told, shop_file(), checked, view)
        result.clear()
        with result:
            job_result(story, view)

    ui.timer(0.05, look, once=True)


def _summary(contents: JobContents, facts: Mapping[str, str]) -> None:
    about = contents.job
    said = (
        ("Customer", about.customer),
        ("Car", about.vehicle),
        ("Casting", about.casting),
        *facts.items(),
        ("Goal", about.goal),
        ("Opened", about.opened),
        ("Promised", about.promised),
        ("Delivered", about.delivered),
    )
    with ui.element("dl").classes("facts wide"):
        for name, value in said:
            if value:
                with ui.element("div"):
                    with ui.element("dt"):
                        ui.label(name)
                    with ui.element("dd"):
                        ui.label(value)


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
