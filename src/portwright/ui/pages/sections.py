"""Sections along a port, measured with calipers: the shape is chosen, its sizes typed."""

from __future__ import annotations

from nicegui import ui

from portwright import units
from portwright.errors import InputError, PortwrightError
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.services import jobs, section_entry
from portwright.services.landmarks import LANDMARKS
from portwright.services.port_limits import limits_of
from portwright.services.section_entry import KeptSection, SectionEntry, Shape, sizes_of
from portwright.services.stations import STANDING
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.ask_reason import ask_reason
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage, chosen_place
from portwright.ui.components.field import Field
from portwright.ui.components.section_drawing import section_drawing
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.layout import button, heading, link_button, page_frame, raw, screen
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

_STANDING = {
    "guide diameter": ("Guide, boss or stem: diameter", Kind.LENGTH),
    "exposed guide length": ("its length in this plane", Kind.LENGTH),
    "blocked area": ("Boss: area it takes away", Kind.AREA),
}


@screen(links.SECTIONS)
async def sections_page(job: str = "", port: str = "", stage: str = "") -> None:
    """Type in the sections of a port."""
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Sections", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.sections)
            if contents is not None and contents.ports and contents.stages:
                at, when = chosen_place(contents, port, stage)
                choose_port_and_stage(contents, at, when, lambda p, s: links.sections(number, p, s))
        if contents is None or not contents.ports or not contents.stages:
            ui.label("Open a job with ports and stages first.")
            link_button("Jobs", links.JOBS, "main")
            return
        await thin_walls(contents, view, at)
        _Screen(contents, at, when, view)


