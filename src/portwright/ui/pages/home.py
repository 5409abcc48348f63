"""Start: what is on the benches now."""

from __future__ import annotations

from nicegui import ui

from portwright.ui import links
from portwright.ui.layout import link_button, page_frame


@ui.page(links.HOME)
def home() -> None:
    """Open jobs and the two things done most."""
    with page_frame("Today"), ui.element("div").classes("row-wrap"):
        link_button("New job", links.NEW_JOB, "main")
