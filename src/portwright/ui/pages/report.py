"""The customer's report, as a page and as a PDF."""

from __future__ import annotations

from html import escape

from nicegui import app
from starlette.responses import HTMLResponse, PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services.report import ReportChoices, report_html, report_pdf
from portwright.services.shop_marks import logo_of
from portwright.ui import links
from portwright.ui.files import file_answer
from portwright.ui.plain_page import plain_page
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


@app.get(links.REPORT, include_in_schema=False)
async def report(number: str, length: str = "", language: str = "", names: str = "") -> Response:
    """Set the report of a job and give it to the browser."""
    try:
        choices = ReportChoices(length, language, bool(names))
        pdf = await in_thread(report_pdf, shop_file(), number, choices)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return file_answer(pdf, "application/pdf", f"report-{number}.pdf")


@app.get(links.LOGO, include_in_schema=False)
async def logo() -> Response:
    """The shop's logo."""
    picture = await in_thread(logo_of, shop_file())
    return Response(picture, 200 if picture else 404, media_type="image/png")


@app.get(links.REPORT_PAGE, include_in_schema=False)
async def report_page(
    number: str, length: str = "", language: str = "", names: str = ""
) -> HTMLResponse:
    """The same report as a page."""
    try:
        choices = ReportChoices(length, language, bool(names))
        body = await in_thread(report_html, shop_file(), number, choices)
    except PortwrightError as error:
        words = f"<h1>{escape(error.message)}</h1><p>{escape(error.hint)}</p>"
        return plain_page("No report", words, status=422)
    return plain_page(f"Report {number}", body)
