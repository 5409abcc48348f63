"""One port: area, air and wall in one picture, and where to cut next."""

from __future__ import annotations

import math

from nicegui import ui

from portwright import units
from portwright.errors import UnknownNameError
from portwright.services import jobs
from portwright.services.next_cut import Room, gain_words
from portwright.services.port import PortView, look
from portwright.services.port_profile import size_sentences
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage, chosen_place
from portwright.ui.components.port_picture import port_picture
from portwright.ui.components.velocity_map import velocity_map, zone_words
from portwright.ui.components.wall_line import wall_words
from portwright.ui.errors import show_finding
from portwright.ui.layout import heading, link_button, page_frame, raw, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

_LOUD = ("wall-at-limit", "plan-to-the-limit")


@screen(links.PORT)
async def port_page(job: str = "", port: str = "", stage: str = "") -> None:
    """Where to cut next on one port."""
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Port", "measure", classes="port") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.port)
            if contents is not None and contents.ports and contents.stages:
                at, when = chosen_place(contents, port, stage)
                choose_port_and_stage(contents, at, when, lambda p, s: links.port(number, p, s))
        if contents is None or not contents.ports or not contents.stages:
            ui.label("Open a job with ports and stages first.")
            link_button("Jobs", links.JOBS, "main")
            return
        place = ui.element("div").classes("stack").props("aria-live=polite")
        with place:
            ui.label("Looking at the port …").classes("soft")

    async def show() -> None:
        try:
            found = await in_thread(look, shop, number, at, when, display=view.display)
        except UnknownNameError as error:
            found, hint = None, error.hint
        place.clear()
        with place:
            if found is not None:
                _look(found, view)
            else:
                _nothing((number, at, when), hint)

    # checking every run of the job takes longer than a page may take to appear
    ui.timer(0.05, show, once=True)
    view.on_change(show)


def _nothing(at: tuple[str, str, str], hint: str) -> None:
    with ui.element("section").classes("sheet"):
        ui.label(f"No sections of {at[1]} at {at[2]} or before.").classes("strong")
        ui.label(hint)
        with ui.element("div").classes("row-wrap"):
            link_button("Measure", links.measure(*at), "main")
            link_button("Sections", links.sections(*at))
            link_button("Read a scan", links.scan(*at))
            link_button("Walls", links.walls(*at))


def _look(port: PortView, view: View) -> None:
    for finding in port.findings:
        if finding.code in _LOUD:
            show_finding(finding)
    with ui.element("section").classes("sheet"):
        heading(f"{port.port} at {port.stage}")
        _answer(port)
        for sentence in port.sentences:
            ui.label(sentence)
        with ui.element("div").classes("scroll-x"):
            raw(port_picture(port, view))
        ui.label(
            "Band: 95 % of the measuring error. Filled ring: smallest section; open ring: cannot "
            "be told from it. Numbers: places to cut, in the list below. Bar: wall now, pale: as "
            "first read, line: limit; hatched: what the plan takes."
        ).classes("small soft")
        _choke(port, view)
    with ui.element("div").classes("columns"):
        with ui.element("div").classes("stack"):
            _candidates(port)
            _stop(port)
            _to_check(port)
        with ui.element("div").classes("stack"):
            _walls(port, view)
            _maps(port, view)
            _sizes(port, view)
    _stations(port, view)
    _further(port)


def _answer(port: PortView) -> None:
    """What to do now, in one line: the first place with metal, else that there is none."""
    best = next(iter(port.advice.candidates), None)
    if best is not None and best.room is not Room.NONE and not port.advice.stop:
        expected = gain_words(best)
        with ui.element("div").classes(f"notice {'good' if best.room is Room.THERE else 'ask'}"):
            ui.label(f"Cut next: {best.action[0].lower()}{best.action[1:]}").classes("answer")
            ui.label(f"{expected[0].upper()}{expected[1:]} ({best.room.value}).")
    elif port.advice.stop:
        with ui.element("div").classes("notice fault"):
            ui.label("Stop here").classes("answer")
            for reason in port.advice.stop_words:
                ui.label(reason)
    else:
        with ui.element("div").classes("notice"):
            ui.label("Nothing stands out to cut").classes("answer")


def _to_check(port: PortView) -> None:
    """What is doubtful about the measurements; walls at their limit stand above the picture."""
    # what a wall held back is said beside the wall
    found = [f for f in port.findings if f.code not in {*_LOUD, "wall-held-back"}]
    if found:
        heading("To check")
        for finding in found:
            show_finding(finding)


def _further(port: PortView) -> None:
    at = (port.job, port.port, port.stage)
    with ui.element("div").classes("row-wrap"):
        link_button("Measure", links.measure(*at))
        link_button("Sections", links.sections(*at))
        link_button("Walls", links.walls(*at))
        link_button("Pitot map", links.pitot(*at))
        link_button("Read a scan", links.scan(*at))
        link_button("Measure on a photo", links.trace(port.job))


