"""Pitot marks of a section: touch where the probe stands, type what it says."""

from __future__ import annotations

from nicegui import ui

from portwright import units
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.nomenclature import says_unsteady
from portwright.services import jobs, pitot_entry
from portwright.services.landmarks import LANDMARKS, place_of
from portwright.services.port_limits import limits_of
from portwright.services.velocity_maps import reading_velocity
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage, chosen_place
from portwright.ui.components.field import Field
from portwright.ui.components.probe_map import ProbeMap
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

_READINGS = ("m/s", "ft/s", "inH2O", "mmH2O", "Pa")


@screen(links.PITOT)
async def pitot_page(
    job: str = "", port: str = "", stage: str = "", landmark: str = "pinch", lift: str = ""
) -> None:
    """Type in a velocity map."""
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Pitot map", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.pitot)
            if contents is not None and contents.ports and contents.stages:
                at, when = chosen_place(contents, port, stage)
                choose_port_and_stage(contents, at, when, lambda p, s: links.pitot(number, p, s))
        if contents is None or not contents.ports or not contents.stages:
            ui.label("Open a job with ports and stages first.")
            link_button("Jobs", links.JOBS, "main")
            return
        await thin_walls(contents, view, at)
        _Screen(contents, at, when, view, landmark if landmark in LANDMARKS else "pinch", lift)


