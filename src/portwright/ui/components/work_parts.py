"""Headed lines of a work sheet on a screen."""

from __future__ import annotations

from collections.abc import Container, Iterable

from nicegui import ui

from portwright.services.work_sheet import Part
from portwright.ui.layout import heading, table


def work_parts(parts: Iterable[Part], titles: Container[str]) -> None:
    """Show the parts with these titles."""
    for part in parts:
        if part.title in titles:
            with ui.element("section").classes("sheet mill-sheet"):
                heading(part.title)
                if part.lines:
                    with ui.element("ul"):
                        for line in part.lines:
                            with ui.element("li"):
                                ui.label(line)
                if part.grid is not None:
                    table(part.grid.headings, part.grid.rows, numeric=part.grid.numeric)
                for note in part.notes:
                    ui.label(note).classes("small soft")
