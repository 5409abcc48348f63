"""A page whose work waits for a file, so that a test decides how long it takes."""

from __future__ import annotations

import time
from pathlib import Path

from nicegui import ui

from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.layout import page_frame, screen

ADDRESS = "/waiting"


@screen(ADDRESS)
def waiting(gate: str) -> None:
    """Work that notes that it began and goes on until ``gate`` exists."""

    def work(told: Told) -> str:
        with Path(f"{gate}.begun").open("a", encoding="utf-8") as out:
            out.write("begun\n")
        while not Path(gate).exists():
            told("Waiting at the gate")
            time.sleep(0.01)
        return "Through the gate"

    with page_frame("Waiting"):
        SlowWork(f"waiting {gate}", work, ui.label)
