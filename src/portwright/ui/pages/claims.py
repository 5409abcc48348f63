"""Another shop's sheet: a claim, with what to ask before it means anything."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

from nicegui import ui

from portwright import units
from portwright.services.claims import Claim, answer, claims
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, link_button, page_frame, raw, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread
from portwright.units import Kind


@screen(links.CLAIMS)
async def claims_page(job: str = "") -> None:
    """One sheet of paper for each foreign sheet."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("compare.css")}">')
    found = await in_thread(claims, shop_file(), job)
    with page_frame("Other shops' sheets", "jobs") as view:
        link_button(f"Job {job}", links.job(job), "quiet").style("align-self: flex-start")
        if not found:
            ui.label("No foreign sheet is kept with this job.")
            ui.label("Read one like any other sheet; a column 'claimed flow' makes it a claim.")
            link_button("Read a sheet", links.sheets(job), "main")

        @ui.refreshable
        def shown() -> None:
            for claim in claims(shop_file(), job):
                _claim(job, claim, view, shown.refresh)

        shown()
        view.on_change(shown.refresh)


def _claim(job: str, claim: Claim, view: View, kept: Callable[[], object]) -> None:
    display = view.display
    with ui.element("section").classes("sheet"):
        heading(f"{claim.source}: {claim.port}")
        ui.label(claim.sentence()).classes("verdict")
        if claim.measured_on:
            ui.label(f"Held against the valve measured on {claim.measured_on}.").classes("soft")
        if claim.questions:
            with ui.element("div").classes("notice ask"):
                ui.label("Ask first").classes("kind")
                with ui.element("ol"):
                    for question in claim.questions:
                        raw(escape(question), "li")
            _answer_box(job, claim, kept)
        if claim.answers:
            with ui.element("dl").classes("facts wide"):
                for question, text in claim.answers.items():
                    with ui.element("div"):
                        raw(escape(question), "dt")
                        raw(escape(text), "dd")
        table(
            (
                f"Lift [{display.length}]",
                f"Claimed [{display.flow}]",
                f"Needs [{units.sign(display.area)}]",
                "On the curtain",
                "On the net throat",
                "Is it possible?",
            ),
            [
                (
                    display.lift_text(f.lift),
                    units.show(f.flow, display.flow, Kind.FLOW, 0),
                    units.show(f.area, display.area, Kind.AREA),
                    f"{f.curtain_coefficient:.2f}",
                    f"{f.throat_coefficient:.2f}",
                    f.possible.value,
                )
                for f in claim.flows
            ],
            numeric=(0, 1, 2, 3, 4),
        )


def _answer_box(job: str, claim: Claim, kept: Callable[[], object]) -> None:
    """A box for each open question; the sheet itself stays as it came."""
    with ui.element("details").classes("more"):
        with ui.element("summary"):
            ui.label("Write the answers")
        with ui.element("div").classes("stack"):
            boxes = {question: Field(question) for question in claim.questions}

            def keep() -> None:
                answer(shop_file(), job, claim, {q: box.value for q, box in boxes.items()})
                kept()

            button("Keep the answers", keep, "main").style("align-self: flex-start")
