"""The customer's report, as a page and as a PDF."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from html import escape

from nicegui import app
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services.report import ReportChoices, report_html, report_pdf
from portwright.services.shop_marks import logo_of, set_logo
from portwright.ui import links
from portwright.ui.files import file_answer
from portwright.ui.plain_page import plain_page
from portwright.ui.state import form_fits, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread


@dataclass(slots=True, eq=False)
class _Making:
    """A report under way; every browser that asks for the same waits for the same."""

    task: asyncio.Task[bytes] | None = None
    said: str = "Beginning"

    def told(self, words: str) -> None:
        """Called by the work between its steps, in its own thread."""
        self.said = words

    @property
    def words(self) -> str:
        """What is being done, for a person."""
        return f"{self.said} …"


_making: dict[tuple[str, ReportChoices], _Making] = {}
_PATIENCE = 2.0  # s after which a person is told what is going on


@app.get(links.REPORT, include_in_schema=False)
async def report(request: Request, number: str, length: str = "", language: str = "") -> Response:
    """Set the report of a job and give it to the browser; say how far it is if that takes long."""
    key = (number, ReportChoices(length, language))
    making = _making.setdefault(key, _Making())
    if making.task is None:
        work = in_thread(report_pdf, shop_file(), *key, making.told)
        making.task = asyncio.create_task(work)
    waits = "text/html" in request.headers.get("accept", "")  # a browser, not a program
    await asyncio.wait({making.task}, timeout=_PATIENCE if waits else None)
    if not making.task.done():
        look = escape(links.report_progress(number, length, language))
        words = (
            "<h1>The report is being made</h1>"
            f'<p role="status" data-look="{look}">{escape(making.words)}</p>'
            '<progress aria-label="Report under way"></progress>'
        )
        scripts = f'<script src="{asset("waiting.js")}" defer></script>'
        return plain_page("Report", words, status=202, scripts=scripts)
    _making.pop(key, None)
    try:
        pdf = making.task.result()
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return file_answer(pdf, "application/pdf", f"report-{number}.pdf")


@app.get(links.REPORT_PROGRESS, include_in_schema=False)
async def progress(number: str, length: str = "", language: str = "") -> PlainTextResponse:
    """How far a report is; another status than 202 once there is nothing to wait for."""
    making = _making.get((number, ReportChoices(length, language)))
    if making is None or making.task is None or making.task.done():
        return PlainTextResponse("ready", 200)
    return PlainTextResponse(making.words, 202)


@app.get(links.LOGO, include_in_schema=False)
async def logo() -> Response:
    """The shop's logo."""
    picture = await in_thread(logo_of, shop_file())
    return Response(picture, 200 if picture else 404, media_type="image/png")


@app.post(links.LOGO, include_in_schema=False)
async def take_logo(request: Request, name: str = "The logo") -> Response:
    """Keep a picture as the shop's logo."""
    if not form_fits(request.headers.get("x-portwright-form", "")):
        return PlainTextResponse("the page is out of date; reload it.", 403)
    try:
        await in_thread(set_logo, shop_file(), await request.body(), name[:120])
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return PlainTextResponse("kept", 201)


@app.get(links.REPORT_PAGE, include_in_schema=False)
async def report_page(number: str, length: str = "", language: str = "") -> HTMLResponse:
    """The same report as a page."""
    try:
        choices = ReportChoices(length, language)
        body = await in_thread(report_html, shop_file(), number, choices)
    except PortwrightError as error:
        words = f"<h1>{escape(error.message)}</h1><p>{escape(error.hint)}</p>"
        return plain_page("No report", words, status=422)
    return plain_page(f"Report {number}", body)
