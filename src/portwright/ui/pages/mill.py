"""Planning a deck cut: what to reach, what it rests on, what else moves, and the sheet for it."""

from __future__ import annotations

import json
from urllib.parse import urlencode

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import InputError, PortwrightError
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.services import jobs
from portwright.services.compression import MILL_TERMS
from portwright.services.display import Display
from portwright.services.milling import plan_of, read_aim, read_given
from portwright.services.milling_plan import AIM_KINDS, Aim, MillPlan
from portwright.services.milling_sheet import (
    cc_with,
    machinist_sheet,
    ratio_with,
    sheet_pdf,
)
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.components.plan_numbers import PlanNumbers, box_unit
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.components.v_drawing import v_drawing
from portwright.ui.components.work_parts import work_parts
from portwright.ui.layout import Switch, heading, link_button, page_frame, screen
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind, show

PLACE, SHEET = "/mill", "/mill/sheet"
_USED = Outcome("", "In this plan", "saved")
_AIM_WORDS = {Aim.CHAMBER.value: "Chamber", Aim.RATIO.value: "Ratio", Aim.DEPTH.value: "Depth"}
_BOXES = tuple(t for t in MILL_TERMS if t.name not in {"tip rise", "pushrod angle", "rocker ratio"})
_PARTS = ("What else moves", "Instead, by an angle", "Before it runs", "Look at")


def address(
    job: str, aim: str = "", value: str = "", numbers: str = "", *, sheet: bool = False
) -> str:
    """Milling screen, or the sheet of the same plan; ``numbers`` are "name=value unit; ..."."""
    parts = {"job": job, "aim": aim, "value": value, "numbers": numbers}
    query = urlencode({k: v for k, v in parts.items() if v})
    return f"{SHEET if sheet else PLACE}?{query}"


def _asked(aim: str, value: str) -> tuple[Aim | None, AsTyped | None]:
    if not aim:
        return None, None
    if aim not in set(Aim):
        raise InputError(f"'{aim}' is no aim of a cut.", f"Use one of: {', '.join(Aim)}.")
    return Aim(aim), read_aim(Aim(aim), value) if value else None


@app.get(SHEET, include_in_schema=False)
async def mill_sheet(job: str, aim: str = "", value: str = "", numbers: str = "") -> Response:
    """The machinist's sheet as PDF."""

    def made() -> bytes:
        contents = shop_file().job(job)
        plan = plan_of(contents, *_asked(aim, value), read_given(numbers.split(";")))
        return sheet_pdf(contents, plan, Display.of(shop_file().shop()))

    try:
        pdf = await in_thread(made)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return Response(pdf, media_type="application/pdf")


