"""Search in words and numbers over the whole shop."""

from __future__ import annotations

from nicegui import ui

from portwright.services.find import Answer, Found, find
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.layout import button, link_button, page_frame, screen
from portwright.ui.state import View, shop_file

PLACE = links.FIND
_LINES = 4  # shown of one job


def search_box(words: str = "") -> None:
    """One box for everything; Enter searches."""

    def go(text: str) -> None:
        if text.strip():
            ui.navigate.to(links.find(text.strip()))

    box = Field(
        "Search everything",
        words,
        kind="search",
        hint="words and numbers: 44 mm intake over 150 at 11",
        on_enter=go,
    )
    button("Search", lambda: go(box.value), "main").style("align-self: flex-start")


@screen(PLACE)
async def find_page(words: str = "") -> None:
    """The box above, jobs that fit below."""
    with page_frame("Search", "jobs") as view:
        with ui.element("search").classes("sheet"):
            search_box(words)
        if words.strip():
            _answer(words, view)


def _answer(words: str, view: View) -> None:
    shop, display = shop_file(), view.display

    def work(told: Told) -> Answer:
        return find(shop, words, display, told)

    def show(answer: Answer) -> None:
        said = f"{answer.count}: {answer.question.describe(display)}"
        ui.label(said[0].upper() + said[1:]).classes("strong").props("role=status")
        for item in answer.jobs:
            _job(item)
        if answer.more:
            ui.label("Add a word, a size or a year to see older ones.").classes("soft")
        if not answer.jobs:
            ui.label("Nothing fits. Leave a word or a number out.").classes("soft")

    SlowWork(f"find {words} {display}", work, show)


def _job(item: Found) -> None:
    job = item.job
    with ui.element("section").classes("sheet"):
        words = (job.number, job.casting, job.customer, job.opened[:10])
        link_button("  ·  ".join(w for w in words if w), links.job(job.number)).style(
            "align-self: flex-start"
        )
        for line in item.lines[:_LINES]:
            ui.label(line).style("overflow-wrap: anywhere")
        if len(item.lines) > _LINES:
            ui.label(f"and {len(item.lines) - _LINES} more places").classes("small soft")
