"""A sheet into the shop: what was understood row by row, then storing it."""

from __future__ import annotations

import secrets
import tempfile
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import app, ui
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from portwright.errors import InputError, Severity
from portwright.services import jobs as job_service
from portwright.services.importing import (
    MEANINGS,
    SHEET_ENDINGS,
    ColumnUnderstood,
    ImportChoices,
    ImportReport,
    import_sheet,
    preview_sheet,
)
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.sheet_box import SheetBox
from portwright.ui.errors import show_finding
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import form_fits, shop_file
from portwright.ui.work import in_thread

_KEPT = 8  # sheets waiting to be stored; older ones are forgotten
_SAID = (
    ("bench", "Bench", ""),
    ("port", "Port", ""),
    ("stage", "Stage", ""),
    ("date", "Date", "like 2026-04-01"),
    ("casting", "Casting", ""),
    ("test_pressure", "Test pressure", "like 28 inH2O"),
    ("flow_at", "Flow holds at", "like 28 inH2O"),
)


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A sheet sent but not stored yet."""

    path: Path
    folder: tempfile.TemporaryDirectory[str]


_waiting: OrderedDict[str, _Waiting] = OrderedDict()


@app.post(links.SHEET_FILE, include_in_schema=False)
async def take_sheet(request: Request, name: str = "sheet.csv") -> Response:
    """Keep a sheet until it is stored or forgotten; answers with its key."""
    if not form_fits(request.headers.get("x-portwright-form", "")):
        return PlainTextResponse("the page is out of date; reload it.", 403)
    ending = Path(name).suffix.lower()
    if ending not in SHEET_ENDINGS:
        return PlainTextResponse("choose a CSV or XLSX file.", 415)
    folder = tempfile.TemporaryDirectory(prefix="portwright-")
    # only the ending of the sender's name is used for the file itself
    path = Path(folder.name) / f"{_plain(Path(name).stem)}{ending}"
    path.write_bytes(await request.body())
    key = secrets.token_urlsafe(12)
    _waiting[key] = _Waiting(path, folder)
    while len(_waiting) > _KEPT:
        _waiting.popitem(last=False)[1].folder.cleanup()
    return PlainTextResponse(key, 201)


def _plain(text: str) -> str:
    """A name that is safe on every system."""
    kept = "".join(c if c.isalnum() or c in "-_ " else "_" for c in text).strip()[:80]
    return kept or "sheet"


def _sheet(key: str) -> Path:
    waiting = _waiting.get(key)
    if waiting is None:
        raise InputError("This sheet is not at hand any more.", "Choose the file again.")
    return waiting.path


@screen(links.SHEETS)
async def sheets(job: str = "") -> None:
    """Choose a file, see what it says, store it."""
    shop = shop_file()
    lines = await in_thread(job_service.search, shop, job_service.Wanted())
    numbers = sorted(line.job.number for line in lines)
    key = ""
    choices = ImportChoices(job=job)
    said: dict[str, str] = {}  # heading to what the person says it means

    with page_frame("Read a sheet", "jobs"):
        with ui.element("section").classes("sheet"):

            def sent(new: str) -> None:
                nonlocal key
                key = new
                understood.refresh()

            SheetBox(sent)
            heading("What the sheet does not say itself", 3)
            with ui.element("div").classes("fields"):

                def say(**fields: Any) -> None:
                    nonlocal choices
                    choices = replace(choices, **fields)
                    if key:
                        understood.refresh()

                Field("Job", job, options=numbers, on_change=lambda t: say(job=t))
                for name, title, hint in _SAID:
                    Field(title, hint=hint, on_change=partial(_named, say, name))
                Field(
                    "Usual set-up of the bench was mounted",
                    kind="choice",
                    options={"": "not known", "yes": "yes"},
                    on_change=lambda t: say(usual_setup=t == "yes"),
                )

        @ui.refreshable
        async def understood() -> None:
            if not key:
                ui.label("Nothing is stored before you have seen what was understood.").classes(
                    "soft"
                )
                return
            try:
                report = await in_thread(preview_sheet, shop, _sheet(key), choices)
            except InputError as error:
                ui.label(f"{error.message} {error.hint}").classes("strong")
                return
            _understood(report, said, store, mean)

        def mean(heading_text: str, meaning: str) -> None:
            said[heading_text] = meaning
            say(columns=tuple(f"{name}={told}" for name, told in said.items() if told))

        async def store() -> None:
            report = await in_thread(import_sheet, shop, _sheet(key), choices)
            understood_box.clear()
            with understood_box:
                _stored(report, choices.job)

        understood_box = ui.element("div").classes("stack").props("aria-live=polite")
        with understood_box:
            await understood()


def _named(say: Callable[..., None], name: str, text: str) -> None:
    say(**{name: text})


def _understood(
    report: ImportReport,
    said: dict[str, str],
    store: Callable[[], object],
    mean: Callable[[str, str], object],
) -> None:
    with ui.element("section").classes("sheet"):
        heading(f"{report.file}: {report.kind}")
        ui.label(report.why)
        ui.label(f"{report.rows_understood} rows understood, {len(report.refused)} not.")
        for need in report.needs:
            ui.label(f"Missing: {need.reason}.").classes("strong")
        if report.rows and not report.needs:
            button("Store the rows understood", store, "main")
    notes = [f.message for f in report.findings if f.severity is Severity.NOTE]
    for finding in report.findings:
        if finding.severity is not Severity.NOTE:
            show_finding(finding)
    if notes:
        with ui.element("section").classes("sheet"):
            heading("Noted", 3)
            for note in notes:
                ui.label(note).classes("small")
    if report.refused:
        with ui.element("section").classes("sheet"):
            heading("Rows not read", 3)
            rows = [(str(r.row), r.column, r.text, f"{r.reason} {r.hint}") for r in report.refused]
            table(("Row", "Column", "Cell", "Why"), rows)
    with ui.element("section").classes("sheet"):
        heading("Columns", 3)
        _columns([c for c in report.columns if c.heading], said, mean)
        if report.rows:
            heading("Rows", 3)
            table(("Row", "Understood as"), [(str(n), words) for n, words in report.rows[:200]])
        if len(report.rows) > 200:
            ui.label(f"and {len(report.rows) - 200} more").classes("soft")


def _columns(
    columns: list[ColumnUnderstood], said: dict[str, str], mean: Callable[[str, str], object]
) -> None:
    """What every heading was taken for; one that is not clear asks for its meaning."""
    table(("Heading", "Understood as"), [(c.heading, c.meaning) for c in columns])
    for title, wanted in (("Say what these mean", True), ("Say it differently", False)):
        asked = [c for c in columns if c.open is wanted]
        if not asked:
            continue
        with ui.element("details").classes("more").props("open" if wanted else ""):
            with ui.element("summary"):
                ui.label(title)
            with ui.element("div").classes("fields"):
                for column in asked:
                    Field(
                        column.heading,
                        said.get(column.heading, ""),
                        kind="choice",
                        options={"": "as understood"} | {m: m for m in MEANINGS},
                        on_change=partial(mean, column.heading),
                    )


def _stored(report: ImportReport, job: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("Stored")
        counts = [(name.replace("_", " "), str(n)) for name, n in report.added.items()]
        if counts:
            table(("What", "New"), counts, numeric=(1,))
        else:
            ui.label("Nothing new: all of it was there already.")
        for conflict in report.conflicts:
            ui.label(conflict).classes("strong")
        if job:
            link_button("Open the job", links.job(job), "main").style("align-self: flex-start")
