"""The head on its engine: quick answers first, then both heads simulated."""

from __future__ import annotations

from dataclasses import dataclass

from nicegui import ui

from portwright import units
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.services.engine_description import describe_engine
from portwright.services.engine_quick import QuickAnswers, quick_answers
from portwright.services.engine_run import EngineRun, run_engine
from portwright.services.engine_run_wording import details, gain_text, headlines, trust
from portwright.services.engine_waves import PortWaves, port_waves
from portwright.services.engine_wording import quick_facts, quick_lines
from portwright.ui import links
from portwright.ui.components import engine_charts
from portwright.ui.components.engine_changes import engine_changes
from portwright.ui.components.engine_dyno import engine_dyno
from portwright.ui.components.engine_kept import engine_kept
from portwright.ui.components.engine_ports import engine_ports
from portwright.ui.components.engine_study import engine_study
from portwright.ui.components.engine_values import engine_values
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import FlowChart
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.components.wave_view import WaveView
from portwright.ui.errors import show_finding
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind

_SAMPLES = 8
_KEPT = 6  # results that survive a reload of the page


@dataclass(frozen=True, slots=True, eq=False)
class _Answer:
    """What a run gave, ready to draw."""

    run: EngineRun
    waves: tuple[PortWaves, ...]


_kept: dict[str, _Answer] = {}


