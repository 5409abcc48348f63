"""Every job of the shop, casting first."""

from __future__ import annotations

from dataclasses import replace

from nicegui import ui

from portwright.services import jobs as service
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.job_lines import job_lines
from portwright.ui.layout import link_button, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_SHOWN = 60


@screen(links.JOBS)
async def jobs(casting: str = "", words: str = "") -> None:
    """Search by casting, year, customer and words; results follow the typing."""
    shop = shop_file()
    known = await in_thread(service.castings, shop)
    wanted = service.Wanted(casting=casting, words=words)

    with page_frame("Jobs", "jobs"):

        def narrow(**fields: str) -> None:
            nonlocal wanted
            wanted = replace(wanted, **fields)
            found.refresh()

        with ui.element("search").classes("sheet"):
            with ui.element("div").classes("fields"):
                Field(
                    "Casting",
                    casting,
                    kind="search",
                    options=known,
                    on_change=lambda text: narrow(casting=text),
                )
                Field("Since year", on_change=lambda text: narrow(since=text))
                Field("Customer", on_change=lambda text: narrow(customer=text))
                Field(
                    "Words",
                    words,
                    kind="search",
                    on_change=lambda text: narrow(words=text),
                )
            with ui.element("div").classes("row-wrap"):
                link_button("New job", links.NEW_JOB, "main")
                link_button("Search words and numbers", links.FIND)

        @ui.refreshable
        async def found() -> None:
            asked = wanted
            lines = await in_thread(service.search, shop, asked)
            if asked != wanted:
                return  # typed further meanwhile; a newer search is on its way
            few = lines[:_SHOWN]
            said = f"{len(lines)} jobs" if len(lines) != 1 else "1 job"
            if len(lines) > len(few):
                said += f", the newest {len(few)} shown"
            ui.label(said).classes("strong").props("role=status")
            job_lines(few)

        await found()
