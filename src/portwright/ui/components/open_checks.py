"""Clearances nobody measured, as loud as they deserve."""

from __future__ import annotations

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.services.clearances import USUAL_CHECKS, measured_checks
from portwright.ui import links
from portwright.ui.layout import heading, link_button


def open_checks(contents: JobContents) -> None:
    """What is not checked yet, then what was measured; never a verdict."""
    measured = measured_checks(contents)
    missing = [check for check in USUAL_CHECKS if check not in measured]
    with ui.element("section").classes("sheet"):
        heading("Clearances")
        if missing:
            with ui.element("div").classes("notice fault"):
                ui.label("Not checked yet").classes("kind")
                with ui.element("ul"):
                    for check in missing:
                        with ui.element("li"):
                            ui.label(check).classes("strong")
        if measured:
            ui.label("Measured, and to be judged by the assembler").classes("small soft")
            with ui.element("dl").classes("facts"):
                for check, value in measured.items():
                    with ui.element("dt"):
                        ui.label(check)
                    with ui.element("dd"):
                        ui.label(value).classes("number")
        link_button("Record a check", links.springs(contents.job.number)).style(
            "align-self: flex-start"
        )