def _sizes(port: PortView, view: View) -> None:
    said = size_sentences(port.profile, view.display)
    if not said:
        return
    with ui.element("section").classes("sheet"):
        heading("Sizes against each other")
        for sentence in said:
            ui.label(sentence)


def _choke(port: PortView, view: View) -> None:
    if port.choke is None or port.flow is None:
        return
    lift = f"{view.display.lift_text(port.flow.lift)} {view.display.length}"
    text = f"Smallest passage at {lift} lift: {port.choke.place}"
    if port.choke.above is not None:
        above = f"{view.display.lift_text(port.choke.above)} {view.display.length}"
        text += f"; below {above} the valve gap is smaller"
    ui.label(text + ".")
    if math.isfinite(port.choke.engine_speed):
        rpm = round(port.choke.engine_speed * 30.0 / math.pi, -2)
        ui.label(f"In the engine it reaches the velocity limit at about {rpm:.0f} rpm.")


def _candidates(port: PortView) -> None:
    with ui.element("section").classes("sheet"):
        heading("Where to cut next")
        if not port.advice.candidates:
            ui.label("Nothing stands out.").classes("soft")
        for place, candidate in enumerate(port.advice.candidates, start=1):
            expected = gain_words(candidate)
            blocked = candidate.room.value == expected
            with ui.element("div").classes(f"notice {'fault' if blocked else 'good'}"):
                ui.label(f"{place}. {candidate.action}").classes("kind")
                room = "" if blocked else f" ({candidate.room.value})"
                ui.label(f"{expected[0].upper()}{expected[1:]}{room}.").classes("strong")
                with ui.element("ul"):
                    for sentence in (*candidate.why, *candidate.caution):
                        with ui.element("li"):
                            ui.label(sentence)
        for sentence in port.advice.leave:
            ui.label(sentence)


def _stop(port: PortView) -> None:
    with ui.element("section").classes("sheet"):
        heading("Stop here?")
        ui.label("Stop." if port.advice.stop else "No reason to stop yet.").classes("strong")
        for sentence in (*port.advice.stop_reasons, *port.advice.class_words):
            ui.label(sentence)


def _walls(port: PortView, view: View) -> None:
    with ui.element("section").classes("sheet"):
        heading("Wall left")
        if not port.walls:
            with ui.element("div").classes("notice fault"):
                ui.label("Not sounded yet").classes("kind")
        for wall in port.walls:
            wall_words(wall, view)
        link_button("Sound a wall", links.walls(port.job, port.port, port.stage))


def _maps(port: PortView, view: View) -> None:
    for found in port.maps:
        with ui.element("section").classes("sheet"):
            lift = "" if found.lift is None else f" at {view.display.length_text(found.lift)} lift"
            heading(f"{found.plane.capitalize()}, {found.stage}{lift}")
            raw(velocity_map(found, view))
            for words in zone_words(found, view):
                ui.label(f"{words[0].upper()}{words[1:]}.")
            mean = shown.quantity(found.mean.mean, Kind.SPEED, view)
            text = f"Mean {mean}, spread {found.mean.spread:.0%}"
            if math.isfinite(found.bench_mean):
                bench = shown.quantity(found.bench_mean, Kind.SPEED, view)
                text += f"; bench flow over section {bench}"
            ui.label(text + ".")
            ui.label(f"{found.weighting[0].upper()}{found.weighting[1:]}.").classes("small soft")


def _mach(value: float) -> str:
    return f"{value:.2f}" if math.isfinite(value) else "–"


def _stations(port: PortView, view: View) -> None:
    rows = []
    for i, station in enumerate(port.profile.stations):
        air = port.air[i] if port.air else None
        known, at = station.hydraulic_diameter, station.distance
        rows.append(
            (
                station.landmark or "–",
                "–" if at is None else shown.number(at, Kind.LENGTH, view, 1),
                shown.number(station.area, Kind.AREA, view),
                shown.number(2.0 * station.uncertainty, Kind.AREA, view),
                "–" if known is None else shown.number(known, Kind.LENGTH, view, 1),
                "–" if air is None else shown.number(air.mean, Kind.SPEED, view),
                "–" if air is None else _mach(air.mach),
                "–" if air is None else shown.number(air.engine_mean, Kind.SPEED, view),
                "–" if air is None else _mach(air.engine_mach),
                station.how.value,
            )
        )  # fmt: skip
    length, area, speed = (units.sign(view.unit(k)) for k in (Kind.LENGTH, Kind.AREA, Kind.SPEED))
    with ui.expansion("All stations").classes("fold"):
        table(
            (
                "Landmark",
                f"From opening {length}",
                f"Area {area}",
                "± (95 %)",
                f"Hydraulic {length}",
                f"Bench {speed}",
                "Bench Mach",
                f"Engine {speed}",
                "Engine Mach",
                "Measured by",
            ),
            rows,
            numeric=tuple(range(1, 9)),
        )
