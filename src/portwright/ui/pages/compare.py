"""Any stages or sweeps against each other: what changed, and how sure that is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from urllib.parse import urlencode

from nicegui import ui

from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.services import jobs
from portwright.services.coefficients import (
    CoefficientTable,
    coefficient_headings,
    coefficient_note,
    coefficient_rows,
    coefficient_tables,
)
from portwright.services.compare import RunComparison
from portwright.services.side_by_side import Beside, names_of, side_by_side
from portwright.services.wording import sentence
from portwright.ui import links
from portwright.ui.components.choose_curves import ChooseCurves, split_name
from portwright.ui.components.compare_charts import curves_spec, gain_spec
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import FlowChart
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.components.verdict import conditions, limits, numbers, verdict
from portwright.ui.layout import Switch, heading, link_button, page_frame, screen, table
from portwright.ui.pages.uniformity import address as uniformity_address
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_PART = ","


def address(names: Sequence[str], cam: str = "", as_read: str = "") -> str:
    """Compare screen for names as :func:`side_by_side` takes them."""
    parts = {"names": _PART.join(names), "cam": cam, "as_read": as_read}
    return f"{links.COMPARE}?{urlencode({k: v for k, v in parts.items() if v})}"


@screen(links.COMPARE)
async def compare(
    job: str = "", runs: str = "", names: str = "", cam: str = "", as_read: str = ""
) -> None:
    """Choices above, answer below."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    swept = [line.job.number for line in lines if line.runs]
    chosen = [n for n in names.split(_PART) if n]
    wanted = dict.fromkeys([split_name(n)[0] for n in chosen] or ([job] if job else swept[:1]))
    contents = {number: await in_thread(shop.job, number) for number in wanted}
    if not chosen and contents:
        first = next(iter(contents.values()))
        chosen = names_of(first, [r for r in runs.split(_PART) if r]) or usual_names(first)
    chosen = [_complete(n, contents) for n in chosen]
    with page_frame("Compare", "compare") as view:
        if len(chosen) < 2:
            ui.label("There is nothing to compare yet: two sweeps or stages are needed.")
            link_button("Flow test", links.bench(job), "main")
            return

        def go(new: Sequence[str]) -> None:
            ui.navigate.to(address(new, cam, as_read))

        choice = ChooseCurves(chosen, contents, lines, go)
        last = contents[split_name(chosen[-1])[0]]
        await thin_walls(last, view)
        with choice.row:
            link_button("All ports of a head", uniformity_address(last.job.number), "quiet")
            _cams(last, cam, lambda card: ui.navigate.to(address(chosen, card, as_read)))
        _answer(chosen, cam, as_read, view)


def usual_names(contents: JobContents) -> list[str]:
    """First against last stage of the port with most stages, else two ports of one stage."""
    order = [s.code for s in contents.stages]
    by_port: dict[str, set[str]] = {}
    for run in contents.runs:
        by_port.setdefault(run.port, set()).add(run.stage)
    if not by_port:
        return []
    job = contents.job.number
    port = max(by_port, key=lambda p: len(by_port[p]))
    stages = sorted(by_port[port], key=lambda s: order.index(s) if s in order else -1)
    if len(stages) > 1:
        return [f"{job}/{port}:{stages[0]}", f"{job}/{port}:{stages[-1]}"]
    return [f"{job}/{p}:{stages[0]}" for p in list(by_port)[:2]]


def _complete(name: str, contents: dict[str, JobContents]) -> str:
    """A name whose port or stage the job does not have, with the nearest it has."""
    job, port, what = split_name(name)
    runs = contents[job].runs
    if not port:
        return name
    if not runs:
        raise InputError(f"Job {job} has no sweeps.", "Choose another job, or sweep a port first.")
    ports = [r.port for r in runs]
    port = port if port in ports else ports[-1]
    stages = [r.stage for r in runs if r.port == port]
    return f"{job}/{port}:{what if what in stages else stages[-1]}"


def _cams(contents: JobContents, cam: str, go: Callable[[str], object]) -> None:
    cards = [c.card for c in contents.cams if c.points]
    if len(cards) > 1 or (cam and cards):
        Field(
            "Weighed by the open time of cam",
            cam,
            kind="choice",
            options={"": "none chosen"} | {c: c for c in cards},
            on_change=go,
        )


def _answer(names: list[str], cam: str, as_read: str, view: View) -> None:
    shop = shop_file()

    def work(told: Told) -> tuple[list[Beside], list[CoefficientTable]]:
        found = side_by_side(shop, names, cam=cam or None, as_read=bool(as_read), told=told)
        pairs = (coefficient_tables(shop, b.comparison) for b in found if b.comparison)
        tables = {table.label: table for pair in pairs for table in pair if table}
        return found, list(tables.values())

    def show(made: tuple[list[Beside], list[CoefficientTable]]) -> None:
        found, coefficients = made

        @ui.refreshable
        def result() -> None:
            _show(found, view)
            for known in coefficients:
                _coefficients(known, view)

        if any(_two_benches(item) for item in found):
            with ui.element("div").classes("row-wrap"):
                ui.label("Sweeps of two benches").classes("strong")
                Switch(
                    "Sweeps of two benches",
                    {"": "Translated", "1": "As read"},
                    as_read,
                    lambda chosen: ui.navigate.to(address(names, cam, chosen)),
                )
        result()
        view.on_change(result.refresh)

    SlowWork(f"compare {names} {cam} {as_read}", work, show)


def _coefficients(known: CoefficientTable, view: View) -> None:
    with ui.expansion(f"Discharge coefficients of {known.label}").classes("fold"):
        headings = coefficient_headings(view.display)
        table(headings, coefficient_rows(known, view.display), numeric=tuple(range(len(headings))))
        ui.label(coefficient_note(known)).classes("small soft")


def _two_benches(item: Beside) -> bool:
    found = item.comparison
    return found is not None and found.before.bench != found.after.bench


def _show(found: list[Beside], view: View) -> None:
    good: list[RunComparison] = []
    with ui.element("section").classes("sheet"):
        heading("Did it do anything?")
        for item in found:
            if item.comparison is not None:
                verdict(item.comparison, view)
                good.append(item.comparison)
            elif item.refused is not None:
                with ui.element("div").classes("notice fault").props("role=alert"):
                    ui.label(f"Not compared: {item.name}").classes("kind")
                    ui.label(item.refused.message).classes("strong")
                    ui.label(item.refused.hint)
    if not good:
        return
    display = view.display
    words = " ".join(sentence(c, view.choice.length) for c in good)
    with ui.element("div").classes("charts"):
        with ui.element("section").classes("sheet"):
            heading("Flow")
            FlowChart(curves_spec(good, display, words))
        with ui.element("section").classes("sheet"):
            heading("Gain")
            FlowChart(gain_spec(good, display, words))
    limits(good)
    conditions(good)
    with ui.element("section").classes("sheet"):
        heading("Numbers")
        for comparison in good:
            numbers(comparison, view)
