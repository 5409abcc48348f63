"""Things varied within limits on this engine: every step, or a search for the best."""

from __future__ import annotations

import math

from nicegui import ui

from portwright import units
from portwright.errors import PortwrightError
from portwright.services.engine_knobs import KNOBS, Ranges, knob_range
from portwright.services.engine_study import USUAL_TRIES, Goal, Study, study
from portwright.services.engine_study_wording import NOTE, study_lines
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import Axis, FlowChart, Series, chart_spec
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.errors import show_error, show_finding
from portwright.ui.format import signed_percent
from portwright.ui.layout import button, heading, table
from portwright.ui.state import shop_file

_FIRST = ("lift", "runner", "section", "")
_SHOWN = 10


class _Row:
    """One thing to vary with its limits."""

    def __init__(self, number: int, name: str) -> None:
        things = {"": "nothing", **{n: f"{k.words}{_unit(n)}" for n, k in KNOBS.items()}}
        with ui.element("div").classes("limits").props(f'role=group aria-label="Range {number}"'):
            self._what = Field("Vary", name, kind="choice", options=things, on_change=self._offer)
            self._low = Field("from")
            self._high = Field("to")
        self._offer(name)

    def _offer(self, name: str) -> None:
        low, high = KNOBS[name].limits if name else ("", "")
        self._low.set(f"{low:g}" if name else "")
        self._high.set(f"{high:g}" if name else "")

    def ranges(self) -> Ranges:
        """What is asked for: one range or none.

        Raises
        ------
        NumberError, RangeError
        """
        if not self._what.value:
            return ()
        low, high = (units.parse_number(f.value) for f in (self._low, self._high))
        return (knob_range(KNOBS[self._what.value], low, high),)


def _unit(name: str) -> str:
    unit = KNOBS[name].unit
    return "" if unit == "-" else f" [{'°' if unit == 'deg' else unit}]"


def engine_study(number: str, stage: str) -> None:
    """Limits, two ways to use them, and the result.

    Parameters
    ----------
    number : str
        Job.
    stage : str
        State of the head that is changed.
    """
    with ui.element("section").classes("sheet"):
        heading(f"Find a better combination at {stage}")
        ui.label("By how much each may change. What was tried is kept: a stopped search goes on.")
        with ui.element("div").classes("stack"):
            rows = [_Row(k, name) for k, name in enumerate(_FIRST, start=1)]
        with ui.element("div").classes("fields"):
            goal = Field("Aim for the highest", Goal.TORQUE, kind="choice", options=list(Goal))

        def begin(tries: int | None) -> None:
            try:
                ranges = tuple(r for row in rows for r in row.ranges())
            except PortwrightError as error:
                show_error(error)
                return
            place.clear()
            with place:
                _work(number, stage, ranges, tries, Goal(goal.value))

        with ui.element("div").classes("row-wrap"):
            button(f"Search, about {USUAL_TRIES} tries", lambda: begin(USUAL_TRIES), "main")
            button("Try every step", lambda: begin(None))
        place = ui.element("div").classes("stack")


def _work(number: str, stage: str, ranges: Ranges, tries: int | None, goal: Goal) -> None:
    shop = shop_file()

    def work(say: Told) -> Study:
        def progress(done: int, total: int) -> bool:
            say(f"Tried {done} of about {total}" if tries else f"Tried {done} of {total}")
            return True

        return study(shop, number, ranges, tries=tries, goal=goal, stage=stage, progress=progress)

    SlowWork(f"engine study {shop.path} {number} {stage} {ranges} {tries} {goal}", work, _show)


def _show(found: Study) -> None:
    for line in study_lines(found):
        ui.label(line)
    if len(found.ranges) == 1:
        FlowChart(_spec(found), height="300px")
    headings = [KNOBS[r.name].words for r in found.ranges]
    headings += [f"{n:.0f} rpm" for n in found.speed] + ["change"]
    rows = [
        [
            *(KNOBS[r.name].text(v) for r, v in zip(found.ranges, c.values, strict=True)),
            *(f"{t:.0f} Nm" if math.isfinite(t) else "–" for t in map(float, c.torque)),
            signed_percent(c.gain) if math.isfinite(c.gain) else "–",
        ]
        for c in found.tried[:_SHOWN]
    ]
    table(headings, rows, numeric=range(len(headings)))
    ui.label(NOTE).classes("small soft")
    for finding in found.findings:
        show_finding(finding)


def _spec(found: Study) -> dict[str, object]:
    (only,) = found.ranges
    knob = KNOBS[only.name]
    ordered = sorted(found.tried, key=lambda c: c.values)
    said = study_lines(found)[0]
    return chart_spec(
        f"{found.goal.value} against {knob.words}",
        Axis(f"change of {knob.words}", "°" if knob.unit == "deg" else knob.unit, knob.decimals),
        Axis(f"change of {found.goal.value}", "%", 1),
        [
            Series(
                found.heads.after.stage,
                [c.values[0] for c in ordered],
                [100.0 * c.gain for c in ordered],
            )
        ],
        summary=said,
    )
