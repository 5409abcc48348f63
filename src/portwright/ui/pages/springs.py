"""Springs and clearances: what nobody checked, loudly, and boxes to record what was measured."""

from __future__ import annotations

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError, Severity
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.quantity import AsTyped
from portwright.services import jobs
from portwright.services.display import Display
from portwright.services.jobs import today
from portwright.services.shop_figures import figures_of
from portwright.services.spring_words import COIL_BIND_NOTE, HEADINGS, spring_pdf, spring_row
from portwright.services.springs import (
    SPRING_QUANTITIES,
    VALVE_QUANTITIES,
    kind_of_check,
    record_spring,
    spring_sheet,
    spring_subject,
)
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.field import Field
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.components.plan_numbers import box_unit
from portwright.ui.layout import heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_INSTRUMENTS = (
    "clay",
    "dial indicator",
    "feeler",
    "height micrometer",
    "light springs and degree wheel",
    "spring tester",
)


@app.get(links.SPRINGS_SHEET, include_in_schema=False)
async def springs_sheet(job: str) -> Response:
    """The sheet as PDF."""

    def set_pages() -> bytes:
        contents, rules = shop_file().job(job), figures_of(shop_file())
        display = Display.of(shop_file().shop())
        return spring_pdf(contents, spring_sheet(contents, rules), display, rules)

    try:
        pdf = await in_thread(set_pages)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return Response(pdf, media_type="application/pdf")


@screen(links.SPRINGS)
async def springs_page(job: str = "") -> None:
    """Open checks first, then where to record them."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("mill.css")}">')
    lines = await in_thread(jobs.search, shop_file(), jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop_file().job, number) if number else None
    with page_frame("Springs and clearances", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.springs)
        if contents is None:
            ui.label("Open a job first.")
            link_button("New job", links.NEW_JOB, "main")
        else:
            _Screen(contents, view)


class _Screen:
    """Instrument and day once for what is recorded next; every reading is stored at once."""

    def __init__(self, contents: JobContents, view: View) -> None:
        self._number, self._view, self._rules = contents.job.number, view, figures_of(shop_file())
        self._state = ui.element("div").classes("stack").props("aria-live=polite")
        with ui.element("section").classes("sheet"):
            heading("Record what was measured")
            ui.label(
                "Without instrument and day nothing counts as checked. Earlier readings stay on "
                "record."
            ).classes("small soft")
            with ui.element("div").classes("fields"):
                self._instrument = Field("Measured with", options=_INSTRUMENTS)
                self._day = Field("Day", today(), kind="date")
            self._groups(contents)
        self._tables = ui.element("div").classes("stack")
        self._show()
        view.on_change(self._show)

    def _groups(self, contents: JobContents) -> None:
        sheet = spring_sheet(contents, self._rules)
        groups = {"Clearances": [c.check.name for c in sheet.clearances]}
        for side in Side:
            ports = [p for p in contents.ports if p.side is side]
            groups[f"{side.value.capitalize()} springs are bought for"] = [
                f"{spring_subject(side)} {q}" for q in SPRING_QUANTITIES
            ]
            groups[f"{side.value.capitalize()} valves"] = [
                f"{p.code} {q}" for p in ports for q in VALVE_QUANTITIES
            ]
        for title, names in groups.items():
            if not names:
                continue
            with ui.element("details").classes("more") as folded:
                if title == "Clearances":
                    folded.props("open")
                with ui.element("summary"):
                    ui.label(title)
                with ui.element("div").classes("fields"):
                    for name in names:
                        self._box(name)

    def _box(self, name: str) -> None:
        async def committed(value: AsTyped) -> Outcome:
            await in_thread(
                lambda: record_spring(
                    shop_file(),
                    self._number,
                    name,
                    value,
                    instrument=self._instrument.value,
                    date=self._day.value,
                )
            )
            self._show()
            return Outcome("", f"{value} recorded")

        kind = kind_of_check(name)
        NumberEntry(
            name,
            kind,
            box_unit(kind, self._view),
            committed,
            keep=f"{self._number}/springs/{name}",
        )

    def _show(self) -> None:
        contents = shop_file().job(self._number)
        sheet = spring_sheet(contents, self._rules)
        self._state.clear()
        with self._state:
            if sheet.open_names:
                with ui.element("div").classes("notice fault"):
                    ui.label("Not checked yet").classes("kind")
                    with ui.element("ul").classes("in-columns"):
                        for name in sheet.open_names:
                            with ui.element("li"):
                                ui.label(name).classes("strong")
            else:
                with ui.element("div").classes("notice"):
                    ui.label(
                        "Every check here has a value, an instrument and a day. The assembler "
                        "judges them."
                    )
            for finding in sheet.findings:
                look = "fault" if finding.severity is Severity.FAULT else "ask"
                with ui.element("div").classes(f"notice {look}"):
                    ui.label(finding.message).classes("strong")
                    ui.label(finding.hint).classes("small")
            link_button("Print the sheet", links.springs_sheet(self._number), "main").props(
                "target=_blank"
            ).style("align-self: flex-start")
        self._tables.clear()
        with self._tables:
            with ui.element("section").classes("sheet"):
                heading("Clearances on record")
                rows = [
                    [c.check.name, c.check.words, f"{c.least.text} ({c.least.tag})"]
                    for c in sheet.clearances
                ]
                table(("Clearance", "Measured", "The shop's least"), rows)
            with ui.element("section").classes("sheet"):
                heading("Springs on record")
                table(HEADINGS, [spring_row(s, self._view.display) for s in sheet.springs])
                ui.label(COIL_BIND_NOTE).classes("small soft")
