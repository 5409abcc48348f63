"""Is the bench still the bench it was: plates, list before a session, study, calibrations."""

from __future__ import annotations

from nicegui import ui

from portwright.services.bench_health import (
    BEFORE_A_SESSION,
    BenchHealth,
    PlateChart,
    add_plate_check,
    bench_health,
    keep_checklist,
    study_steps,
)
from portwright.ui import links
from portwright.ui.components.bench_calibrations import bench_calibrations
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import Axis, FlowChart, Series, chart_spec
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread


@screen(links.BENCHES)
async def benches_page(bench: str = "") -> None:
    """Choice of a bench; its plates first."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    codes = [b.code for b in shop.benches()]
    code = bench if bench in codes else (codes or [""])[-1]
    with page_frame("Bench health", "shop"):
        if not code:
            ui.label("There is no bench in this shop yet.")
            link_button("Describe a bench", links.SHOP, "main")
            return
        with ui.element("div").classes("sheet fields"):
            Field(
                "Bench",
                code,
                kind="choice",
                options={b.code: f"{b.code} {b.name}".strip() for b in shop.benches()},
                on_change=lambda new: ui.navigate.to(links.bench_health(new)),
            )
            if len(codes) > 1:
                link_button("Two benches compared", links.translate())
                link_button("What settling has to do with it", f"{links.translate()}#settling")
        found = await in_thread(bench_health, shop, code)
        _state(found)
        with ui.element("div").classes("charts small"):
            for plate in found.plates:
                _plate(plate)
        _read_plate(found)
        _checklist(found)
        _study(found)
        bench_calibrations(found)


def _state(found: BenchHealth) -> None:
    with ui.element("section").classes("sheet"):
        heading("Is it still the same bench?")
        bad = [f for f in found.findings if f.code in {"plate-step", "plate-drift"}]
        said = (
            f"{len(bad)} plate readings of {found.bench.code} fall outside their limits."
            if len(bad) > 1
            else f"1 plate reading of {found.bench.code} falls outside its limits."
            if bad
            else f"Nothing says that {found.bench.code} has changed."
            if found.plates
            else f"Nobody can tell: no plate was ever read on {found.bench.code}."
        )
        ui.label(said).classes("verdict")
        for finding in found.findings:
            with ui.element("div").classes("notice ask"):
                ui.label(finding.message)
                ui.label(finding.hint).classes("soft")


def _plate(plate: PlateChart) -> None:
    chart = plate.chart
    x = [float(k + 1) for k in range(len(plate.dates))]
    marks = [
        (x[k], 100 * float(chart.value[k]), f"{alarm.value} {plate.dates[k]}")
        for k, alarm in enumerate(chart.alarms)
        if alarm
    ]
    dates = ", ".join(f"{k + 1}: {d}" for k, d in enumerate(plate.dates))
    with ui.element("section").classes("sheet"):
        heading(f"Plate {plate.plate}", 3)
        FlowChart(
            chart_spec(
                f"Plate {plate.plate}",
                Axis("session, in order", "-", 0, minimum=0.0, maximum=float(max(len(x), 5))),
                Axis("read over certified", "%", 1),
                [
                    Series(
                        "session mean, band: limits of one session",
                        x,
                        [100 * float(v) for v in chart.value],
                        [100 * float(v) for v in chart.low],
                        [100 * float(v) for v in chart.high],
                        marks=marks,
                    ),
                    Series(
                        "moving average",
                        x,
                        [100 * float(v) for v in chart.average],
                        tone=1,
                        dash=1,
                        points=False,
                    ),
                ],
                summary=f"Plate {plate.plate}: {len(x)} sessions, {len(marks)} outside the limits",
                footer=dates,
            ),
            height="240px",
        )
        ui.label(dates).classes("small soft")


def _read_plate(found: BenchHealth) -> None:
    with ui.element("section").classes("sheet"):
        heading("Read a plate")
        with ui.element("div").classes("fields"):
            plate = Field("Plate", options=[p.plate for p in found.plates])
            certified = Field("Certified flow", hint="as on the plate, like 69.6 cfm")
            readings = Field("Readings", hint="parted by semicolons: 69.5; 69.6; 69.4")

        def add() -> None:
            add_plate_check(
                shop_file(),
                found.bench.code,
                plate.value,
                certified.value,
                readings.value.split(";"),
            )
            ui.navigate.to(links.bench_health(found.bench.code))

        button("Keep the readings", add, "main").style("align-self: flex-start")


def _checklist(found: BenchHealth) -> None:
    with ui.element("section").classes("sheet"):
        heading("Before a session")
        boxes = [ui.checkbox(text) for text in BEFORE_A_SESSION]
        by = Field("By")

        def keep() -> None:
            done = [t for t, box in zip(BEFORE_A_SESSION, boxes, strict=True) if box.value]
            kept = keep_checklist(shop_file(), found.bench.code, done, by.value)
            open_ = len(BEFORE_A_SESSION) - len(kept.done)
            said.set_text(
                f"Kept for {kept.date}; {open_} not done." if open_ else "Kept: all done."
            )

        button("Keep the list", keep).style("align-self: flex-start")
        said = ui.label().classes("strong").props("role=status")
        if found.checklists:
            last = found.checklists[0]
            ui.label(f"Last on {last.date}: {len(last.done)} of {len(BEFORE_A_SESSION)}.").classes(
                "soft"
            )


def _study(found: BenchHealth) -> None:
    with ui.element("section").classes("sheet"):
        heading("How well it repeats")
        rep = found.repeatability
        table(
            ("What changes", "Standard deviation"),
            [
                ("head refitted, whole sweep", f"{100 * rep.common:.2f} %"),
                ("lift set again", f"{1e3 * rep.lift_setting:.3f} mm"),
                ("each reading", f"{100 * rep.reading:.2f} %"),
                ("another session", f"{100 * rep.session:.2f} %"),
            ],
            numeric=(1,),
        )
        ui.label(f"From {rep.source}.").classes("small soft")
        heading("The study, step by step", 3)
        for done, text in study_steps(found):
            ui.label(f"{'✓' if done else '○'} {text}")
        with ui.element("div").classes("row-wrap"):
            link_button("Flow test", links.bench())
            link_button("Study with persons and ports", links.gauge_study(found.bench.code))
