"""Wall readings round a port: what was read, what is planned, what is left."""

from __future__ import annotations

from nicegui import ui

from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.head import Port
from portwright.model.quantity import AsTyped
from portwright.services import jobs, wall_entry
from portwright.services.port_limits import limits_of
from portwright.services.wall_entry import WallPlace
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.ask_reason import ask_reason
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage, chosen_place
from portwright.ui.components.field import Field
from portwright.ui.components.number_entry import Outcome
from portwright.ui.components.wall_line import WallLine
from portwright.ui.layout import button, heading, link_button, page_frame, screen
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind


@screen(links.WALLS)
async def walls_page(job: str = "", port: str = "", stage: str = "") -> None:
    """Sound the walls of a port."""
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Walls", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.walls)
            if contents is not None and contents.ports and contents.stages:
                at, when = chosen_place(contents, port, stage)
                choose_port_and_stage(contents, at, when, lambda p, s: links.walls(number, p, s))
        if contents is None or not contents.ports or not contents.stages:
            ui.label("Open a job with ports and stages first.")
            link_button("Jobs", links.JOBS, "main")
            return
        _Screen(contents, next(p for p in contents.ports if p.code == at), when, view)


class _Screen:
    """Places of one port at one stage."""

    def __init__(self, contents: JobContents, port: Port, stage: str, view: View) -> None:
        self._job, self._port, self._stage, self._view = contents.job.number, port, stage, view
        self._lines: dict[tuple[str, str], WallLine] = {}
        ui.label(
            "A reading is one spot: sound round it. Set the velocity of the alloy, and use the "
            "curved probe in a port. Nothing here certifies a wall; pressure test before delivery."
        ).classes("soft")
        self._places = ui.element("div").classes("stack")
        with ui.element("section").classes("sheet"):
            heading("Another place")
            with ui.element("div").classes("row-wrap"):
                self._name = Field("Where, in words", hint=f"of cylinder or port {port.code}")
                button("Add it", self._add)
        with ui.element("div").classes("row-wrap"):
            link_button("Where to cut next", links.port(self._job, port.code, stage), "main")
        self._show(contents)
        view.on_change(self._redraw)

    def _show(self, contents: JobContents) -> None:
        for place in self._found(contents):
            key = (place.subject, place.place)
            if key in self._lines:
                self._lines[key].refresh(place)
            else:
                self._line(place)

    def _found(self, contents: JobContents) -> tuple[WallPlace, ...]:
        limits = limits_of(shop_file())
        return wall_entry.wall_places(contents, self._port, self._stage, limits)

    def _line(self, place: WallPlace) -> None:
        keep = f"{self._job}/{place.subject}/{place.place}/{self._stage}"
        with self._places:
            self._lines[place.subject, place.place] = WallLine(
                place, self._stage, self._view, keep, self._commit
            )

    async def _redraw(self) -> None:
        self._show(await in_thread(shop_file().job, self._job))

    def _add(self) -> None:
        words = self._name.value.strip()
        if not wall_entry.place_of_words(words):
            raise InputError("The wall has no place.", "Say where: 'pinch, pushrod side'.")
        place = WallPlace(wall_entry.wall_subject(self._port), words, None)
        if (place.subject, place.place) not in self._lines:
            self._line(place)
        self._name.set("")

    async def _commit(self, place: WallPlace, quantity: str, value: AsTyped) -> Outcome:
        shop, reason = shop_file(), ""
        contents = await in_thread(shop.job, self._job)
        at = (place.subject, place.place, self._stage)
        present = wall_entry.present(contents, *at, quantity)
        if present is not None and present.value != value:
            reason = await ask_reason(
                f"{quantity} of {place.subject}, {place.place}: {present.value} becomes {value}."
            )
            if not reason:
                text = shown.typed_number(present.value, Kind.LENGTH, self._view)
                return Outcome(text, "Kept as it was.", "")
        await in_thread(wall_entry.record_wall, shop, self._job, *at, {quantity: value}, reason)
        await self._redraw()
        return Outcome(shown.typed_number(value, Kind.LENGTH, self._view))
