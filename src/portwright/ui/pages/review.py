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
from portwright.ui.work import in_thread
from portwright.units import Kind


@screen(links.REVIEW)
async def review_page(job: str = "", run: str = "") -> None:
    """Rows on one side, the paper on the other."""
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
        with ui.element("div").classes("columns"):
            with ui.element("div").classes("stack"):

                @ui.refreshable
                def rows() -> None:
                    _rows(review(shop, f"{job}/{code}"), view)

                rows()
                view.on_change(rows.refresh)
                by = Field("Compared with the paper by")

                def keep() -> None:
                    found = review(shop, f"{job}/{code}")
                    open_ = [r.position for r in found.rows if not r.confirmed]
                    confirm(shop, f"{job}/{code}", chosen_rows(open_, number.value), by.value)
                    rows.refresh()

                number = Field("Rows", hint="like 1-4, 6; nothing for all that are open")
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
                "Range",
                "100 % is",
                f"Flow [{display.flow}] at {display.pressure_text(found.pressure)}",
                "By square root",
                "± 95 %",
                "Confirmed",
            ),
            [
                (
                    str(r.position + 1),
                    r.lift,
                    r.shown,
                    str(r.range_number or "–"),
                    r.full_scale or "–",
                    flow(r.flow),
                    flow(r.square_root),
                    f"{100 * r.half:.1f} %" if r.half else "–",
                    r.confirmed or "not yet",
                )
                for r in found.rows
            ],
            numeric=(0, 5, 6, 7),
        )
        ui.label(
            "The sheet's own numbers stay as they are. Moving a flow to another pressure by the "
            "square root is itself off by up to 2.5 %; that is why both are shown."
        ).classes("small soft")
