"""Valve and seat: numbers on the left, drawing, areas and what it costs on the right."""

from __future__ import annotations

import json
from collections.abc import Callable
from urllib.parse import urlencode

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.services import jobs
from portwright.services.display import Display
from portwright.services.seat_numbers import SIZES, TERMS, VARIED
from portwright.services.seat_plan import SeatPlan, materials, read_seat_numbers, seat_plan
from portwright.services.seat_sheet import seat_pdf, seat_sheet
from portwright.services.shop_figures import figures_of
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage
from portwright.ui.components.field import Field
from portwright.ui.components.number_entry import Outcome
from portwright.ui.components.plan_numbers import PlanNumbers
from portwright.ui.components.seat_answer import seat_answer
from portwright.ui.components.work_parts import work_parts
from portwright.ui.layout import Switch, button, heading, link_button, page_frame, screen
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind, read, typed

_PARTS = ("What to cut", "What it does", "What else moves")
_ROWS = {
    "Cuts above the seat, outwards": "cut above",
    "Cuts below the seat, inwards": "cut below",
    "Back-cuts of the valve, inwards": "back-cut",
}


def _made_of(text: str) -> dict[str, str]:
    pairs = (part.partition("=") for part in text.split(";") if part.strip())
    return {name.strip(): material.strip() for name, _, material in pairs}


@app.get(links.SEAT_SHEET, include_in_schema=False)
async def sheet(
    job: str, port: str = "", stage: str = "", numbers: str = "", made: str = "", show: str = "A"
) -> Response:
    """The machinist's sheet as PDF."""

    def set_pages() -> bytes:
        contents, rules = shop_file().job(job), figures_of(shop_file())
        given = read_seat_numbers(numbers.split(";"))
        plan = seat_plan(contents, port, stage, given, _made_of(made), rules)
        return seat_pdf(contents, plan, show, Display.of(shop_file().shop()), rules)

    try:
        pdf = await in_thread(set_pages)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return Response(pdf, media_type="application/pdf")