class _Screen:
    """Sections of one port at one stage."""

    def __init__(self, contents: JobContents, port: str, stage: str, view: View) -> None:
        self._job, self._port, self._stage, self._view = contents.job.number, port, stage, view
        self._shape = Shape.RECTANGLE
        self._texts: dict[str, str] = {}
        self._limits = limits_of(shop_file())
        with ui.element("section").classes("sheet"):
            heading(f"Sections of {port} at {stage}")
            self._list = ui.element("div").classes("stack").props("aria-live=polite")
        self._form = ui.element("section").classes("sheet")
        self._build()
        self._refresh(contents)
        with ui.element("div").classes("row-wrap"):
            link_button("Where to cut next", links.port(self._job, port, stage), "main")
            link_button("Read a scan", links.scan(self._job, port, stage))
            link_button("Measure on a photo", links.trace(self._job))
        view.on_change(self._switch)

    def _switch(self) -> None:
        self._texts.clear()
        self._build()
        self._refresh(shop_file().job(self._job))

    def _refresh(self, contents: JobContents) -> None:
        self._list.clear()
        kept = section_entry.kept_sections(contents, self._port, self._stage)
        with self._list:
            if not kept:
                ui.label("None yet. Landmarks of the Measure screen count as well.").classes("soft")
            for one in kept:
                self._line(one)

    def _line(self, kept: KeptSection) -> None:
        at = "" if kept.distance is None else shown.typed(kept.distance, Kind.LENGTH, self._view)
        where = ", ".join(t for t in (kept.landmark, f"{at} from the opening" if at else "") if t)
        with ui.element("div").classes("row-wrap"):
            ui.label(where).classes("strong")
            if kept.shape is None:
                ui.label("area from a slice, trace or scan")
                return
            entry = SectionEntry(
                kept.shape, kept.sizes, kept.landmark, kept.distance, kept.standing
            )
            try:
                ui.label(f"{kept.shape.value}: {self._area(entry)}")
            except PortwrightError as error:
                ui.label(f"{kept.shape.value}: {error.message}")
            button("Change", lambda kept=kept: self._take(kept), "quiet").props(
                f'aria-label="Change the section {where}"'
            )

    def _area(self, entry: SectionEntry) -> str:
        found = section_entry.figures_of(entry, self._limits)
        area = shown.number(found.area, Kind.AREA, self._view)
        doubt = shown.quantity(2.0 * found.uncertainty, Kind.AREA, self._view)
        return f"{area} ± {doubt}"

    def _take(self, kept: KeptSection) -> None:
        """Put a kept section into the form."""
        if kept.shape is None:
            return
        self._shape = kept.shape
        self._texts = {
            name: shown.typed_number(value, Kind.LENGTH, self._view)
            for name, value in kept.sizes.items()
        }
        for quantity, value in kept.standing.items():
            self._texts[quantity] = shown.typed_number(value, _STANDING[quantity][1], self._view)
        self._texts["landmark"] = kept.landmark
        if kept.distance is not None:
            self._texts["distance"] = shown.typed_number(kept.distance, Kind.LENGTH, self._view)
        self._build()

    def _build(self) -> None:
        self._form.clear()
        length = self._view.unit(Kind.LENGTH)
        with self._form:
            heading("Measure a section")
            with ui.element("div").classes("fields"):
                Field(
                    "Shape",
                    self._shape.value,
                    kind="choice",
                    options=[s.value for s in Shape],
                    on_change=self._choose,
                )
                self._field("landmark", "Landmark", {"": "none"} | {n: n for n in LANDMARKS})
                self._field("distance", f"From the opening, {length}",
                            hint="along the middle of the port")  # fmt: skip
            with ui.element("div").classes("columns"):
                self._sizes = ui.element("div").classes("fields")
                self._drawing = ui.element("div")
            with (
                ui.expansion(
                    "Guide, boss or stem in this plane",
                    value=any(self._texts.get(q) for q in STANDING),
                ).classes("fold"),
                ui.element("div").classes("fields"),
            ):
                for quantity, (words, kind) in _STANDING.items():
                    unit = units.sign(self._view.unit(kind))
                    self._field(quantity, f"{words}, {unit}")
            self._said = ui.label().classes("strong").props("aria-live=polite")
            self._more = ui.label().classes("small soft")
            button("Keep this section", self._keep, "main").style("align-self: flex-start")
        self._build_sizes()

    def _build_sizes(self) -> None:
        """Boxes of the shape; the rest of the form stays as it is being filled."""
        self._sizes.clear()
        with self._sizes:
            for name in sizes_of(self._shape):
                unit = self._view.unit(Kind.LENGTH)
                self._field(name, f"{name[0].upper()}{name[1:]}, {unit}")
        self._preview()

    def _field(
        self, name: str, label: str, options: dict[str, str] | None = None, hint: str = ""
    ) -> None:
        def changed(text: str) -> None:
            self._texts[name] = text
            self._preview()

        Field(
            label,
            self._texts.get(name, ""),
            kind="choice" if options else "number",
            options=options or (),
            hint=hint,
            on_change=changed,
        )

    def _choose(self, name: str) -> None:
        self._shape = section_entry.shape_named(name)
        self._build_sizes()

    def _number(self, name: str, kind: Kind = Kind.LENGTH) -> AsTyped | None:
        text = self._texts.get(name, "").strip()
        if not text:
            return None
        try:
            return units.read(text, kind, self._view.unit(kind))
        except InputError as error:
            raise InputError(f"{name[0].upper()}{name[1:]}: {error.message}", error.hint) from error

    def _known(self) -> dict[str, AsTyped]:
        found = {}
        for name in sizes_of(self._shape):
            if (value := self._number(name)) is not None:
                found[name] = value
        return found

    def _entry(self) -> SectionEntry:
        standing = {}
        for quantity, (_, kind) in _STANDING.items():
            if (value := self._number(quantity, kind)) is not None:
                standing[quantity] = value
        return SectionEntry(
            self._shape,
            self._known(),
            self._texts.get("landmark", ""),
            self._number("distance"),
            standing,
        )

    def _preview(self) -> None:
        said, more, sizes = "", "", {}
        try:
            sizes = self._known()
            entry = self._entry()
            if len(sizes) == len(sizes_of(self._shape)):
                found = section_entry.figures_of(entry, self._limits)
                said = f"Area {self._area(entry)}"
                x, y = (shown.number(v, Kind.LENGTH, self._view, 1) for v in found.centroid)
                more = (
                    f"Perimeter {shown.quantity(found.perimeter, Kind.LENGTH, self._view, 1)}, "
                    "hydraulic diameter "
                    f"{shown.quantity(found.hydraulic_diameter, Kind.LENGTH, self._view, 1)}, "
                    f"centroid {x} across and {y} up. The ± is the error of calipers and radius "
                    "gauge, 95 %."
                )
        except PortwrightError as error:
            said, more = error.message, error.hint
        self._said.set_text(said)
        self._more.set_text(more)
        self._drawing.clear()
        with self._drawing:
            outline = section_entry.drawing_of(self._shape, sizes)
            label = f"{self._shape.value} with its sizes"
            raw(section_drawing(outline, sizes_of(self._shape), label))

    async def _keep(self) -> None:
        shop, entry = shop_file(), self._entry()
        place = (self._job, self._port, self._stage)
        contents, reason = await in_thread(shop.job, self._job), ""
        changes = section_entry.change_words(contents, self._port, self._stage, entry)
        if changes:
            reason = await ask_reason(changes)
            if not reason:
                return
        await in_thread(section_entry.record_section, shop, *place, entry, reason)
        ui.notify(f"Kept with {self._port} at {self._stage}.")
        self._texts = {}
        self._build()
        self._refresh(await in_thread(shop.job, self._job))
