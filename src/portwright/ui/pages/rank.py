"""How good is it: a head among all of its class."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from urllib.parse import urlencode

from nicegui import ui

from portwright.model.head import Side
from portwright.services import jobs
from portwright.services.classes import HeadClass, classes, remember
from portwright.services.compare import archive_pressure
from portwright.services.head_facts import known_locations
from portwright.services.rank import Ranking, cloud, rank
from portwright.services.rank_spots import Measure
from portwright.services.rank_wording import headline, place_sentence, share_cells, value_text
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import Axis, FlowChart, Series, chart_spec
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

PLACE = links.RANK
_PART = ";"


def address(job: str = "", name: str = "", by: str = "", **facts: str) -> str:
    """Rank screen; ``facts`` are fields of the class as text."""
    given = {"job": job, "name": name, "by": by, **facts}
    kept = {k: v for k, v in given.items() if v}
    return f"{PLACE}?{urlencode(kept)}" if kept else PLACE


@screen(PLACE)
async def rank_page(
    job: str = "",
    name: str = "",
    by: str = "",
    side: str = "",
    valves: str = "",
    low: str = "",
    high: str = "",
    flat: str = "",
    steep: str = "",
    location: str = "",
    casting: str = "",
    words: str = "",
    received: str = "",
    lifts: str = "",
) -> None:
    """Which head and which class above; where it stands below."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    lines = [ln for ln in await in_thread(jobs.search, shop, jobs.Wanted()) if ln.runs]
    known = {c.name: c for c in classes(shop)}
    places = await in_thread(known_locations, shop)
    typed = HeadClass(
        side=side if side in set(Side) else Side.INTAKE.value,
        valves=int(valves) if valves.isdigit() else None,
        valve_from=low,
        valve_to=high,
        angle_from=flat,
        angle_to=steep,
        location=location,
        casting=casting,
        words=words,
        finished=not received,
        lifts=tuple(part.strip() for part in lifts.split(_PART) if part.strip()),
    )
    chosen = known.get(name, typed)
    measure = Measure(by) if by in set(Measure) else Measure.PER_VALVE_AREA
    number = job or next((ln.job.number for ln in lines), "")
    with page_frame("Rank", "rank") as view:
        if not number:
            ui.label("There are no sweeps in this shop yet.")
            return
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, lambda new: address(new, name, by, **_facts(typed)))
            Field(
                "By",
                measure.value,
                kind="choice",
                options=[m.value for m in Measure],
                on_change=lambda new: ui.navigate.to(address(number, name, new, **_facts(typed))),
            )
            if known:
                Field(
                    "Class",
                    name,
                    kind="choice",
                    options={"": "by the facts below", **{n: n for n in known}},
                    on_change=lambda new: ui.navigate.to(address(number, new, measure.value)),
                )
        _class_box(number, chosen, measure, places)
        _answer(number, chosen, measure, view)


def _facts(of: HeadClass) -> dict[str, str]:
    return {
        "side": of.side,
        "valves": str(of.valves or ""),
        "low": of.valve_from,
        "high": of.valve_to,
        "flat": of.angle_from,
        "steep": of.angle_to,
        "location": of.location,
        "casting": of.casting,
        "words": of.words,
        "received": "" if of.finished else "1",
        "lifts": _PART.join(of.lifts),
    }


def _class_box(number: str, chosen: HeadClass, measure: Measure, locations: Sequence[str]) -> None:
    with ui.element("details").classes("more"):
        with ui.element("summary"):
            ui.label(f"Class: {chosen.name or chosen.describe()}")
        with ui.element("div").classes("sheet"):
            with ui.element("div").classes("fields"):
                side = Field("Side", chosen.side, kind="choice", options=[s.value for s in Side])
                valves = Field(
                    "Valves of one port",
                    str(chosen.valves or ""),
                    kind="choice",
                    options={"": "any", "1": "1", "2": "2", "3": "3"},
                )
                low = Field("Valve size from", chosen.valve_from, hint="like 41 mm")
                high = Field("Valve size to", chosen.valve_to, hint="like 43 mm")
                flat = Field("Valve angle from", chosen.angle_from, hint="like 10 deg")
                steep = Field("Valve angle to", chosen.angle_to, hint="like 14 deg")
                location = Field(
                    "Port location",
                    chosen.location,
                    kind="choice",
                    options={"": "any"}
                    | {w: w for w in dict.fromkeys([*locations, chosen.location]) if w},
                )
                casting = Field("Casting", chosen.casting)
                words = Field(
                    "Words on the job sheet",
                    chosen.words,
                    hint="architecture, your own tags",
                )
                received = Field(
                    "Compared with heads",
                    "" if chosen.finished else "1",
                    kind="choice",
                    options={"": "finished", "1": "as received"},
                )
                lifts = Field(
                    "Key lifts",
                    "; ".join(chosen.lifts),
                    hint="like 8 mm; 0.25 L/D; highest lift",
                )
                name = Field("Remember this class as", chosen.name)

            def made() -> HeadClass:
                return replace(
                    HeadClass(),
                    side=side.value,
                    valves=int(valves.value) if valves.value else None,
                    valve_from=low.value.strip(),
                    valve_to=high.value.strip(),
                    angle_from=flat.value.strip(),
                    angle_to=steep.value.strip(),
                    location=location.value,
                    casting=casting.value.strip(),
                    words=words.value.strip(),
                    finished=not received.value,
                    lifts=tuple(p.strip() for p in lifts.value.split(_PART) if p.strip()),
                )

            def show() -> None:
                ui.navigate.to(address(number, "", measure.value, **_facts(made())))

            def keep() -> None:
                kept = remember(shop_file(), made(), name.value)
                ui.navigate.to(address(number, kept.name, measure.value))

            with ui.element("div").classes("row-wrap"):
                button("Rank in this class", show, "main")
                button("Remember the class", keep)
                link_button(f"Valve angle and port location of {number}", links.job_sheet(number))


