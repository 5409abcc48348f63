"""Manifold fit: openings on one another, sealing land, room to move, mounted against bare."""

from __future__ import annotations

from urllib.parse import urlencode

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError, one_of
from portwright.services import jobs
from portwright.services.display import Display
from portwright.services.line_up import LAID, LineUp
from portwright.services.manifold_drawing import fit_drawing
from portwright.services.manifold_fit import (
    GROUPS,
    TERMS,
    ManifoldFit,
    manifold_fit,
    read_fit_numbers,
)
from portwright.services.manifold_traces import (
    opening_traces,
    read_traces,
    traced_outlines,
)
from portwright.services.manifold_words import fit_parts, fit_pdf, mounted_line
from portwright.services.mounted import MountedRun, mounted_runs
from portwright.services.seat_plan import port_named
from portwright.services.shop_figures import figures_of
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage
from portwright.ui.components.opening_choice import choose_openings
from portwright.ui.components.plan_page import PlanPage
from portwright.ui.components.work_parts import work_parts
from portwright.ui.layout import heading, link_button, page_frame, raw, screen
from portwright.ui.state import shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_PARTS = ("How they meet", "How far an edge can move", "Look at")


def _address(
    job: str, port: str, stage: str, numbers: str, traced: str, by: str, *, sheet: bool = False
) -> str:
    parts = {"job": job, "port": port, "stage": stage, "numbers": numbers, "traced": traced}
    parts["by"] = by if by != LineUp.MIDDLES else ""
    query = urlencode({k: v for k, v in parts.items() if v})
    return f"{links.MANIFOLD_SHEET if sheet else links.MANIFOLD}?{query}"


@app.get(links.MANIFOLD_SHEET, include_in_schema=False)
async def manifold_sheet(
    job: str,
    port: str = "",
    stage: str = "",
    numbers: str = "",
    traced: str = "",
    by: str = "middles",
) -> Response:
    """The sheet as PDF."""

    def set_pages() -> bytes:
        shop = shop_file()
        contents, rules = shop.job(job), figures_of(shop)
        code, given = port_named(contents, port).code, read_fit_numbers(numbers.split(";"))
        outlines = traced_outlines(shop, job, code, _chosen(traced))
        fit = manifold_fit(contents, code, stage, given, rules, outlines, one_of(LineUp, by, LAID))
        display = Display.of(shop.shop())
        return fit_pdf(contents, fit, mounted_runs(shop, job, code), display, rules)

    try:
        pdf = await in_thread(set_pages)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return Response(pdf, media_type="application/pdf")


def _chosen(traced: str) -> dict[str, int]:
    return read_traces(part for part in traced.split(";") if part.strip())


@screen(links.MANIFOLD)
async def manifold_page(
    job: str = "",
    port: str = "",
    stage: str = "",
    numbers: str = "",
    traced: str = "",
    by: str = "middles",
) -> None:
    """One port and what is bolted to it."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("mill.css")}">')
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or (lines[0].job.number if lines else "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Manifold fit", "measure") as view:
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.manifold)
            if contents is not None and contents.ports:
                code = port or contents.ports[0].code
                choose_port_and_stage(
                    contents,
                    code,
                    stage,
                    lambda p, s: links.manifold(number, p, s),
                    any_stage="newest readings",
                )
        if contents is None or not contents.ports:
            ui.label("Open a job with ports first.")
            link_button("Jobs", links.JOBS, "main")
            return
        rules, chosen, lies = figures_of(shop), _chosen(traced), one_of(LineUp, by, LAID)
        offered = await in_thread(opening_traces, shop, number, code)
        outlines = await in_thread(traced_outlines, shop, number, code, chosen)
        numbers_now = [numbers]

        def choose(part: str, trace: str) -> None:
            now = {p: str(n) for p, n in chosen.items() if p != part}
            now |= {part: trace} if trace else {}
            text = ";".join(f"{p}={n}" for p, n in now.items())
            ui.navigate.to(_address(number, code, stage, numbers_now[0], text, by))

        def lay(way: str) -> None:
            ui.navigate.to(_address(number, code, stage, numbers_now[0], traced, way))

        choose_openings(offered, chosen, view.display, choose, links.trace(number), lies.value, lay)

        def show(fit: ManifoldFit, typed: str) -> None:
            numbers_now[0] = typed
            with ui.element("section").classes("sheet"):
                heading("To scale")
                drawing = fit_drawing(fit)
                if drawing:
                    raw(drawing, "figure").classes("drawing plan")
                    ui.label(
                        "Full: the head. Dashed: manifold or pipe. Dotted: the gasket's opening. "
                        "Seen looking at the head's face, the deck below."
                    ).classes("small soft")
                else:
                    ui.label("No opening measured yet.").classes("soft")
                sheet = _address(number, code, stage, typed, traced, by, sheet=True)
                link_button("Print the sheet", sheet, "main").props("target=_blank")
            work_parts(fit_parts(contents, fit, (), view.display, rules), _PARTS)

        PlanPage(
            view,
            read_fit_numbers(numbers.split(";")),
            {
                "" if title == "Head" else title: [TERMS[n] for n in names]
                for title, names in GROUPS.items()
            },
            work_out=lambda given: manifold_fit(
                contents, code, stage, given, rules, outlines, lies
            ),
            known=lambda fit: fit.known,
            show=show,
            address=lambda typed: _address(number, code, stage, typed, traced, by),
        )
        _compare_mounted(number, code, view.display.length)


def _compare_mounted(job: str, port: str, length_unit: str) -> None:
    """What is bolted on against the bare port, compared once the page stands."""
    with ui.element("section").classes("sheet").props("aria-live=polite"):
        heading("Mounted against bare")
        place = ui.element("div").classes("stack")
        with place:
            ui.label("Comparing the runs …").classes("soft")

    async def look() -> None:
        mounted = await in_thread(mounted_runs, shop_file(), job, port)
        place.clear()
        with place:
            _mounted(mounted, job, length_unit)

    ui.timer(0.05, look, once=True)


def _mounted(mounted: tuple[MountedRun, ...], job: str, length_unit: str) -> None:
    if not mounted:
        ui.label(
            "No run with something mounted has a bare run of its stage and bench beside it."
        ).classes("soft")
    for run in mounted:
        ui.label(mounted_line(run, length_unit))
        if run.comparison is not None:
            pair = links.compare(job, f"{run.bare},{run.mounted}")
            link_button("Compare the two", pair, "quiet").style("align-self: flex-start")
