"""The job card: start and stop work, what waits for the customer's yes, parts, quote, invoice."""

from __future__ import annotations

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services import billing
from portwright.services.bill_paper import bill_pdf
from portwright.services.job_card import JobCard, job_card
from portwright.services.money import hours_text
from portwright.ui import links
from portwright.ui.components.card_bills import bills
from portwright.ui.components.card_holds import holds
from portwright.ui.components.card_work import add_work, parts, work
from portwright.ui.files import file_answer
from portwright.ui.layout import link_button, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


@app.get(links.BILL, include_in_schema=False)
async def bill_file(job: str, number: str) -> Response:
    """A quote or invoice as PDF; "quote" and "invoice" without a number are drafts."""

    def made() -> bytes:
        shop = shop_file()
        if number == "quote":
            bill = billing.draft_quote(shop, job)
        elif number == "invoice":
            bill = billing.draft_invoice(shop, job)
        else:
            bill = billing.stored_bill(shop, job, number)
        return bill_pdf(shop, bill)

    try:
        pdf = await in_thread(made)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return file_answer(pdf, "application/pdf", f"{number}-{job}.pdf")


@screen(links.CARD)
async def card_page(job: str) -> None:
    """Work on the left; questions, parts and money on the right."""
    first = await in_thread(job_card, shop_file(), job)
    with page_frame(f"Job card {job}", "jobs"):
        with ui.element("div").classes("row-wrap"):
            link_button("Job", links.job(job), "quiet")

        @ui.refreshable
        def whole(card: JobCard) -> None:
            def again() -> None:
                whole.refresh(job_card(shop_file(), job))

            _sums(card)
            with ui.element("div").classes("columns"):
                with ui.element("div").classes("stack"):
                    work(card, again)
                    add_work(card, again)
                with ui.element("div").classes("stack"):
                    holds(card, again)
                    parts(card, again)
                    bills(card, again)

        whole(first)


def _sums(card: JobCard) -> None:
    said = (
        ("Quoted", f"{hours_text(card.quoted)} h"),
        ("Worked", f"{hours_text(card.actual)} h"),
        ("Not billed yet", f"{hours_text(card.unbilled)} h"),
        ("Waiting for a yes", str(len(card.waiting))),
    )
    running = [o.name for o in card.operations if o.running_since]
    if running:
        ui.label(f"The clock runs on: {', '.join(running)}").classes("notice good strong").props(
            "role=status"
        )
    with ui.element("dl").classes("facts wide"):
        for name, value in said:
            with ui.element("div"):
                with ui.element("dt"):
                    ui.label(name)
                with ui.element("dd"):
                    ui.label(value)
    if card.quoted and card.actual > card.quoted:
        over = 100 * (card.actual - card.quoted) / card.quoted
        ui.label(
            f"The work has taken {over:.0f} % more hours than quoted. "
            "Ask before the bill surprises anybody."
        ).classes("notice ask").props("role=status")
