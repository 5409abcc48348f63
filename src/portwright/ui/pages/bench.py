"""The bench: choose what is tested, then one lift after the other."""

from __future__ import annotations

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.services import jobs
from portwright.services.capture import OpenSweep
from portwright.services.carried import set_up
from portwright.services.earlier import Bookshelf
from portwright.services.jobs import JobLine
from portwright.services.shop_file import ShopFile
from portwright.ui import links
from portwright.ui.components.bench_set_up import BenchSetUp
from portwright.ui.components.bench_sweep import SweepScreen
from portwright.ui.components.choose_place import choose_job, choose_port_and_stage
from portwright.ui.components.field import Field
from portwright.ui.components.live_mode import show_live
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.layout import link_button, page_frame, screen
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_shelves: dict[int, Bookshelf] = {}


def _shelf(shop: ShopFile) -> Bookshelf:
    return _shelves.setdefault(id(shop), Bookshelf(shop))


@screen(links.BENCH)
async def bench(
    job: str = "",
    port: str = "",
    stage: str = "",
    run: str = "",
    bench: str = "",
    live: str = "",
) -> None:
    """A sweep under way, or what is needed to begin one."""
    for sheet in ("bench.css", "live.css"):
        ui.add_head_html(f'<link rel="stylesheet" href="{asset(sheet)}">')
    shop = shop_file()
    if run:
        sweep = await in_thread(OpenSweep.open, shop, run)
        name = f"{sweep.run.port} {sweep.run.stage}, sweep {sweep.run.repeat}"
        with page_frame(name, "bench", classes="bench-work") as view:
            shown = SweepScreen(sweep, _shelf(shop), view)
            if live:
                show_live(shown, view)
            else:
                with shown.pad_place, ui.element("div").classes("row-wrap live-way"):
                    there = sweep.run
                    link_button("Live", links.live(there.job, there.port, there.stage, run))
                    link_button("Instruments", links.INSTRUMENTS, "quiet")
        return
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or next((line.job.number for line in await in_thread(jobs.open_jobs, shop)), "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("Flow test", "bench") as view:
        if contents is not None and contents.ports and contents.stages:
            await thin_walls(contents, view, port)
            await _begin(lines, contents, (port, stage, bench), view)
            _to_instruments()
            return
        with ui.element("div").classes("sheet fields"):
            choose_job(lines, number, links.bench)
        if contents is None:
            ui.label("Open a job first: a flow test belongs to a port of a head.")
            link_button("New job", links.NEW_JOB, "main")
        else:
            ui.label("This job has no ports or no stages yet.")
            link_button("To the job", links.job(number), "main")
        _to_instruments()


def _to_instruments() -> None:
    with ui.element("div").classes("row-wrap"):
        link_button("Instruments", links.INSTRUMENTS, "quiet")


async def _begin(
    lines: list[JobLine], contents: JobContents, asked: tuple[str, str, str], view: View
) -> None:
    """Choices of a job that can be tested, and the form that begins the sweep."""
    shop = shop_file()
    port = next((p for p in contents.ports if p.code == asked[0]), contents.ports[0]).code
    stages = [s.code for s in contents.stages]
    stage = asked[1] if asked[1] in stages else stages[-1]
    everything = shop.benches()
    codes = [b.code for b in everything if not b.service_to] or [b.code for b in everything]
    bench = asked[2] if asked[2] in codes else _usual_bench(contents, codes)

    def address(to_port: str, to_stage: str, to_bench: str = bench) -> str:
        return f"{links.bench(contents.job.number, to_port, to_stage)}&bench={to_bench}"

    with ui.element("div").classes("sheet fields"):
        choose_job(lines, contents.job.number, links.bench)
        choose_port_and_stage(contents, port, stage, address)
        if codes:
            Field(
                "Bench",
                bench,
                kind="choice",
                options=codes,
                on_change=lambda chosen: ui.navigate.to(address(port, stage, chosen)),
            )
    if not codes:
        ui.label("No bench is described yet.")
        link_button("Describe the bench", links.SHOP, "main")
        return
    found = await in_thread(set_up, shop, contents, port, bench)
    BenchSetUp(contents, port, stage, found, view)


def _usual_bench(contents: JobContents, codes: list[str]) -> str:
    newest = max(contents.runs, key=lambda r: (r.date, r.time, r.code), default=None)
    if newest is not None and newest.bench in codes:
        return newest.bench
    return codes[0] if codes else ""
