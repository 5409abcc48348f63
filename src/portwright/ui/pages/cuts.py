"""Which cut did what: the stages of a port as steps, and seat against port."""

from __future__ import annotations

from nicegui import ui

from portwright.services import jobs
from portwright.services.attribution import CutStep, PortHistory, port_history, story
from portwright.services.wording import band_name, percent
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.field import Field
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.components.waterfall import waterfall
from portwright.ui.layout import heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread


@screen(links.CUTS)
async def cuts_page(job: str = "", port: str = "") -> None:
    """Choices above, steps below."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    lines = [ln for ln in await in_thread(jobs.search, shop, jobs.Wanted()) if ln.runs]
    number = job or next((ln.job.number for ln in lines), "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Which cut did what", "compare") as view:
        if contents is None or not contents.runs:
            ui.label("There are no sweeps in this job yet.")
            link_button("Flow test", links.bench(number), "main")
            return
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.cuts)
            Field(
                "Port",
                port,
                kind="choice",
                options={"": "the one with most stages"}
                | {c: c for c in dict.fromkeys(r.port for r in contents.runs)},
                on_change=lambda new: ui.navigate.to(links.cuts(number, new)),
            )
        _answer(number, port, view)


def _answer(number: str, port: str, view: View) -> None:
    shop = shop_file()

    def work(told: Told) -> PortHistory:
        return port_history(shop, number, port, told)

    def show(found: PortHistory) -> None:
        @ui.refreshable
        def result() -> None:
            _show(found, view)

        result()
        view.on_change(result.refresh)

    SlowWork(f"cuts {number} {port}", work, show)


def _show(found: PortHistory, view: View) -> None:
    with ui.element("section").classes("sheet"):
        heading(f"{found.port} of {found.job}, on {found.bench}")
        ui.label(story(found)).classes("verdict")
        for finding in found.findings:
            with ui.element("div").classes("notice ask"):
                ui.label(finding.message)
                ui.label(finding.hint).classes("soft")
    last = found.steps[-1].since_first.result
    with ui.element("div").classes("charts"):
        for band in last.bands:
            with ui.element("section").classes("sheet"):
                heading(f"{band_name(band, view.choice.length)}: {band.band.meaning}")
                waterfall(found, band.band.name)
        if last.over_cam is not None:
            with ui.element("section").classes("sheet"):
                heading("Over the open time of the cam: what it is worth")
                waterfall(found, "")
    ui.label(
        "Full bars are real, half-tone ones probable; an empty bar cannot be told from nothing. "
        "The line is the 95 % interval of that step alone."
    ).classes("small soft")
    _split(found)
    with ui.element("section").classes("sheet"):
        heading("Numbers")
        names = [b.band.name for b in last.bands]
        table(
            (
                "Cut",
                "Done",
                *(band_name(b, view.choice.length) for b in last.bands),
                "Over the cam",
            ),
            [_row(step, names) for step in found.steps],
        )


def _row(step: CutStep, names: list[str]) -> tuple[str, ...]:
    known = {b.band.name: b.gain for b in step.comparison.result.bands}
    gains = [*(known.get(n) for n in names), step.comparison.result.over_cam]
    texts = ["–" if g is None else f"{percent(g)}, {g.verdict}" for g in gains]
    return (f"{step.before} to {step.after}", step.note, *texts)


def _split(found: PortHistory) -> None:
    whole = found.whole
    if whole is None:
        return
    with ui.element("section").classes("sheet"):
        heading("Seat side or port side, first to last stage")
        table(
            ("Lift", "Seat side", "Port side", "Unexplained"),
            [
                (
                    b.name,
                    f"{percent(b.seat)}, {b.seat.verdict}",
                    f"{percent(b.port)}, {b.port.verdict}",
                    f"{100 * b.rest:+z.1f} %",
                )
                for b in whole.bands
            ],
        )
        ui.label(
            "Valve gap and port taken as two resistances in series. This model fits the sweeps to "
            f"{100 * whole.before.misfit:.1f} % before and {100 * whole.after.misfit:.1f} % after; "
            "what it leaves over is shown as unexplained."
        ).classes("small soft")
