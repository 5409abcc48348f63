"""Room for valves: largest pair, wall, neighbour and piston, always to be checked physically."""

from __future__ import annotations

from urllib.parse import urlencode

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services import jobs
from portwright.services.display import Display
from portwright.services.head_facts import lean_reminder
from portwright.services.room import RoomPlan, room_plan
from portwright.services.room_numbers import GROUPS, read_room_numbers
from portwright.services.room_words import (
    ESTIMATE,
    map_headings,
    map_rows,
    room_drawing,
    room_parts,
    room_pdf,
)
from portwright.services.shop_figures import figures_of
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.plan_page import PlanPage
from portwright.ui.components.work_parts import work_parts
from portwright.ui.layout import heading, link_button, page_frame, raw, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_PARTS = ("Room", "Look at")


def _address(job: str, numbers: str, *, sheet: bool = False) -> str:
    query = urlencode({k: v for k, v in {"job": job, "numbers": numbers}.items() if v})
    return f"{links.ROOM_SHEET if sheet else links.ROOM}?{query}"


@app.get(links.ROOM_SHEET, include_in_schema=False)
async def room_sheet(job: str, numbers: str = "") -> Response:
    """The sheet as PDF."""

    def set_pages() -> bytes:
        contents, rules = shop_file().job(job), figures_of(shop_file())
        plan = room_plan(contents, read_room_numbers(numbers.split(";")), rules)
        return room_pdf(contents, plan, Display.of(shop_file().shop()), rules)

    try:
        pdf = await in_thread(set_pages)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return Response(pdf, media_type="application/pdf")


@screen(links.ROOM)
async def room_page(job: str = "", numbers: str = "") -> None:
    """One cylinder's valves in their bore."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("mill.css")}">')
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Room for valves", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.room)
        if contents is None:
            ui.label("Open a job first.")
            link_button("New job", links.NEW_JOB, "main")
            return
        rules = figures_of(shop)
        if reminder := await in_thread(lean_reminder, shop, contents):
            ui.label(reminder).classes("soft")

        def show(plan: RoomPlan, typed: str) -> None:
            with ui.element("div").classes("notice ask"):
                ui.label("Check physically").classes("kind")
                ui.label(ESTIMATE)
            work_parts(room_parts(contents, plan, view.display, rules), _PARTS)
            _drawn(plan, view, _address(number, typed, sheet=True))

        PlanPage(
            view,
            read_room_numbers(numbers.split(";")),
            {title: list(terms) for title, terms in GROUPS.items()},
            work_out=lambda given: room_plan(contents, given, rules),
            known=lambda plan: plan.known,
            show=show,
            address=lambda typed: _address(number, typed),
            opened=("Intake valve", "Exhaust valve"),
        )


def _drawn(plan: RoomPlan, view: View, sheet: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("To scale")
        drawing = room_drawing(plan)
        if drawing:
            raw(drawing, "figure").classes("drawing plan room")
            ui.label("From below, the crank along the dashed line.").classes("small soft")
        else:
            ui.label("Give bore, valve diameters and offsets to see them drawn.").classes("soft")
        link_button("Print the sheet", sheet, "main").props("target=_blank")
    for wall in plan.walls:
        with ui.element("section").classes("sheet"):
            heading(f"{wall.side.value.capitalize()} valve to bore wall")
            ui.label(
                f"Gap in {view.display.small_length} round the head at each lift; 0° is where the "
                "head leans as it opens."
            ).classes("small soft")
            table(
                (f"Lift {view.display.length}", *map_headings(), "shrouded"),
                map_rows(wall, view.display),
            )