def _answer(number: str, chosen: HeadClass, measure: Measure, view: View) -> None:
    shop = shop_file()

    def work(told: Told) -> tuple[Ranking, float]:
        told("Looking through the shop")
        found = rank(shop, number, chosen, measure=measure, told=told)
        return found, archive_pressure(shop)

    def show(answer: tuple[Ranking, float]) -> None:
        @ui.refreshable
        def result() -> None:
            _show(*answer, view)

        result()
        view.on_change(result.refresh)

    SlowWork(f"rank {number} {chosen} {measure}", work, show)


def _show(found: Ranking, pressure: float, view: View) -> None:
    display, best = view.display, headline(found)
    with ui.element("section").classes("sheet"):
        heading("How good is it?")
        said = (
            "No other head of this class was swept where this one was."
            if best is None
            else place_sentence(found, best, pressure, display)
        )
        ui.label(said).classes("verdict")
        ui.label(
            f"{found.job}, {found.label}, on {found.bench}; among {found.head_class.describe()}."
        ).classes("soft")
        if best is not None and best.jobs:
            with ui.element("div").classes("row-wrap"):
                ui.label("Reached it:")
                for job in dict.fromkeys(best.jobs[:6]):
                    link_button(job, links.job(job), "quiet")
        for finding in found.findings:
            with ui.element("div").classes("notice ask"):
                ui.label(finding.message)
                if finding.hint:
                    ui.label(finding.hint).classes("soft")
    with ui.element("section").classes("sheet"):
        heading("Its curve among its class")
        _chart(found, said)
    with ui.element("section").classes("sheet"):
        heading("Numbers")
        table(
            ("At", found.measure.value.capitalize(), "Better than", "95 %", "Heads", "Reached it"),
            [_row(found, k, pressure, view) for k in range(len(found.places))],
            numeric=(1, 2, 3, 4, 5),
        )
        ui.label(
            "Better than: the share of all heads of this kind that would flow less. The interval "
            "says how far that may be off with so few heads and their errors of measurement."
        ).classes("small soft")


def _row(found: Ranking, place: int, pressure: float, view: View) -> tuple[str, ...]:
    at = found.places[place]
    value = (
        value_text(found.measure, at.value, pressure, view.display)
        if math.isfinite(at.value)
        else "–"
    )
    return at.at, value, *share_cells(at.standing)


def _chart(found: Ranking, said: str) -> None:
    own, others = cloud(found)
    series = [Series(c.name, c.ratio, c.value, quiet=True) for c in others]
    series.append(Series(f"{found.job}, this head", own.ratio, own.value))
    unit = {"flow": "mm²", "flow per valve area": "-", "coefficient against L/D": "-"}
    label = {
        "flow": "effective area",
        "flow per valve area": "effective area / valve area",
        "coefficient against L/D": "discharge coefficient (curtain)",
    }
    FlowChart(
        chart_spec(
            f"{found.job} among its class",
            Axis("lift / valve diameter", "-", 2, minimum=0.0),
            Axis(label[found.measure.value], unit[found.measure.value], 2, minimum=0.0),
            series,
            summary=said,
            footer=f"{found.head_class.describe()}; as {found.bench} reads",
        )
    )
    if others:
        ui.label(
            f"Grey: the other heads of the class, as {found.bench} reads; a single point is the "
            "peak that an old job sheet gives."
        ).classes("small soft")
