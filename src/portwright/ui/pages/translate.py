"""Two benches: how one reads what the other reads, and one sweep translated."""

from __future__ import annotations

from urllib.parse import urlencode

from nicegui import ui

from portwright import units
from portwright.errors import Finding
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.run import Run
from portwright.services import jobs, replay
from portwright.services.compare import archive_pressure
from portwright.services.display import Display
from portwright.services.translate import (
    BenchTranslation,
    Translated,
    learn_translation,
    translate,
)
from portwright.services.translate_wording import (
    Difference,
    benches_sentence,
    best_lift,
    difference_curve,
    flow_there,
    foundation,
    reads_there,
    relation_words,
    tested_on_both,
)
from portwright.services.wording import decimals
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import Axis, FlowChart, Series, chart_spec
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.layout import heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind

PLACE = links.TRANSLATE


def address(
    here: str = "", there: str = "", side: str = "", job: str = "", port: str = "", stage: str = ""
) -> str:
    """Screen of two benches; with a job, one of its sweeps translated."""
    parts = {"here": here, "there": there, "side": side, "job": job, "port": port, "stage": stage}
    given = {k: v for k, v in parts.items() if v}
    return f"{PLACE}?{urlencode(given)}" if given else PLACE


@screen(PLACE)
async def translate_page(
    here: str = "", there: str = "", side: str = "", job: str = "", port: str = "", stage: str = ""
) -> None:
    """Choices above; the sweep, then the two benches, below."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    codes = [b.code for b in shop.benches()]
    lines = [ln for ln in await in_thread(jobs.search, shop, jobs.Wanted()) if ln.runs]
    contents = await in_thread(shop.job, job) if job else None
    if contents is not None:
        port, stage = _of(contents, port, stage)
        swept = [r.bench for r in contents.runs if (r.port, r.stage) == (port, stage)]
        here = here if here in swept else (swept or [""])[-1]
        known = next((p.side.value for p in contents.ports if p.code == port), "")
        side = known or side
    here = here if here in codes else (codes or [""])[0]
    there = there if there in codes and there != here else _other(codes, here)
    side = side if side in set(Side) else Side.INTAKE.value
    with page_frame("Two benches", "compare") as view:
        if not there:
            ui.label("There is only one bench in this shop.")
            return
        _choices((here, there, side), codes, lines, contents, (port, stage))
        if contents is not None:
            _sweep(f"{job}/{port}:{stage}", there, view)
        else:
            _benches(here, there, Side(side), view)
        pairs = await in_thread(replay.live_on_two, shop, contents) if contents else []
        _settling([(a, b) for a, b in pairs if {a.bench, b.bench} == {here, there}])


def _settling(pairs: list[tuple[Run, Run]]) -> None:
    """How much of a difference is only that one bench was read before its air stood still."""
    with ui.element("section").classes("sheet").props("id=settling"):
        heading("What settling has to do with it")
        if not pairs:
            ui.label(
                "One bench may reach test pressure slowly and hunt while the other overshoots. "
                "Read one port live on both, then choose that job above: both are read again with "
                "one settle rule, and what is left has another cause."
            )
            return
        for one, other in pairs:
            link_button(
                f"{one.port} {one.stage}: {one.code} on {one.bench} against {other.code} on "
                f"{other.bench}",
                links.settling(one.code, against=other.code),
            )


def _of(contents: JobContents, port: str, stage: str) -> tuple[str, str]:
    """Port and stage as far as the job was swept there."""
    places = [(r.port, r.stage) for r in contents.runs]
    if (port, stage) in places or not places:
        return port, stage
    of_port = [p for p in places if p[0] == port]
    return (of_port or places)[-1]


def _other(codes: list[str], here: str) -> str:
    return next((c for c in reversed(codes) if c != here), "")


def _choices(
    chosen: tuple[str, str, str],
    codes: list[str],
    lines: list[jobs.JobLine],
    contents: JobContents | None,
    place: tuple[str, str],
) -> None:
    here, there, side = chosen
    number = contents.job.number if contents else ""
    port, stage = place
    with ui.element("div").classes("sheet fields"):
        choose_job(lines, number, lambda new: address(here, there, side, new))
        if contents is not None:
            choose_port_and_stage(
                contents, port, stage, lambda p, s: address("", there, side, number, p, s)
            )
        else:
            Field(
                "Read on bench",
                here,
                kind="choice",
                options=codes,
                on_change=lambda new: ui.navigate.to(address(new, there, side)),
            )
            Field(
                "Side",
                side,
                kind="choice",
                options=[s.value for s in Side],
                on_change=lambda new: ui.navigate.to(address(here, there, new)),
            )
        Field(
            "Would read on",
            there,
            kind="choice",
            options=[c for c in codes if c != here],
            on_change=lambda new: ui.navigate.to(address(here, new, side, number, port, stage)),
        )


def _sweep(name: str, there: str, view: View) -> None:
    shop = shop_file()

    def work(told: Told) -> tuple[Translated, float]:
        told("Reading what was tested on both benches")
        return translate(shop, name, there), archive_pressure(shop)

    def show(answer: tuple[Translated, float]) -> None:
        @ui.refreshable
        def result() -> None:
            _show_sweep(*answer, view)

        result()
        view.on_change(result.refresh)

    SlowWork(f"translate {name} {there}", work, show)


def _show_sweep(found: Translated, pressure: float, view: View) -> None:
    display, t = view.display, found.translation
    said = reads_there(found, best_lift(found), pressure, display)
    with ui.element("section").classes("sheet"):
        heading(f"{found.job} {found.label}")
        ui.label(said).classes("verdict")
        ui.label(foundation(found, pressure, display)).classes("soft")
        _notes(found.findings)
    rows = [flow_there(found, k, pressure, display.flow) for k in range(found.lift.size)]
    lifts = [units.from_si(float(x), display.length, Kind.LENGTH) for x in found.lift]
    nan = float("nan")
    with ui.element("section").classes("sheet"):
        heading("Flow")
        FlowChart(
            chart_spec(
                f"{found.job} {found.label} on {t.here} and {t.there}",
                Axis("valve lift", display.length, 1, minimum=0.0),
                Axis(
                    f"flow at {display.pressure_text(pressure)}",
                    units.sign(display.flow),
                    1,
                    minimum=0.0,
                ),
                [
                    Series(f"as read on {t.here}", lifts, [r[0] for r in rows], tone=1, dash=1),
                    Series(
                        f"as {t.there} would read, band: 95 %",
                        lifts,
                        [r[1] for r in rows],
                        [r[1] - r[2] if r[1] == r[1] else nan for r in rows],
                        [r[1] + r[2] if r[1] == r[1] else nan for r in rows],
                    ),
                ],
                summary=said,
                footer=foundation(found, pressure, display),
            )
        )
    with ui.element("section").classes("sheet"):
        heading("Numbers")
        table(
            (
                f"Lift [{display.length}]",
                f"{t.here} [{display.flow}]",
                f"{t.there} [{display.flow}]",
                "± 95 %",
            ),
            [_row(found, k, r, display) for k, r in enumerate(rows)],
            numeric=(0, 1, 2, 3),
        )


def _row(
    found: Translated, place: int, row: tuple[float, ...], display: Display
) -> tuple[str, str, str, str]:
    lift = display.lift_text(float(found.lift[place]))
    if not found.covered[place]:
        return lift, f"{row[0]:.1f}", "not translated", ""
    digits = decimals(row[2])
    return lift, f"{row[0]:.1f}", f"{row[1]:.{digits}f}", f"{row[2]:.{digits}f}"


def _benches(here: str, there: str, side: Side, view: View) -> None:
    shop = shop_file()

    def work(told: Told) -> tuple[BenchTranslation, float]:
        told("Reading what was tested on both benches")
        return learn_translation(shop, here, there, side), archive_pressure(shop)

    def show(answer: tuple[BenchTranslation, float]) -> None:
        @ui.refreshable
        def result() -> None:
            _show_benches(*answer, view)

        result()
        view.on_change(result.refresh)

    SlowWork(f"benches {here} {there} {side}", work, show)


def _notes(findings: tuple[Finding, ...]) -> None:
    for finding in findings:
        with ui.element("div").classes("notice ask"):
            ui.label(finding.message)
            if finding.hint:
                ui.label(finding.hint).classes("soft")


def _show_benches(found: BenchTranslation, pressure: float, view: View) -> None:
    display, relation = view.display, found.relation

    def flows(difference: Difference) -> list[float]:
        return [units.from_si(float(f), display.flow, Kind.FLOW) for f in difference.flow]

    said = benches_sentence(found, pressure, display)
    curve = difference_curve(found, pressure)
    with ui.element("section").classes("sheet"):
        heading(f"{found.here} and {found.there}, {found.side} ports")
        ui.label(said).classes("verdict")
        ui.label(relation_words(relation.heads, relation.plates)).classes("soft")
        _notes(found.findings)
    series = [
        Series(
            "a further head, band: 95 %",
            flows(curve),
            list(100 * curve.best),
            list(100 * curve.low),
            list(100 * curve.high),
            points=False,
        )
    ]
    tests = tested_on_both(found, pressure)
    plates = sorted((t for t in tests if not t.head), key=lambda t: float(t.flow[0]))
    if plates:
        x = [flows(t)[0] for t in plates]
        series.append(Series("plates", x, [100 * t.best[0] for t in plates], tone=1, dash=1))
    for number, head in enumerate(t for t in tests if t.head):
        tone = 2 + number % 6
        series.append(Series(head.name, flows(head), list(100 * head.best), tone=tone, dash=tone))
    with ui.element("section").classes("sheet"):
        heading(f"What {found.there} reads more than {found.here}")
        FlowChart(
            chart_spec(
                f"{found.there} against {found.here}",
                Axis(
                    f"flow on {found.here} at {display.pressure_text(pressure)}",
                    units.sign(display.flow),
                    0,
                ),
                Axis("difference", "%", 1, minimum=0.0),
                series,
                summary=said,
                footer=relation_words(relation.heads, relation.plates),
            )
        )
