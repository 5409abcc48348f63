"""One port: area, air and wall in one picture, and where to cut next."""

from __future__ import annotations

import math

from nicegui import ui

from portwright.errors import UnknownNameError
from portwright.model.contents import JobContents
from portwright.services import jobs
from portwright.services.metal import held_back_sentence, wall_sentence
from portwright.services.next_cut import gain_words
from portwright.services.port import PortView, look
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage
from portwright.ui.components.port_picture import port_picture
from portwright.ui.components.velocity_map import velocity_map
from portwright.ui.errors import show_finding
from portwright.ui.layout import heading, link_button, page_frame, raw, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind


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
                at, when = _chosen(contents, port, stage)
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
                addresses = (links.measure(number, at, when), links.scan(number, at, when))
                _nothing(*addresses, f"{at} at {when}", hint)

    # checking every run of the job takes longer than a page may take to appear
    ui.timer(0.05, show, once=True)
    view.on_change(show)


def _nothing(address: str, scan_address: str, where: str, hint: str) -> None:
    with ui.element("section").classes("sheet"):
        ui.label(f"No sections of {where} or before.").classes("strong")
        ui.label(hint)
        with ui.element("div").classes("row-wrap"):
            link_button("Measure", address, "main")
            link_button("Read a scan", scan_address)


def _chosen(contents: JobContents, port: str, stage: str) -> tuple[str, str]:
    known = {p.code for p in contents.ports}
    stages = [s.code for s in contents.stages]
    return (
        port if port in known else contents.ports[0].code,
        stage if stage in stages else stages[-1],
    )


def _look(port: PortView, view: View) -> None:
    for finding in port.findings:
        show_finding(finding)
    with ui.element("section").classes("sheet"):
        heading(f"{port.port} at {port.stage}")
        for sentence in port.sentences:
            ui.label(sentence)
        with ui.element("div").classes("scroll-x"):
            raw(port_picture(port, view))
        ui.label(
            "Band: 95 % of the measuring error. Filled ring: smallest section; open ring: cannot "
            "be told from it. Numbers: places to cut, in the list below. Bar: wall now, pale: as "
            "first read, line: limit."
        ).classes("small soft")
        _choke(port, view)
    with ui.element("div").classes("columns"):
        with ui.element("div").classes("stack"):
            _candidates(port)
            _stop(port)
        with ui.element("div").classes("stack"):
            _walls(port, view)
            _maps(port, view)
    _stations(port, view)
    with ui.element("div").classes("row-wrap"):
        link_button("Measure", links.measure(port.job, port.port, port.stage))
        link_button("Read a scan", links.scan(port.job, port.port, port.stage))


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
            state = "good" if wall.state.allows_cutting else "fault"
            with ui.element("div").classes(f"notice {state}"):
                ui.label(wall_sentence(wall, view.display))
                if held := held_back_sentence(wall, view.display):
                    ui.label(held).classes("strong")


def _maps(port: PortView, view: View) -> None:
    for found in port.maps:
        with ui.element("section").classes("sheet"):
            lift = "" if found.lift is None else f" at {view.display.length_text(found.lift)} lift"
            heading(f"{found.plane.capitalize()}, {found.stage}{lift}")
            raw(velocity_map(found, view))
            mean = shown.quantity(found.mean.mean, Kind.SPEED, view)
            text = f"Mean {mean}, spread {found.mean.spread:.0%}"
            if math.isfinite(found.bench_mean):
                bench = shown.quantity(found.bench_mean, Kind.SPEED, view)
                text += f"; bench flow over section {bench}"
            ui.label(text + ".")
            ui.label(f"{found.weighting[0].upper()}{found.weighting[1:]}.").classes("small soft")


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
                "–" if air is None or not math.isfinite(air.mach) else f"{air.mach:.2f}",
                "–" if air is None else shown.number(air.engine_mean, Kind.SPEED, view),
                station.how.value,
            )
        )  # fmt: skip
    length, area, speed = (
        shown.unit_sign(view.unit(k)) for k in (Kind.LENGTH, Kind.AREA, Kind.SPEED)
    )
    with ui.expansion("All stations").classes("fold"):
        table(
            (
                "Landmark",
                f"From opening {length}",
                f"Area {area}",
                "± (95 %)",
                f"Hydraulic {length}",
                f"Bench {speed}",
                "Mach",
                f"Engine {speed}",
                "Measured by",
            ),
            rows,
            numeric=tuple(range(1, 8)),
        )
