"""The shop's own gauge study: one reading at a time, then what it says."""

from __future__ import annotations

from nicegui import ui

from portwright.services.gauge_study import Study, Turn, begin, note, studies, take_back, turns
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset


@screen(links.BENCH_STUDY)
def gauge_study_page(bench: str = "") -> None:
    """Plan, readings, result: only the step that comes next."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    codes = [b.code for b in shop_file().benches()]
    code = bench if bench in codes else (codes or [""])[-1]
    with page_frame(f"Repeatability study {code}".strip(), "shop") as view:
        if not code:
            ui.label("There is no bench in this shop yet.")
            link_button("Describe a bench", links.SHOP, "main")
            return
        _Steps(code, view)


class _Steps:
    """The step under way, drawn again after each answer."""

    def __init__(self, code: str, view: View) -> None:
        self._code, self._view = code, view
        self._again = False
        self._draw()

    @ui.refreshable_method
    def _draw(self) -> None:
        found = studies(shop_file(), self._code)
        if not found or self._again:
            self._plan(found[0] if found else None)
        elif (turn := found[0].turn) is not None:
            self._turn(found[0], turn)
        else:
            self._result(found[0])
        older = [s for s in found[1:] if s.turn is None]
        if older:
            self._earlier(older)
        link_button(f"Bench {self._code}", links.bench_health(self._code), "quiet").style(
            "align-self: flex-start"
        )

    def _plan(self, last: Study | None) -> None:
        plan = None if last is None else last.plan
        with ui.element("section").classes("sheet"):
            heading("Step 1: what is read, and by whom")
            ui.label(
                "Two or three persons read the same ports two or three times each, at one lift. "
                "It shows how much of a difference is the port and how much the bench and hands."
            ).classes("soft")
            with ui.element("div").classes("fields"):
                self._what = Field(
                    "What is read",
                    plan.what if plan else "",
                    hint="like: intake flow at 8 mm, 28 inH2O",
                )
                self._persons = Field(
                    "Persons", ", ".join(plan.persons) if plan else "", hint="parted by commas"
                )
                self._ports = Field(
                    "Ports",
                    ", ".join(plan.ports) if plan else "",
                    hint="of one head, like I1, I2, I3; left as they are",
                )
                self._times = Field(
                    "Times each",
                    str(plan.times) if plan else "2",
                    kind="choice",
                    options=("2", "3"),
                )
            button("Begin the study", self._begin, "main").style("align-self: flex-start")

    def _begin(self) -> None:
        begin(
            shop_file(),
            self._code,
            what=self._what.value,
            unit=self._view.choice.flow,
            persons=self._persons.value,
            ports=self._ports.value,
            times=self._times.value,
        )
        self._again = False
        self._draw.refresh()

    def _turn(self, study: Study, turn: Turn) -> None:
        plan = study.plan
        with ui.element("section").classes("sheet"):
            heading(f"Reading {turn.number} of {plan.count}")
            ui.label(f"{turn.person} reads {turn.port}").classes("verdict").props("role=status")
            ui.label(
                f"Take the head off and put {turn.port} over the adapter again. Set the lift to "
                f"zero. Then read: {plan.what}."
            )
            ui.label("Earlier readings stay hidden, so that nobody reads towards them.").classes(
                "small soft"
            )
            value = Field(
                f"Flow [{plan.unit}]",
                kind="number",
                on_enter=lambda text: self._note(text, turn.number),
            )
            if study.values:  # whoever reads on need not touch the box again
                ui.run_javascript(f"document.querySelector('#c{value.id} input')?.focus()")
            with ui.element("div").classes("row-wrap"):
                button("Keep the reading", lambda: self._note(value.value, turn.number), "main")
                if study.values:
                    button("Take the last one back", self._take_back, "quiet")
        with ui.element("section").classes("sheet"):
            heading("Still to come", 3)
            rest = turns(plan)[turn.number : turn.number + 4]
            ui.label(
                "; ".join(f"{t.person} {t.port}" for t in rest) or "This is the last one."
            ).classes("soft")

    def _note(self, text: str, number: int) -> None:
        note(shop_file(), self._code, text, number)
        self._draw.refresh()

    def _take_back(self) -> None:
        take_back(shop_file(), self._code)
        self._draw.refresh()

    def _result(self, study: Study) -> None:
        found, plan = study.result(), study.plan
        if found is None:  # pragma: no cover - a turn is left then
            return
        with ui.element("section").classes("sheet"):
            heading(f"{plan.what}, {plan.begun}")
            ui.label(found.sentence()).classes("verdict").props("role=status")
            ui.label(found.advice())
            table(
                ("What", "Standard deviation", f"[{plan.unit}]"),
                [
                    (name, f"{100 * part / found.mean:.2f} %", f"{part:.2f}")
                    for name, part in (
                        ("one person, one port, again", found.repeatability),
                        ("from person to person", found.persons),
                        ("both: bench and hands", found.bench),
                        ("from port to port", found.ports),
                    )
                ],
                numeric=(1, 2),
            )
            ui.label(
                f"{len(plan.persons)} persons, {len(plan.ports)} ports, {plan.times} times each; "
                f"mean {found.mean:.1f} {plan.unit}. Under 10 % of the spread is good, up to 30 % "
                "usable (common practice)."
            ).classes("small soft")
            button("Begin another study", self._begin_again).style("align-self: flex-start")

    def _begin_again(self) -> None:
        self._again = True
        self._draw.refresh()

    def _earlier(self, older: list[Study]) -> None:
        with ui.element("section").classes("sheet"):
            heading("Earlier studies", 3)
            table(
                ("Begun", "What", "Bench and hands", "Of the spread"),
                [
                    (
                        s.plan.begun,
                        s.plan.what,
                        f"{100 * result.bench / result.mean:.2f} %",
                        f"{100 * result.share:.0f} %",
                    )
                    for s in older
                    if (result := s.result()) is not None
                ],
                numeric=(2, 3),
            )