@screen(links.ENGINE)
async def engine(number: str, before: str = "", after: str = "", run: str = "") -> None:
    """Engine, quick answers, before and after."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    contents = await in_thread(shop.job, number)
    swept = {r.stage for r in contents.runs}
    stages = [s.code for s in contents.stages if s.code in swept]
    with page_frame(f"Engine of {number}", "jobs") as view:
        with ui.element("div").classes("row-wrap"):
            link_button("Job", links.job(number))
        await thin_walls(contents, view)
        try:
            description = describe_engine(contents)
        except InputError as error:
            with ui.element("div").classes("notice ask"):
                ui.label(error.message).classes("strong")
                ui.label("Put it right on the job sheet.")
            link_button("Job sheet", links.job_sheet(number), "main")
            return
        engine_values(description, lambda: ui.navigate.to(links.engine(number, before, after)))
        if not stages:
            ui.label("Flow the ports first: there is nothing to put on the engine yet.")
            link_button("Flow test", links.bench(number), "main")
            return
        first, last = before or stages[0], after or stages[-1]
        _choose(number, stages, first, last)
        if run:
            _simulation(contents, first, last, view)
        else:
            engine_kept(number)
        await _quick(number, last, view)
        engine_changes(number, last)
        engine_study(number, last)
        engine_ports(number, last)
        engine_dyno(contents, first, last, view.display)


async def _quick(number: str, stage: str, view: View) -> None:
    place = ui.element("section").classes("sheet").props("aria-live=polite")
    with place:
        heading("Quick answers")
        ui.label("Working them out …").classes("soft")

    async def look() -> None:
        answers = await in_thread(quick_answers, shop_file(), number, stage=stage)
        place.clear()
        with place:

            @ui.refreshable
            def shown() -> None:
                _show_quick(answers, view)

            shown()
            view.on_change(shown.refresh)

    ui.timer(0.05, look, once=True)


def _show_quick(answers: QuickAnswers, view: View) -> None:
    heading("Quick answers")
    with ui.element("dl").classes("facts"):
        for what, value in quick_facts(answers, view.display):
            with ui.element("dt"):
                ui.label(what)
            with ui.element("dd"):
                ui.label(value)
    with ui.expansion("How these are worked out").classes("fold"):
        for line in quick_lines(answers, view.display):
            ui.label(line)
    FlowChart(engine_charts.velocity_spec(answers, view.display), height="320px")
    for finding in answers.findings:
        show_finding(finding)


def _choose(number: str, stages: list[str], before: str, after: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("Before and after on this engine")
        with ui.element("div").classes("fields"):
            first = Field("Before", before, kind="choice", options=stages)
            second = Field("After", after, kind="choice", options=stages)

        def begin() -> None:
            ui.navigate.to(links.engine(number, first.value, second.value, run=True))

        button("Simulate both heads", begin, "main").style("align-self: flex-start")


def _simulation(contents: JobContents, before: str, after: str, view: View) -> None:
    shop, number = shop_file(), contents.job.number
    # anything that changes the answer changes the key, so that no stale result is shown
    state = (shop.job_version(number), len(contents.runs), len(contents.measurements))
    key = f"engine {shop.path} {number} {before} {after} {state}"

    def work(told: Told) -> _Answer:
        def progress(done: int, total: int) -> bool:
            told(f"Simulated {done} of {total} parts")
            return True

        told("Gathering engine and heads")
        found = run_engine(
            shop, number, before=before, after=after, samples=_SAMPLES, progress=progress
        )
        told("Looking into the port")
        peak = found.peak_after or found.peak_before
        speed = peak.speed if peak else float(found.speed[-1])
        heads = found.heads
        answer = _Answer(
            found, tuple(port_waves(heads, s, speed) for s in (heads.before, heads.after))
        )
        while len(_kept) >= _KEPT:
            _kept.pop(next(iter(_kept)))
        _kept[key] = answer
        return answer

    def show(answer: _Answer) -> None:
        @ui.refreshable
        def result() -> None:
            _show(answer, view)

        result()
        view.on_change(result.refresh)

    known = _kept.get(key)
    if known is not None:
        show(known)
    else:
        SlowWork(key, work, show)


def _show(answer: _Answer, view: View) -> None:
    run, display = answer.run, view.display
    summary = " ".join(headlines(run))
    with ui.element("section").classes("sheet"):
        heading("What it does on this engine")
        for line in headlines(run):
            ui.label(line).classes("verdict")
        for line in details(run):
            ui.label(line)
        for line in trust(run):
            ui.label(line).classes("small soft")
    engine_kept(run.heads.description.job, run)
    with ui.element("div").classes("charts"):
        for title, spec in (
            ("Change of torque", engine_charts.difference_spec(run, summary)),
            ("Torque", engine_charts.torque_spec(run, display, summary)),
            ("Power", engine_charts.power_spec(run, display, summary)),
            ("Mach number in the smallest section", engine_charts.mach_spec(answer.waves)),
            ("Pressure at the intake valve", engine_charts.pressure_spec(answer.waves)),
            ("Mach number along the port", engine_charts.along_spec(answer.waves, display)),
        ):
            with ui.element("section").classes("sheet"):
                heading(title)
                FlowChart(spec)
    with ui.element("section").classes("sheet"):
        speed = answer.waves[0].speed
        heading(f"Waves in runner and port at {speed:.0f} rpm")
        WaveView(answer.waves, display)
    with ui.element("section").classes("sheet"):
        heading("Numbers")
        _numbers(run, view)
    for finding in run.findings:
        show_finding(finding)


def _numbers(run: EngineRun, view: View) -> None:
    torque, power = ("lbf ft", "hp") if engine_charts.inches(view.display) else ("Nm", "kW")
    headings = ["rpm", "torque, 95 % range"]
    for head in (run.before, run.after):
        headings += [
            f"{head.stage} {torque}",
            f"{head.stage} {power}",
            f"{head.stage} residual %",
            f"{head.stage} blown back %",
            f"{head.stage} in overlap %",
            f"{head.stage} Mach",
        ]
    rows = []
    for k, speed in enumerate(run.speed):
        row = [f"{speed:.0f}", gain_text(run, k)]
        for head in (run.before, run.after):
            row += [
                units.show(float(head.torque[k]), torque, Kind.TORQUE, 0),
                units.show(float(head.power[k]), power, Kind.POWER, 0),
                units.show(float(head.residual[k]), "%", Kind.RATIO, 1),
                units.show(float(head.reversion[k]), "%", Kind.RATIO, 1),
                units.show(float(head.overlap_back[k]), "%", Kind.RATIO, 1),
                units.show(float(head.mach[k]), "-", Kind.RATIO, 2),
            ]
        rows.append(row)
    table(headings, rows, numeric=range(len(headings)))
