"""Measuring a port: the drawing says where, the boxes keep what was found."""

from __future__ import annotations

import asyncio

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.model.head import Port
from portwright.model.quantity import AsTyped
from portwright.services import jobs, measure, measuring_places
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.ask_reason import ask_reason
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage
from portwright.ui.components.measure_group import MeasureGroup
from portwright.ui.components.number_entry import Outcome
from portwright.ui.components.port_drawing import PortDrawing
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.layout import link_button, page_frame, screen
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread


@screen(links.MEASURE)
async def measure_page(job: str = "", port: str = "", stage: str = "") -> None:
    """Measurements of one port at one stage."""
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Measure", "measure", classes="measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.measure)
            if contents is not None and contents.ports and contents.stages:
                at = next((p for p in contents.ports if p.code == port), contents.ports[0])
                when = stage if stage in {s.code for s in contents.stages} else ""
                when = when or contents.stages[-1].code
                choose_port_and_stage(
                    contents, at.code, when, lambda p, s: links.measure(number, p, s)
                )
        if contents is None:
            ui.label("Open a job first.")
            link_button("New job", links.NEW_JOB, "main")
        elif not contents.ports or not contents.stages:
            ui.label("This job has no ports or no stages yet.")
            link_button("To the job", links.job(number), "main")
        else:
            await thin_walls(contents, view, at.code)
            _Screen(contents, at, when, view)
            with ui.element("div").classes("row-wrap"):
                link_button("Where to cut next", links.port(number, at.code, when), "main")
                link_button("Sections", links.sections(number, at.code, when))
                link_button("Walls", links.walls(number, at.code, when))
                link_button("Pitot map", links.pitot(number, at.code, when))
                link_button("Read a scan", links.scan(number, at.code, when))
                link_button("Measure on a photo", links.trace(number))


class _Screen:
    """Drawing and groups of one port at one stage."""

    def __init__(self, contents: JobContents, port: Port, stage: str, view: View) -> None:
        self._job, self._port, self._stage, self._view = contents.job.number, port, stage, view
        # one write and redraw at a time, or an older reading of the file could be drawn last
        self._turn = asyncio.Lock()
        with ui.element("div").classes("measuring"):
            with ui.element("div").classes("pinned"):
                drawing = PortDrawing()
            with ui.element("div").classes("stack"):
                self._groups = [
                    MeasureGroup(group, port, stage, contents, view, self._commit, drawing.light)
                    for group in measuring_places.GROUPS
                ]
        view.on_change(self._refresh)

    async def _refresh(self) -> None:
        async with self._turn:
            await self._redraw()

    async def _redraw(self) -> JobContents:
        contents = await in_thread(shop_file().job, self._job)
        for group in self._groups:
            group.refresh(contents)
        return contents

    async def _commit(
        self, group: measuring_places.Group, quantity: str, value: AsTyped
    ) -> Outcome:
        shop = shop_file()
        subject = measuring_places.subject_of(self._port, group)
        contents = await in_thread(shop.job, self._job)
        present = measure.pair(contents, subject, quantity, self._stage).now
        reason = ""
        if present is not None and present.value != value:
            reason = await ask_reason(f"{quantity} of {subject}: {present.value} becomes {value}.")
            if not reason:
                return Outcome(
                    shown.typed_number(
                        present.value, measuring_places.kind_of(quantity), self._view
                    ),
                    "Kept as it was.",
                    "",
                )
        async with self._turn:
            stored = await in_thread(
                measure.record, shop, self._job, subject, quantity, self._stage, value, reason
            )
            contents = await self._redraw()
        asked = measure.questions(contents, stored)
        text = shown.typed_number(stored.value, measuring_places.kind_of(quantity), self._view)
        if asked:
            return Outcome(text, f"Saved. {asked[0].message} {asked[0].hint}", "asked")
        return Outcome(text)
