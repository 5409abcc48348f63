"""An old sheet row by row, with its scan beside it."""

from __future__ import annotations

import math

from nicegui import ui

from portwright import units
from portwright.services.review import Review, chosen_rows, confirm, review
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.photos import photos
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind


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
            with ui.element("div").classes("stack"):

                @ui.refreshable
                def rows() -> None:
                    _rows(review(shop, f"{job}/{code}"), view)

                rows()
                view.on_change(rows.refresh)
                with ui.element("section").classes("sheet"):
                    with ui.element("div").classes("fields"):
                        number = Field("Rows", hint="like 1-4, 6; nothing for all that are open")
                        by = Field("Compared with the paper by")

                    def keep() -> None:
                        found = review(shop, f"{job}/{code}")
                        open_ = [r.position for r in found.rows if not r.confirmed]
                        confirm(shop, f"{job}/{code}", chosen_rows(open_, number.value), by.value)
                        rows.refresh()

                    button("Confirm these rows", keep, "main").style("align-self: flex-start")
            with ui.element("div").classes("stack"):
                paper = "The paper: photograph or scan it; it is kept with the job."
                ui.label(paper).classes("soft")
                photos(contents)


def _rows(found: Review, view: View) -> None:
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

        table(
            (
                "Row",
                "Lift",
                "Sheet",
                "Range: 100 %",
                f"Flow [{display.flow}]",
                "By root",
                "Confirmed",
            ),
            [
                (
                    str(r.position + 1),
                    r.lift,
                    r.shown,
                    f"{r.range_number}: {r.full_scale}" if r.range_number else "–",
                    flow(r.flow),
                    flow(r.square_root),
                    r.confirmed or "not yet",
                )
                for r in found.rows
            ],
            numeric=(0, 4, 5),
        )
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
