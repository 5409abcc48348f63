"""How the shop's records are: sound, backed up, room, clock, versions; and help for helpers."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime

from nicegui import ui

from portwright.services import diagnose, users
from portwright.services.health import Health, Item, State, look
from portwright.services.shop_log import Event, note
from portwright.ui import links
from portwright.ui.components.slow_work import SlowWork, Told, under_way
from portwright.ui.layout import button, heading, page_frame, screen
from portwright.ui.state import open_shop, shop_file
from portwright.ui.work import in_thread

_WORDS = {
    State.GOOD: ("good", "Good"),
    State.LOOK: ("ask", "See to it"),
    State.BAD: ("fault", "Bad"),
}
_KEY = "health"
_WHOLE = {
    State.GOOD: "All is well",
    State.LOOK: "It works; see to what is marked",
    State.BAD: "Something is wrong",
}


@screen(links.HEALTH)
def health_page() -> None:
    """Everything is looked at anew each time the page is opened."""
    users.only_for(users.Role.OWNER)

    def work(told: Told) -> Health:
        told("Checking every page of the shop file and the newest backup")
        return look(shop_file(), open_shop().place, under_way(besides=_KEY))

    with page_frame("Health", "shop"):
        SlowWork(_KEY, work, _show)


def _show(found: Health) -> None:
    with ui.element("div").classes("columns"):
        with ui.element("div").classes("stack"):
            with ui.element("section").classes("sheet"):
                heading(_WHOLE[found.state])
                for item in sorted(found.items, key=lambda one: -one.state.order):
                    _item(item)
            button("Look again", ui.navigate.reload).style("align-self: flex-start")
        with ui.element("div").classes("stack"), ui.element("section").classes("sheet"):
            heading("For whoever helps you")
            ui.label(
                "One file with this page as numbers, the versions and the log. No name, note, "
                "reading or path is in it; it is all text, look for yourself before you send it."
            )
            button("Save the bundle", lambda: _bundle(found)).style("align-self: flex-start")


def _item(item: Item) -> None:
    look_, word = _WORDS[item.state]
    with ui.element("div").classes(f"notice {look_}"):
        ui.label(f"{item.name[0].upper()}{item.name[1:]}: {word}").classes("kind small")
        ui.label(item.said).classes("strong").style("overflow-wrap: anywhere")
        if item.hint:
            ui.label(item.hint).classes("small")


async def _bundle(found: Health) -> None:
    def packed() -> bytes:
        made = io.BytesIO()
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as bundle:
            for name, text in diagnose.contents(open_shop().place, found).items():
                bundle.writestr(name, text)
        return made.getvalue()

    data = await in_thread(packed)
    note(Event.BUNDLE)
    ui.download(data, f"portwright-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.zip", "application/zip")
