"""Pages that take long: one waits for a file, as long as a test decides; one is built late."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

from nicegui import ui

from portwright.archive.archive import Archive
from portwright.services.report import ReportChoices, report_pdf
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.layout import page_frame, screen
from portwright.ui.pages import report

ADDRESS = "/waiting"
LATE = "/late"
GATED = "gate:"  # begins the number of a job whose report waits for the file named after it


def _held(
    archive: Archive, job: str, choices: ReportChoices | None = None, told: Told | None = None
) -> bytes:
    """A report that takes as long as the test says."""
    if not job.startswith(GATED):
        return report_pdf(archive, job, choices, told)
    gate = Path(job.removeprefix(GATED))
    with Path(f"{gate}.begun").open("a", encoding="utf-8") as out:
        out.write("begun\n")
    while not gate.exists():
        if told is not None:
            told("Opening the photos")
        time.sleep(0.01)
    return b"%PDF-1.7 through the gate"


vars(report)["report_pdf"] = _held


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


@screen(LATE)
async def late() -> None:
    """Built later than the framework waits for a page unless it is told to."""
    await asyncio.sleep(4.0)
    with page_frame("Late"):
        ui.label("Better late than never")
