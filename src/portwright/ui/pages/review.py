"""An old sheet row by row, with its scan beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from nicegui import ui

from portwright import units
from portwright.errors import InputError
from portwright.services.review import Review, ReviewRow, confirm, review
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.paper import paper
from portwright.ui.layout import button, heading, link_button, page_frame, raw, screen
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind

_NUMBERS = (0, 4, 5)  # columns set to the right
_NUMERIC = ' class="num"'


@screen(links.REVIEW)
async def review_page(job: str = "", run: str = "") -> None:
    """Rows on one side, the paper on the other."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    shop = shop_file()
    contents = await in_thread(shop.job, job)
    code = run or next((r.code for r in contents.runs), "")
    with page_frame("Old sheet, row by row", "jobs") as view:
        with ui.element("div").classes("sheet fields"):
            Field(
                "Sweep",
                code,
                kind="choice",
                options={r.code: f"{r.date} {r.bench} {r.port} {r.stage}" for r in contents.runs},
                on_change=lambda new: ui.navigate.to(links.review(job, new)),
            )
            link_button(f"Job {job}", links.job(job), "quiet")
        if not code:
            ui.label("This job has no sweeps.")
            return
        with ui.element("div").classes("columns paper-beside"):
            paper(contents, next(r.stage for r in contents.runs if r.code == code))
            with ui.element("div").classes("stack"):
                ticks: dict[int, ui.checkbox] = {}

                @ui.refreshable
                def rows() -> None:
                    ticks.clear()
                    _rows(review(shop, f"{job}/{code}"), view, ticks)

                rows()
                view.on_change(rows.refresh)
                with ui.element("section").classes("sheet"):
                    by = Field("Compared with the paper by", hint="your name or initials")

                    def keep() -> None:
                        chosen = [place for place, tick in ticks.items() if tick.value]
                        if not chosen:
                            raise InputError(
                                "No row is ticked.", "Tick each row that reads as on the paper."
                            )
                        confirm(shop, f"{job}/{code}", chosen, by.value)
                        rows.refresh()

                    def tick_all() -> None:
                        for tick in ticks.values():
                            tick.value = True

                    with ui.element("div").classes("row-wrap"):
                        button("Confirm the ticked rows", keep, "main")
                        button("Tick all", tick_all)
                        link_button("Correct a reading", links.bench(run=f"{job}/{code}"), "quiet")


def _rows(found: Review, view: View, ticks: dict[int, ui.checkbox]) -> None:
    display = view.display
    with ui.element("section").classes("sheet"):
        heading(f"{found.run.port} {found.run.stage}, {found.run.date}, bench {found.run.bench}")
        said = (
            f"{found.open} of {len(found.rows)} rows are not compared with the paper yet."
            if found.open
            else "All rows were compared with the paper."
        )
        ui.label(said).classes("verdict")
        ui.label(found.calibration).classes("small soft")

        def flow(value: float) -> str:
            if not math.isfinite(value):
                return "–"
            return units.show(value, display.flow, Kind.FLOW)

        headings = ("Row", "Lift", "Sheet", "Range: 100 %", f"Flow [{display.flow}]", "By root")
        frame = ui.element("div").classes("scroll-x").props("tabindex=0 role=region")
        frame.props["aria-label"] = "Rows of the sheet"
        with frame, ui.element("table").classes("plain"):
            titles = "".join(
                f'<th scope="col"{_NUMERIC if n in _NUMBERS else ""}>{escape(title)}</th>'
                for n, title in enumerate((*headings, "As on paper"))
            )
            raw(f"<tr>{titles}</tr>", "thead")
            with ui.element("tbody"):
                for row in found.rows:
                    constant = f"{row.range_number}: {row.full_scale}" if row.range_number else "–"
                    cells = (
                        *(str(row.position + 1), row.lift, row.shown, constant),
                        *(flow(row.flow), flow(row.square_root)),
                    )
                    _row(row, cells, ticks)
        half = max((r.half for r in found.rows), default=0.0)
        moved = (
            f"Moving a flow from the pressure of the bench adds ± {100 * half:.1f} % (95 %), and "
            "the plain square root, as most sheets have it, is itself off by up to 2.5 %; that is "
            "why both are shown."
            if half
            else "Nothing was moved to another pressure."
        )
        ui.label(
            f"Flow at {display.pressure_text(found.pressure)}. The sheet's own numbers stay as "
            f"they are. {moved}"
        ).classes("small soft")


def _row(row: ReviewRow, cells: Sequence[str], ticks: dict[int, ui.checkbox]) -> None:
    """One row of the table, with a box to tick while nobody has compared it."""
    with ui.element("tr"):
        for n, text in enumerate(cells):
            raw(escape(text), "td").classes("num" if n in _NUMBERS else "")
        with ui.element("td"):
            if row.confirmed:
                ui.label(row.confirmed)
                return
            tick = ticks[row.position] = ui.checkbox()
            tick.props["aria-label"] = (
                f"Row {row.position + 1}, {row.lift}, {row.shown}: as on paper"
            )
