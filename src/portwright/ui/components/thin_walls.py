"""Walls without metal, loud at the head of every screen of the casting."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from portwright.errors import Finding
from portwright.model.contents import JobContents
from portwright.services.metal import loud_walls
from portwright.ui import links
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread


async def thin_walls(
    contents: JobContents | None, view: View, port: str = "", *, shown: int = 1
) -> None:
    """Say which walls have no metal left, in this job and in earlier ones of the casting.

    Parameters
    ----------
    contents : JobContents or None
        Nothing is said without a job.
    view : View
        Units of the page.
    port : str
        Port at hand: what does not concern it is only counted. "" takes all.
    shown : int
        Walls named, thinnest first; the others are counted, as the screen is for its own work.
    """
    if contents is None:
        return
    place = ui.element("div").style("display: contents")

    async def show() -> None:
        found = await in_thread(loud_walls, shop_file(), contents, view.display)
        place.clear()
        if found:
            with place:
                _say(found, contents.job.number, port, shown)

    await show()
    view.on_change(show)


def _say(found: Sequence[Finding], job: str, port: str, shown: int) -> None:
    here = [f for f in found if not port or f.where.port in {port, ""}][:shown]
    others = len(found) - len(here)
    with ui.element("section").classes("notice fault").props('aria-label="Walls without metal"'):
        ui.label("No metal").classes("kind")
        for finding in here:
            ui.label(finding.message).classes("strong")
        with ui.element("div").classes("row-wrap"):
            if others:
                more = "more " if here else ""
                words = f"1 {more}wall" if others == 1 else f"{others} {more}walls"
                ui.label(f"{words} of this casting at the limit, or planned to it.")
            ui.link("Walls", links.walls(job, port))