@screen(PLACE)
async def mill_page(job: str = "", aim: str = "", value: str = "", numbers: str = "") -> None:
    """Aim and numbers on the left, what follows on the right."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("mill.css")}">')
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    asked, given = _asked(aim, value), read_given(numbers.split(";"))
    with page_frame("Mill the deck", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, address)
        if contents is None:
            ui.label("Open a job first.")
            link_button("New job", links.NEW_JOB, "main")
        else:
            await thin_walls(contents, view)
            _Screen(contents, asked, given, view)


class _Screen:
    """One plan, worked out again with every number; the address keeps it over a reload."""

    def __init__(
        self,
        contents: JobContents,
        asked: tuple[Aim | None, AsTyped | None],
        given: dict[str, AsTyped],
        view: View,
    ) -> None:
        self._contents, self._given, self._view = contents, given, view
        self._plan: MillPlan | None = None
        self._trouble: PortwrightError | None = None
        try:
            self._plan = plan_of(contents, *asked, given)
        except PortwrightError as error:
            self._trouble = error
        self._aim = asked[0] or (self._plan.target.aim if self._plan else Aim.CHAMBER)
        self._value = asked[1]
        with ui.element("div").classes("columns"):
            with ui.element("div").classes("stack"):
                with ui.element("section").classes("sheet"):
                    heading("What to reach")
                    Switch("Aim", _AIM_WORDS, self._aim.value, self._turn)
                    self._target_place = ui.element("div")
                self._boxes = PlanNumbers(view, self._number, {"": _BOXES})
            self._answer_place = ui.element("div").classes("mill-answer").props("aria-live=polite")
        self._target_box()
        self._show()
        view.on_change(self._units_changed)

    def _units_changed(self) -> None:
        self._target_box()
        self._show()

    def _target_box(self) -> None:
        kind = AIM_KINDS[self._aim]
        unit = box_unit(kind, self._view)
        self._target_place.clear()
        with self._target_place:
            label = f"{self._aim.value[0].upper()}{self._aim.value[1:]} to reach"
            self._target = NumberEntry(label, kind, unit, self._aimed)

    def _reached(self) -> float | None:
        """What the present plan comes to, in the words of the aim. [SI unit of its kind]"""
        if self._plan is None:
            return None
        if self._aim is self._plan.target.aim:
            return self._plan.target.value
        if self._aim is Aim.CHAMBER:
            return self._plan.chamber_after.value
        if self._aim is Aim.DEPTH:
            return self._plan.depth.value
        return self._plan.ratio_after.value if self._plan.ratio_after else None

    def _turn(self, choice: str) -> None:
        """The same cut asked for the other way: its result becomes the aim."""
        self._aim = Aim(choice)
        kind, reached = AIM_KINDS[self._aim], self._reached()
        unit = box_unit(kind, self._view)
        self._target_box()
        if reached is None:
            self._show()
            return
        # four digits behind the point keep the cut where it was when asked the other way
        value = read_aim(self._aim, f"{show(reached, unit, kind, 4)} {unit}")
        self._again(self._aim, value, self._given)

    def _aimed(self, value: AsTyped) -> Outcome:
        return self._again(self._aim, value, self._given)

    def _number(self, name: str, value: AsTyped) -> Outcome:
        aim = self._aim if self._value is not None else None
        return self._again(aim, self._value, {**self._given, name: value})

    def _again(self, aim: Aim | None, value: AsTyped | None, given: dict[str, AsTyped]) -> Outcome:
        plan = plan_of(self._contents, aim, value, given)  # refused: the box says why, all stays
        self._plan, self._trouble, self._value, self._given = plan, None, value, given
        self._keep_address()
        self._show()
        shown = value.text if value is not None else ""
        return Outcome(shown, _USED.say, _USED.state)

    def _keep_address(self) -> None:
        here = json.dumps(self._address())
        ui.run_javascript(f"history.replaceState(history.state, '', {here})")

    def _address(self, *, sheet: bool = False) -> str:
        numbers = "; ".join(f"{n}={v.text} {v.unit}" for n, v in self._given.items())
        aim = self._aim.value if self._value is not None else ""
        value = f"{self._value.text} {self._value.unit}" if self._value is not None else ""
        return address(self._contents.job.number, aim, value, numbers, sheet=sheet)

    def _show(self) -> None:
        self._answer_place.clear()
        if self._plan is None:
            with self._answer_place, ui.element("div").classes("notice ask"):
                ui.label(self._trouble.message if self._trouble else "").classes("strong")
                ui.label(self._trouble.hint if self._trouble else "")
            return
        plan = self._plan
        kind = AIM_KINDS[self._aim]
        reached = self._reached()
        if reached is not None:
            unit = box_unit(kind, self._view)
            text = show(reached, unit, kind)
            self._target.show(text, unit, hint=f"{plan.target.origin.value}: {plan.target.note}")
        self._boxes.show(plan.known)
        with self._answer_place:
            self._results(plan)

    def _length(self, value: float) -> str:
        unit = self._view.display.small_length
        return f"{show(abs(value), unit, Kind.LENGTH, 1 if unit == 'thou' else 2)} {unit}"

    def _results(self, plan: MillPlan) -> None:
        depth = f"{self._length(plan.depth.value)} ± {self._length(2 * plan.depth.uncertainty)}"
        facts = {
            "Deck to take off": depth,
            "Chamber after": cc_with(plan.chamber_after),
            "Compression before": ratio_with(plan.ratio_before),
            "Compression after": ratio_with(plan.ratio_after),
        }
        if plan.face_cut is not None and plan.manifold_drop is not None:
            missing = " missing" if plan.face_cut.value < 0.0 else ""
            rises = "Manifold rise" if plan.manifold_drop.value < 0.0 else "Manifold drop"
            facts["Intake face cut"] = self._length(plan.face_cut.value) + missing
            facts[rises] = self._length(plan.manifold_drop.value)
        with ui.element("section").classes("sheet"):
            heading("The cut")
            with ui.element("dl").classes("facts"):
                for name, text in facts.items():
                    with ui.element("dt"):
                        ui.label(name)
                    with ui.element("dd"):
                        ui.label(text).classes("number")
            ui.label("± holds the true value about 19 times of 20.").classes("small soft")
            sheet = self._address(sheet=True)
            link_button("Print the sheet", sheet, "main").props("target=_blank")
        if plan.face and plan.face_cut and plan.manifold_drop:
            v_drawing(
                plan.face.half_angle,
                plan.face.face_tilt,
                depth=plan.depth.value,
                cut=plan.face_cut.value,
                drop=plan.manifold_drop.value,
                labels=(
                    f"deck {self._length(plan.depth.value)}",
                    f"face {facts['Intake face cut']}",
                    f"{rises.removeprefix('Manifold ')} {facts[rises]}",
                ),
            )
            ui.label(
                "Drawn to the angles, the cuts enlarged: dashed before, solid after, the face cut "
                "filled. Bore and face lean away from the valley "
                "at their tops; a face that leans inwards at its top has a negative tilt."
            ).classes("small soft")
        work_parts(machinist_sheet(self._contents, plan, self._view.display), _PARTS)
