"""Inspection: what was seen, what is suspected, what it commonly means, what waits for a yes."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.model.contents import JobContents
from portwright.services import jobs
from portwright.services.inspection import (
    OTHER,
    PARTS,
    Hint,
    ask_customer,
    inspection,
    observe,
    signs,
)
from portwright.services.inspection_words import HINTS_NOTE, inspection_pdf, seen_together
from portwright.services.shop_figures import figures_of
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.field import Field
from portwright.ui.components.photos import photos
from portwright.ui.layout import button, heading, link_button, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


@app.get(links.INSPECTION_SHEET, include_in_schema=False)
async def inspection_sheet(job: str) -> Response:
    """The sheet as PDF."""

    def set_pages() -> bytes:
        contents, rules = shop_file().job(job), figures_of(shop_file())
        return inspection_pdf(contents, inspection(contents, rules), rules)

    try:
        pdf = await in_thread(set_pages)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return Response(pdf, media_type="application/pdf")


@screen(links.INSPECTION)
async def inspection_page(job: str = "") -> None:
    """A box to record what is seen, and everything seen so far."""
    lines = await in_thread(jobs.search, shop_file(), jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop_file().job, number) if number else None
    with page_frame("Inspection", "measure"):
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.inspection)
        if contents is None:
            ui.label("Open a job first.")
            link_button("New job", links.NEW_JOB, "main")
            return

        @ui.refreshable
        def found() -> None:
            _found(shop_file().job(number), found.refresh)

        with ui.element("div").classes("columns"):
            with ui.element("div").classes("stack"):
                _record(contents, found.refresh)
                photos(contents)
            with ui.element("div").classes("stack").props("aria-live=polite"):
                found()


def _record(contents: JobContents, again: Callable[[], object]) -> None:
    cylinders = sorted({p.cylinder for p in contents.ports if p.cylinder is not None})
    wheres = [*(f"cyl {c}" for c in cylinders), *(f"head {h.code}" for h in contents.heads)]
    with ui.element("section").classes("sheet"):
        heading("Write down what you see")
        with ui.element("div").classes("fields"):
            where = Field("Where", wheres[0] if wheres else "", options=wheres)
            part = Field("Part", PARTS[0], kind="choice", options=PARTS)
            sign = Field("Seen", "", kind="choice", options=["", *signs(), OTHER])
            words = Field("In your words")
            reading = Field("Reading with unit", hint="0.4 mm, 71 HB, 2 bar")
            method = Field("How", hint="depth gauge, penetrant, by eye")
            suspicion = Field("Suspected, if anything", hint="kept apart from what was seen")

        def keep() -> None:
            observe(
                shop_file(),
                contents.job.number,
                f"{where.value} {part.value}".strip(),
                sign.value or OTHER,
                seen=words.value,
                reading=reading.value,
                method=method.value,
                suspicion=suspicion.value,
            )
            for field in (words, reading, suspicion):
                field.set("")
            again()

        button("Keep it", keep, "main").style("align-self: flex-start")


def _found(contents: JobContents, again: Callable[[], object]) -> None:
    number, seen = contents.job.number, inspection(contents, figures_of(shop_file()))
    waiting = [h for h in seen.hints if h.question]
    if waiting:
        with ui.element("section").classes("sheet"):
            heading("Needs the customer's yes")
            for hint in waiting:
                _question(number, hint, again)
            link_button("Job card", links.card(number)).style("align-self: flex-start")
    if seen.limits:
        with ui.element("div").classes("notice ask"):
            ui.label("Beyond the shop's figures").classes("kind")
            for line in seen.limits:
                ui.label(line)
    with ui.element("section").classes("sheet"):
        heading("Seen")
        with ui.element("ul"):
            for (what, method), where in seen_together(seen.observations).items():
                with ui.element("li"):
                    ui.label(what).classes("strong")
                    ui.label(f"{', '.join(where)} ({method})" if method else ", ".join(where))
        if not seen.observations:
            ui.label("Nothing recorded yet.").classes("soft")
    with ui.element("section").classes("sheet"):
        heading("Noted or suspected")
        suspected = [o for o in seen.observations if o.suspicion]
        for item in suspected:
            ui.label(f"{item.place or item.seen}: {item.suspicion}")
        if not suspected:
            ui.label("Nothing.").classes("soft")
    with ui.element("section").classes("sheet"):
        heading("What it commonly means")
        ui.label(HINTS_NOTE).classes("small soft")
        for hint in seen.hints:
            with ui.element("div").classes("notice"):
                ui.label(f"{hint.sign.capitalize()}: {', '.join(hint.places)}").classes("kind")
                ui.label(hint.text)
    link_button("Print the sheet", links.inspection_sheet(number), "main").props(
        "target=_blank"
    ).style("align-self: flex-start")


def _question(number: str, hint: Hint, again: Callable[[], object]) -> None:
    with ui.element("div").classes("notice ask stack"):
        ui.label(hint.question).classes("strong")
        if hint.asked:
            ui.label("Put to the customer: the job card has the answer.").classes("small")
        else:

            def ask(question: str) -> None:
                ask_customer(shop_file(), number, question)
                again()

            button("Put the question", partial(ask, hint.question)).style("align-self: flex-start")
