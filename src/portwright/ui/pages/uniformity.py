"""Are all ports of a head alike, and what is different on the one that is not."""

from __future__ import annotations

from urllib.parse import urlencode

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.services import jobs
from portwright.services.do_not_touch import do_not_touch, leave_alone
from portwright.services.odd_port import Oddity
from portwright.services.timeline import kind_of
from portwright.services.uniformity import PortMark, Uniformity, uniformity
from portwright.ui import format as shown
from portwright.ui import links
from portwright.ui.components.choose_place import choose_job
from portwright.ui.components.field import Field
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.components.uniformity_strip import uniformity_strip
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

PLACE = "/uniformity"


def address(job: str, side: str = "", stage: str = "", head: str = "") -> str:
    """Uniformity screen."""
    parts = {"job": job, "side": side, "stage": stage, "head": head}
    return f"{PLACE}?{urlencode({k: v for k, v in parts.items() if v})}"


@screen(PLACE)
async def uniformity_page(job: str = "", side: str = "", stage: str = "", head: str = "") -> None:
    """Choices above, one strip for each band of lift below."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    lines = await in_thread(jobs.search, shop, jobs.Wanted())
    number = job or next((ln.job.number for ln in lines if ln.runs), "")
    contents = await in_thread(shop.job, number) if number else None
    with page_frame("All ports", "compare") as view:
        if contents is None or not contents.runs:
            ui.label("There are no sweeps in this job yet.")
            link_button("Flow test", links.bench(number), "main")
            return
        chosen = _choices(contents, side, stage, head)
        with ui.element("div").classes("sheet fields"):
            choose_job([ln for ln in lines if ln.runs], number, address)
            _fields(contents, chosen)
        await thin_walls(contents, view)
        _answer(number, chosen, view)
        await _leave_alone(number)


async def _leave_alone(number: str) -> None:
    """Where no more metal may go, carried on from earlier jobs of the casting."""
    shop = shop_file()
    with ui.element("section").classes("sheet"):
        heading("Do not touch")

        @ui.refreshable
        async def listed() -> None:
            found = await in_thread(do_not_touch, shop, number)
            for item in found:
                with ui.element("div").classes("notice fault"):
                    where = item.place or "the head"
                    ui.label(where if item.job == number else f"{where}, from job {item.job}")
                    ui.label(item.text)
            if not found:
                ui.label("Nothing is noted for this head or its casting.").classes("soft")

        await listed()
        with ui.element("div").classes("fields"):
            place = Field("Place", hint="like I5 pinch")
            why = Field("Why", hint="like: wall 2.6 mm")

        def note() -> None:
            leave_alone(shop, number, place.value, why.value)
            place.set("")
            why.set("")
            listed.refresh()

        button("Note it for this casting", note).style("align-self: flex-start")


def _choices(contents: JobContents, side: str, stage: str, head: str) -> tuple[Side, str, str]:
    """What was asked for, as far as the job has it; else the stage with most ports swept."""
    picked = Side(side) if side in set(Side) else Side.INTAKE
    ports = {p.code for p in contents.ports if p.side is picked}
    swept: dict[str, set[str]] = {}
    for run in contents.runs:
        if run.port in ports:
            swept.setdefault(run.stage, set()).add(run.port)
    if stage not in swept:
        order = [s.code for s in contents.stages]
        stage = max(
            swept, key=lambda s: (len(swept[s]), order.index(s) if s in order else -1), default=""
        )
    return picked, stage, head if head in {h.code for h in contents.heads} else ""


def _fields(contents: JobContents, chosen: tuple[Side, str, str]) -> None:
    number, (side, stage, head) = contents.job.number, chosen
    Field(
        "Side",
        side.value,
        kind="choice",
        options=[s.value for s in Side],
        on_change=lambda new: ui.navigate.to(address(number, new, stage, head)),
    )
    Field(
        "Stage",
        stage,
        kind="choice",
        options={s.code: f"{s.code} {s.note[:48]}" for s in contents.stages},
        on_change=lambda new: ui.navigate.to(address(number, side, new, head)),
    )
    if len(contents.heads) > 1:
        Field(
            "Head",
            head,
            kind="choice",
            options={"": "all heads"} | {h.code: h.code for h in contents.heads},
            on_change=lambda new: ui.navigate.to(address(number, side, stage, new)),
        )


def _answer(number: str, chosen: tuple[Side, str, str], view: View) -> None:
    shop, (side, stage, head) = shop_file(), chosen

    def work(told: Told) -> Uniformity:
        told(f"Checking the sweeps of job {number}")
        return uniformity(shop, number, side, stage, head)

    def show(found: Uniformity) -> None:
        @ui.refreshable
        def result() -> None:
            _show(found, view)

        result()
        view.on_change(result.refresh)

    SlowWork(f"uniformity {number} {chosen}", work, show)


def words(found: Uniformity) -> str:
    """The answer in a sentence."""
    whole = found.bands[0]
    spread = f"{100 * whole.spread:.1f} % from the lowest to the highest port"
    odd = [p for p in found.ports if p.differs]
    if not odd:
        return (
            f"The {len(found.ports)} {found.side} ports are alike as far as this bench can tell: "
            f"{spread}, and repeats alone make up to {100 * whole.by_chance:.1f} %."
        )
    worst = max(odd, key=lambda p: max(abs(d.value) for d in p.bands))
    size = max(worst.bands, key=lambda d: abs(d.value))
    band = found.bands[worst.bands.index(size)].name
    return (
        f"{worst.port} stands out: {shown.signed_percent(size.value)} against the mean of "
        f"{len(found.ports)} {found.side} ports ({band}). Over all lifts there are {spread}; "
        f"repeats alone make up to {100 * whole.by_chance:.1f} %."
    )


def _show(found: Uniformity, view: View) -> None:
    with ui.element("section").classes("sheet"):
        heading("Are they alike?")
        ui.label(words(found)).classes("verdict")
        for mark in found.ports:
            if mark.oddities:
                _explain(mark, view)
        if found.missing:
            ui.label(f"Not swept in this set-up: {', '.join(found.missing)}.").classes("tag ask")
        for code, why in found.left_out.items():
            with ui.element("div").classes("notice ask"):
                ui.label(f"{code} is left out: {why}")
    with ui.element("div").classes("charts"):
        for place, band in enumerate(found.bands):
            with ui.element("section").classes("sheet"):
                heading(band.name)
                uniformity_strip(found, place)
    with ui.element("section").classes("sheet"):
        heading("Numbers")
        table(
            ("Port", "Sweeps", *(b.name for b in found.bands)),
            [
                (
                    p.port,
                    ", ".join(p.runs),
                    *(
                        f"{shown.signed_percent(d.value)} ± {100 * d.half:.1f} %, {d.verdict.value}"
                        for d in p.bands
                    ),
                )
                for p in found.ports
            ],
        )
        ui.label(
            "Deviation from the mean of the ports; ± is 95 % for all ports together. The shaded "
            f"band is the spread that repeats alone make. Bench {found.bench}, {found.set_up}."
        ).classes("small soft")


def _explain(mark: PortMark, view: View) -> None:
    with ui.element("div").classes("notice ask"):
        ui.label(f"Measured differently on {mark.port}").classes("kind")
        for odd in mark.oddities:
            ui.label(_say(odd, view))


def _say(odd: Oddity, view: View) -> str:
    kind = kind_of(odd.quantity)
    low, high = (m.value for m in odd.others)
    values = (odd.here.value, low, high)
    here, least, most = (shown.typed(v, kind, view) if kind else str(v) for v in values)
    return f"{odd.quantity} {here}; its sisters have {least} to {most}."
