"""Headed parts of a work sheet as plain text."""

from __future__ import annotations

from collections.abc import Container, Iterable

from portwright.cli.output import say, table
from portwright.services.work_sheet import Part


def say_parts(parts: Iterable[Part], titles: Container[str] | None = None) -> None:
    """Print the parts, or those with these titles: heading, lines, table, notes."""
    for part in parts:
        if titles is not None and part.title not in titles:
            continue
        say(part.title.upper())
        for line in part.lines:
            say(f"  {line}")
        if part.grid is not None:
            table(part.grid.headings, part.grid.rows, numeric=part.grid.numeric)
        for note in part.notes:
            say(f"  {note}")
        say()
