"""The customer's pages as a PDF."""

from __future__ import annotations

from nicegui import app
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services.report import report_bytes
from portwright.ui import links
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


@app.get(links.REPORT, include_in_schema=False)
async def report(number: str, length: str = "") -> Response:
    """Set the report of a job and give it to the browser."""
    try:
        pdf = await in_thread(report_bytes, shop_file(), number, length=length)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    name = "".join(c if c.isalnum() or c in "-_" else "_" for c in number)
    return Response(
        pdf,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="report-{name}.pdf"'},
    )