@screen(links.SEAT)
async def seat_page(
    job: str = "",
    port: str = "",
    stage: str = "",
    numbers: str = "",
    made: str = "",
    show: str = "A",
    lift: str = "",
) -> None:
    """One port's valve and seat and two alternatives."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("mill.css")}">')
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Valve and seat", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.seat)
            if contents is not None and contents.ports:
                code = port or contents.ports[0].code
                choose_port_and_stage(
                    contents,
                    code,
                    stage,
                    lambda p, s: links.seat(number, p, s),
                    any_stage="newest readings",
                )
        if contents is None:
            ui.label("Open a job first.")
            link_button("New job", links.NEW_JOB, "main")
        elif not contents.ports:
            ui.label("This job has no ports yet. Add them on the job sheet.")
            link_button("Job sheet", links.job_sheet(number), "main")
        else:
            given = read_seat_numbers(numbers.split(";"))
            _Screen(contents, (code, stage), given, _made_of(made), (show, lift), view)


class _Screen:
    """One plan, worked out again with every number; the address keeps it over a reload."""

    def __init__(
        self,
        contents: JobContents,
        place: tuple[str, str],
        given: dict[str, AsTyped],
        made_of: dict[str, str],
        shown: tuple[str, str],
        view: View,
    ) -> None:
        self._contents, self._place, self._view = contents, place, view
        self._given, self._made_of = given, made_of
        self._show_name, self._rules = shown[0], figures_of(shop_file())
        self._lift = read(shown[1], Kind.LENGTH, "mm") if shown[1] else None
        self._plan: SeatPlan | None = None
        self._trouble: PortwrightError | None = None
        try:
            self._plan = self._worked_out(given)
        except PortwrightError as error:
            self._trouble = error
        with ui.element("div").classes("columns wide-right"):
            self._numbers_place = ui.element("div").classes("stack")
            self._answer_place = ui.element("div").classes("mill-answer").props("aria-live=polite")
        self._boxes: PlanNumbers | None = None
        self._entries()
        self._answer()
        view.on_change(self._units_changed)

    def _worked_out(self, given: dict[str, AsTyped]) -> SeatPlan:
        return seat_plan(self._contents, *self._place, given, self._made_of, self._rules)

    def _units_changed(self) -> None:
        self._entries()
        self._answer()

    def _entries(self) -> None:
        known = self._plan.known if self._plan else {}
        groups = {
            "": [t for t in SIZES if t.name in known or t.kind is Kind.LENGTH],
            **{
                title: [
                    TERMS[f"{row} {i} {part}"]
                    for i in range(1, self._rows(row) + 1)
                    for part in ("angle", "width")
                ]
                for title, row in _ROWS.items()
            },
            "Alternative B, where it differs": [TERMS[f"B {n}"] for n in VARIED],
            "Alternative C, where it differs": [TERMS[f"C {n}"] for n in VARIED],
        }
        self._numbers_place.clear()
        with self._numbers_place:
            self._boxes = PlanNumbers(self._view, self._number, groups, "nothing given")
            with ui.element("section").classes("sheet"):
                heading("More")
                with ui.element("div").classes("fields"):
                    for name in ("A", "B", "C"):
                        self._material(name)
                with ui.element("div").classes("row-wrap"):
                    for title, row in _ROWS.items():
                        what = f"{title.split()[0].removesuffix('s')} {' '.join(title.split()[1:])}"
                        button(f"One more {what[0].lower()}{what[1:]}", self._adder(row))
                ui.label("A width of 0 leaves a cut out.").classes("small soft")
        self._boxes.show(known)

    def _rows(self, row: str) -> int:
        known = self._plan.known if self._plan else self._given
        return max(1, *(int(n.split()[-2]) for n in known if n.startswith(f"{row} ")), 1)

    def _adder(self, row: str) -> Callable[[], None]:
        def add() -> None:
            if self._plan is None:
                return
            last = self._rows(row)
            if f"{row} {last + 1} angle" not in TERMS:
                ui.notify(f"{last} cuts in a row are the most.")
                return
            before = self._plan.known[f"{row} {last} angle"].value
            turned = before + (0.26 if row == "cut below" else -0.17)
            angle = f"{min(max(57.29578 * turned, 5.0), 85.0):.0f}"
            given = {
                **self._given,
                f"{row} {last + 1} angle": read(angle, Kind.ANGLE, "deg"),
                f"{row} {last + 1} width": typed(0.0, "mm", Kind.LENGTH),
            }
            self._plan, self._given = self._worked_out(given), given
            self._keep_address()
            self._entries()

        return add

    def _material(self, name: str) -> None:
        def chosen(value: str) -> None:
            self._made_of[name] = value
            self._plan = self._worked_out(self._given)
            self._keep_address()
            self._answer()

        Field(
            f"Valve {name} made of",
            self._made_of.get(name, self._made_of.get("A", "steel")),
            kind="choice",
            options={key: m.name for key, m in materials().items()},
            on_change=chosen,
        )

    def _number(self, name: str, value: AsTyped) -> Outcome:
        given = {**self._given, name: value}
        plan = self._worked_out(given)  # refused: the box says why, all stays
        self._plan, self._trouble, self._given = plan, None, given
        self._keep_address()
        if self._boxes is not None:
            self._boxes.show(plan.known)
        self._answer()
        return Outcome(value.text, "In this plan")

    def _address(self, *, sheet: bool = False) -> str:
        parts = {
            "job": self._contents.job.number,
            "port": self._place[0],
            "stage": self._place[1],
            "numbers": "; ".join(f"{n}={v.text} {v.unit}" for n, v in self._given.items()),
            "made": "; ".join(f"{n}={m}" for n, m in self._made_of.items()),
            "show": self._show_name,
            "lift": str(self._lift) if self._lift and not sheet else "",
        }
        query = urlencode({k: v for k, v in parts.items() if v})
        return f"{links.SEAT_SHEET if sheet else links.SEAT}?{query}"

    def _keep_address(self) -> None:
        here = json.dumps(self._address())
        ui.run_javascript(f"history.replaceState(history.state, '', {here})")

    def _pick(self, name: str) -> None:
        self._show_name = name
        self._keep_address()
        self._answer()

    def _lifted(self, value: AsTyped) -> Outcome:
        self._lift = value
        self._keep_address()
        self._answer()
        return Outcome(value.text, "Drawn at this lift")

    def _answer(self) -> None:
        self._answer_place.clear()
        with self._answer_place:
            if self._plan is None:
                with ui.element("div").classes("notice ask"):
                    ui.label(self._trouble.message if self._trouble else "").classes("strong")
                    ui.label(self._trouble.hint if self._trouble else "")
                return
            names = [a.name for a in self._plan.alternatives]
            if self._show_name not in names:
                self._show_name = "A"
            with ui.element("section").classes("sheet"):
                heading("Drawn and printed")
                with ui.element("div").classes("row-wrap"):
                    Switch("Alternative", {n: n for n in names}, self._show_name, self._pick)
                    link_button("Print the sheet", self._address(sheet=True), "main").props(
                        "target=_blank"
                    )
            seat_answer(self._plan, self._show_name, self._lift, self._lifted, self._view)
            parts = seat_sheet(
                self._contents, self._plan, self._show_name, self._view.display, self._rules
            )
            work_parts(parts, _PARTS)
