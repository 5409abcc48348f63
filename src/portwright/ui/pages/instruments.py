"""Instruments: a few lines that say how each is reached, beside what it sends now."""

from __future__ import annotations

from nicegui import ui

from portwright.errors import PortwrightError
from portwright.services import instruments, settle_rules, users
from portwright.services.instrument_preview import Preview
from portwright.services.instruments import Described
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.live_mode import live_bench, stop_listening
from portwright.ui.errors import error_words
from portwright.ui.layout import button, heading, link_button, page_frame, screen
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_LOOK = 0.5  # time between two looks at what came [s]
_LINES = 6


@screen(links.INSTRUMENTS)
async def instruments_page(name: str = "", begin: str = "") -> None:
    """One instrument is looked at, the others stand beside it."""
    # a description opens wires and folders of this computer: not for everybody who may look
    users.only_for(users.Role.OWNER, users.Role.PORTER)
    shop = shop_file()
    known = await in_thread(instruments.described, shop)
    found = next((d for d in known if d.instrument.name == name), None)
    if found is None and not begin and known:
        found = known[0]
    text = found.text if found else instruments.example(begin or "practice")
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("live.css")}">')
    with page_frame("Instruments", "bench") as view, ui.element("div").classes("columns"):
        left, right = (ui.element("div").classes("stack") for _ in range(2))
        Editor(text, found, view, (left, right))
        with right:
            _others(known, found)
            _rule()


def _others(known: list[Described], found: Described | None) -> None:
    with ui.element("section").classes("sheet"):
        heading("Known to the shop")
        with ui.element("div").classes("row-wrap"):
            for one in known:
                look = "main" if one is found else ""
                address = links.instruments(one.instrument.name)
                link_button(one.instrument.name, address, look)
        if not known:
            ui.label("None yet. The practice bench is a good beginning.").classes("soft")
        heading("Begin a new one with", 3)
        with ui.element("div").classes("row-wrap"):
            for example in instruments.examples():
                link_button(example.replace("_", " "), links.instruments("", example), "quiet")
        heading("To practise", 3)
        ui.label(
            "Type 'portwright practice-bench' in a terminal: it behaves like a bench, with motor, "
            "hunting and noise, and sends what the example called practice understands."
        ).classes("small")


def _rule() -> None:
    shop = shop_file()

    async def choose() -> None:
        rule = await in_thread(settle_rules.choose, shop, box.value)
        said.set_text(f"{rule.name} holds from the next sweep on.")

    with ui.element("section").classes("sheet"):
        heading("When a reading has settled")
        now = settle_rules.in_force(shop)
        box = Field(
            "Settle rule",
            now.name,
            options=settle_rules.rule_names(),
            hint="or with figures of your own: standard-1 shortest=5s flow_drift=0.3%",
        )
        button("Use it", choose).style("align-self: flex-start")
        said = ui.label().classes("strong").props("role=status")


class Editor:
    """The text of one instrument, and what it says while you write.

    Parameters
    ----------
    text : str
    kept : Described or None
        As the shop knows it.
    view : View
    places : tuple of element
        Where the text goes, and where what it says.
    """

    def __init__(
        self,
        text: str,
        kept: Described | None,
        view: View,
        places: tuple[ui.element, ui.element],
    ) -> None:
        self._view = view
        self._name = kept.instrument.name if kept else ""
        self._shown: object = None
        self._preview = Preview(live_bench(shop_file()))
        with places[0], ui.element("section").classes("sheet"):
            heading(self._name or "New instrument")
            self._box = Field("Description", text, kind="paragraph", on_change=self._written)
            self._box.classes("instrument-text").props("spellcheck=false")
            self._fault = ui.label().classes("tag fault").props("role=status")
            with ui.element("div").classes("row-wrap"):
                button("Keep it", self._keep, "main")
                if self._name:
                    button("Take it out", self._forget, "danger")
        with places[1], ui.element("section").classes("sheet"):
            heading("What it says now")
            self._state = ui.label().classes("strong").props("role=status")
            self._lines = ui.element("ul").classes("heard")
        self._written(text)
        ui.context.client.on_delete(self._closed)
        ui.timer(_LOOK, self._look)

    async def _closed(self) -> None:
        await in_thread(self._preview.close)

    def _written(self, text: str) -> None:
        try:
            self._preview.describe(text)
        except PortwrightError as error:
            message, hint = error_words(error)
            self._fault.set_text(f"{message} {hint}")
            self._fault.set_visibility(True)
        else:
            self._fault.set_visibility(False)

    async def _look(self) -> None:
        state, lines = await in_thread(self._preview.look, self._view.display, _LINES)
        self._state.set_text(state)
        if lines == self._shown:
            return
        self._shown = lines
        self._lines.clear()
        with self._lines:
            for line in lines:
                with ui.element("li").classes("" if line.values else "bad"):
                    with ui.element("code"):
                        ui.label(line.line)
                    said = "; ".join(f"{n} {v}" for n, v in line.values.items())
                    ui.label(said or "does not look like the pattern").classes("small")

    async def _keep(self) -> None:
        made = await in_thread(instruments.keep, shop_file(), self._box.value, self._name)
        await self._anew()
        ui.navigate.to(links.instruments(made.name))

    async def _forget(self) -> None:
        await in_thread(instruments.forget, shop_file(), self._name)
        await self._anew()
        ui.navigate.to(links.instruments())

    async def _anew(self) -> None:
        """Listen by the new descriptions; sweeps that are open live are reloaded by hand."""
        await in_thread(self._preview.close)
        await in_thread(stop_listening, shop_file())