class _Screen:
    """Marks of one plane of a port at one lift."""

    def __init__(
        self,
        contents: JobContents,
        port: str,
        stage: str,
        view: View,
        landmark: str,
        lift: str,
    ) -> None:
        self._job, self._port, self._stage, self._view = contents.job.number, port, stage, view
        self._landmark, self._lift, self._at = landmark, lift, ("", "")
        self._distance, self._unit, self._unsteady = "", _READINGS[0], False
        self._back = False
        length = view.unit(Kind.LENGTH)
        with ui.element("section").classes("sheet"):
            heading(f"Plane of {port} at {stage}")
            with ui.element("div").classes("fields"):
                Field("Landmark", landmark, kind="choice",
                      options={n: n for n in LANDMARKS} | {"": "at a distance"},
                      on_change=lambda v: self._choose("_landmark", v))  # fmt: skip
                Field(f"From the opening, {length}", kind="number", hint="only for a distance",
                      on_change=lambda v: self._choose("_distance", v))  # fmt: skip
                Field(f"Valve lift, {length}", lift, kind="number",
                      on_change=lambda v: self._choose("_lift", v))  # fmt: skip
        self._body = ui.element("div").classes("stack")
        with ui.element("div").classes("row-wrap"):
            link_button("Where to cut next", links.port(self._job, port, stage), "main")
            link_button("Sections", links.sections(self._job, port, stage))
        self._build(contents)
        view.on_change(lambda: ui.navigate.to(links.pitot(
            self._job, port, stage, self._landmark)))  # fmt: skip

    def _choose(self, name: str, value: str) -> None:
        setattr(self, name, value)
        self._build(shop_file().job(self._job))

    def _length(self, text: str) -> AsTyped | None:
        text = text.strip()
        if not text:
            return None
        return units.read(text, Kind.LENGTH, self._view.unit(Kind.LENGTH))

    def _plane(self) -> pitot_entry.Plane:
        distance = None if self._landmark else self._length(self._distance)
        return pitot_entry.Plane(
            self._port, self._stage, self._landmark, distance, self._length(self._lift)
        )

    def _build(self, contents: JobContents) -> None:
        self._body.clear()
        with self._body:
            try:
                plane = self._plane()
                pitot_entry.check_plane(contents, plane)
            except InputError as error:
                ui.label(error.message).classes("strong")
                ui.label(error.hint)
                return
            outline = pitot_entry.outline_at(contents, plane, limits_of(shop_file()))
            with ui.element("div").classes("columns"):
                with ui.element("section").classes("sheet"):
                    heading("Where the probe stands")
                    if outline:
                        points = [(x * 1e3, y * 1e3) for x, y in outline]
                        label = f"Section of the {self._landmark or 'plane'}, seen along the air"
                        self._map: ProbeMap | None = ProbeMap(points, label, self._touched)
                        ui.label("Touch the place, or type it. Seen along the air, floor below.")
                    else:
                        self._map = None
                        ui.label(
                            "The section was not measured at this stage, so marks count alike. "
                            "Measure it to weigh each by its area."
                        )
                        link_button(
                            "Measure the section",
                            links.sections(self._job, self._port, self._stage),
                        )
                self._entry_box()
            self._list = ui.element("div").props("aria-live=polite")
        self._refresh(contents)

    def _entry_box(self) -> None:
        length = self._view.unit(Kind.LENGTH)
        with ui.element("section").classes("sheet"):
            heading("What it says")
            with ui.element("div").classes("fields"):
                self._across = Field(f"Across, {length}", self._at[0], kind="number",
                                     on_change=lambda _: self._typed())  # fmt: skip
                self._up = Field(f"Up, {length}", self._at[1], kind="number",
                                 on_change=lambda _: self._typed())  # fmt: skip
                self._reading = Field("Reading", kind="number", on_enter=lambda _: self._keep())
                Field("Unit", self._unit, kind="choice", options=_READINGS,
                      on_change=lambda v: setattr(self, "_unit", v))  # fmt: skip
                self._state = Field(
                    "The needle",
                    kind="choice",
                    options={"": "stands still", "back": "air flows back", "unsteady": "unsteady"},
                )
            button("Keep this mark", self._keep, "main").style("align-self: flex-start")

    def _touched(self, across: float, up: float) -> None:
        unit = self._view.unit(Kind.LENGTH)
        digits = 3 if unit == "in" else 1
        at = [units.show(v * 1e-3, unit, Kind.LENGTH, digits) for v in (across, up)]
        self._at = (at[0], at[1])
        self._across.set(at[0])
        self._up.set(at[1])
        self._draw()

    def _typed(self) -> None:
        self._at = (self._across.value, self._up.value)
        self._draw()

    def _draw(self) -> None:
        if self._map is None:
            return
        try:
            x, y = (self._length(t) for t in self._at)
        except InputError:
            return
        at = (x.si * 1e3, y.si * 1e3) if x and y else None
        self._map.show(self._drawn, at)

    async def _keep(self) -> None:
        across, up = (self._length(f.value) for f in (self._across, self._up))
        if across is None or up is None:
            raise InputError("The mark has no place.", "Touch the section, or type across and up.")
        text, state = self._reading.value.strip(), self._state.value
        reading = pitot_entry.read_probe(text, self._unit) if text else None
        if reading is not None and state == "back":
            reading = pitot_entry.read_probe(f"-{text.lstrip('-')}", self._unit)
        shop = shop_file()
        await in_thread(
            pitot_entry.record_mark, shop, self._job, self._plane(), across, up, reading,
            unsteady=state == "unsteady",
        )  # fmt: skip
        self._reading.set("")
        self._state.set("")
        self._refresh(await in_thread(shop.job, self._job))

    def _refresh(self, contents: JobContents) -> None:
        marks = pitot_entry.marks_of(contents, self._plane())
        placed = [(m, place_of(m)) for m in marks]
        self._drawn = [
            ((x or 0.0) * 1e3, (y or 0.0) * 1e3, self._word(m))
            for m, p in placed
            if (x := p.length("across")) is not None and (y := p.length("up")) is not None
        ]
        self._draw()
        self._list.clear()
        with self._list:
            if not marks:
                ui.label("No mark of this plane at this lift yet.").classes("soft")
                return
            heading("1 mark" if len(marks) == 1 else f"{len(marks)} marks")
            rows = [(self._where(m), self._word(m, long=True)) for m in marks]
            table(("Where", "Reading"), rows, numeric=(1,))

    def _where(self, mark: Measurement) -> str:
        parts = place_of(mark).parts
        named = ", ".join(
            f"{name} {parts[name]}" for name in ("row", "column", "side") if name in parts
        )
        at = ", ".join(
            f"{shown.quantity(v, Kind.LENGTH, self._view, 1)} {name}"
            for name in ("across", "up")
            if (v := place_of(mark).length(name)) is not None
        )
        return at or named or mark.place

    def _word(self, mark: Measurement, *, long: bool = False) -> str:
        if says_unsteady(mark.note):
            return "unsteady" if long else "~"
        unit = self._view.unit(Kind.SPEED)
        speed = units.from_si(reading_velocity(mark), unit, Kind.SPEED)
        return f"{mark.value} = {speed:.0f} {unit}" if long else f"{speed:.0f}"
