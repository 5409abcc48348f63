"""Clearances nobody measured, as loud as they deserve."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.services.checked import Check
from portwright.services.clearances import usual_checks
from portwright.ui import links
from portwright.ui.layout import heading, link_button


def open_checks(contents: JobContents) -> None:
    """What is not checked yet, then what is on record; never a verdict."""
    checks = usual_checks(contents)
    missing = [check.name for check in checks if check.found is None]
    with ui.element("section").classes("sheet"):
        heading("Clearances")
        if missing:
            with ui.element("div").classes("notice fault"):
                ui.label("Not checked yet").classes("kind")
                with ui.element("ul"):
                    for name in missing:
                        with ui.element("li"):
                            ui.label(name).classes("strong")
        lacking = sorted({part for check in checks for part in check.missing}, reverse=True)
        if lacking:
            with ui.element("div").classes("notice fault"):
                what = " and ".join(lacking)
                ui.label(f"Not checked yet: on record without {what}").classes("kind")
                _values([check for check in checks if check.missing])
        done = [check for check in checks if check.done]
        if done:
            ui.label("Checked").classes("small soft")
            _values(done)
        if lacking or done:
            ui.label("All of it is to be judged by the assembler.").classes("small soft")
        link_button("Record a check", links.springs(contents.job.number)).style(
            "align-self: flex-start"
        )


def _values(checks: Sequence[Check]) -> None:
    with ui.element("dl").classes("facts"):
        for check in checks:
            if check.found is not None:
                with ui.element("dt"):
                    ui.label(check.name)
                with ui.element("dd"):
                    ui.label(str(check.found.value)).classes("number")
