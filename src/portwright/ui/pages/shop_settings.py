"""The shop: its name and units, its benches, the door to the network, a copy of it all."""

from __future__ import annotations

from dataclasses import replace

from nicegui import ui

from portwright.errors import InputError
from portwright.model.bench import Metering
from portwright.model.job import Shop
from portwright.services import benches, passphrase, users
from portwright.services.shop_file import backup, shown
from portwright.ui import links
from portwright.ui.components.backup_box import backup_box
from portwright.ui.components.field import Field
from portwright.ui.components.paper_settings import paper_settings
from portwright.ui.layout import Switch, button, heading, link_button, page_frame, screen, table
from portwright.ui.state import FLOWS, LENGTHS, THEMES, View, open_shop, shop_file
from portwright.ui.work import in_thread

_METERING = {
    Metering.DIRECT.value: "a flow, already at the test pressure",
    Metering.PERCENT_OF_RANGE.value: "percent of a numbered range",
}


@screen(links.SHOP)
def shop_settings() -> None:
    """Everything that is set once."""
    with page_frame("Shop", "shop") as view, ui.element("div").classes("columns"):
        with ui.element("div").classes("stack"):
            _shop()
            paper_settings()
            _light(view)
            _copy()
            backup_box()
            _health()
            _door()
        with ui.element("div").classes("stack"):
            _benches()
            _figures()


def _health() -> None:
    with ui.element("section").classes("sheet"):
        heading("Health")
        ui.label("Whether the shop file and the newest backup are sound, room, clock, versions.")
        link_button("Look the shop over", links.HEALTH).style("align-self: flex-start")


def _figures() -> None:
    with ui.element("section").classes("sheet"):
        heading("Figures")
        ui.label(
            "Minima and ranges that seats, clearances and inspections are held against, and how "
            "far the copies of a port may be off."
        )
        link_button("The shop's figures", links.FIGURES).style("align-self: flex-start")


def _shop() -> None:
    shop = shop_file().shop() or Shop("")
    with ui.element("section").classes("sheet"):
        heading("Shop")
        with ui.element("div").classes("fields"):
            name = Field("Shop name", shop.name)
            town = Field("Town", shop.town)
            porter = Field("Porter", shop.porter)
            length = Field("Lengths in", shop.length_unit, kind="choice", options=LENGTHS)
            flow = Field("Flow in", shop.flow_unit, kind="choice", options=FLOWS)

        def save() -> None:
            changed = replace(
                shop_file().shop() or shop,
                name=name.value.strip(),
                town=town.value.strip(),
                porter=porter.value.strip(),
                length_unit=length.value,
                flow_unit=flow.value,
            )
            shop_file().save_shop(changed)
            said.set_text("Saved")

        button("Save", save, "main").style("align-self: flex-start")
        said = ui.label().classes("strong").props("role=status")


def _light(view: View) -> None:
    with ui.element("section").classes("sheet"):
        heading("Light")
        names = dict(zip(THEMES, ("As the device", "Light", "Dark"), strict=True))
        with ui.element("div"):
            Switch("Light", names, view.choice.theme, lambda theme: view.change(theme=theme))


def _copy() -> None:
    async def copy() -> None:
        users.only_for(users.Role.OWNER, users.Role.PORTER)  # a copy fills the disk
        made = await in_thread(backup, shop_file())
        said.set_text(f"{made.path.name}, {made.size / 1e6:.1f} MB, checked. In {made.path.parent}")

    with ui.element("section").classes("sheet"):
        heading("Copy")
        where = "a database on a server" if shop_file().on_server else "one file"
        ui.label(
            f"Everything is in {where}. Copy it into a file, then carry the copy elsewhere."
        ).classes("soft")
        ui.label(shown(open_shop().place)).classes("small").style("overflow-wrap: anywhere")
        button("Copy the shop file", copy).style("align-self: flex-start")
        said = ui.label().classes("strong small").props("role=status")
        said.style("overflow-wrap: anywhere")


def _door() -> None:
    with ui.element("section").classes("sheet"):
        heading("Other devices")
        known = passphrase.is_set(shop_file())
        state = "open to the network" if open_shop().lan else "this computer only"
        ui.label(f"Now: {state}. A passphrase is {'set' if known else 'not set'}.")
        if address := open_shop().address():
            ui.label(address).classes("strong")
        else:
            ui.label("Start with 'portwright serve --lan' to let tablets in.").classes("small soft")
        link_button("People, devices, who changed what", links.PEOPLE).style(
            "align-self: flex-start"
        )
        ask_old = open_shop().lan and known
        old = Field("Present passphrase", kind="password") if ask_old else None
        phrase = Field("New shop passphrase", kind="password", hint="ten characters or more")

        async def save() -> None:
            users.only_for(users.Role.OWNER)  # else anybody with a log-in could try phrases here
            if old and not await in_thread(passphrase.matches, shop_file(), old.value):
                raise InputError("That is not the present passphrase.", "Type it again.")
            await in_thread(passphrase.set_passphrase, shop_file(), phrase.value)
            phrase.set("")
            said.set_text("Set. Devices have to log in again.")

        button("Set the passphrase", save).style("align-self: flex-start")
        said = ui.label().classes("strong").props("role=status")


def _benches() -> None:
    with ui.element("section").classes("sheet"):
        heading("Benches")

        @ui.refreshable
        def known() -> None:
            rows = [
                (b.code, b.name or b.kind, str(b.test_pressure or ""), str(b.bore_adapter or ""))
                for b in shop_file().benches()
            ]
            if rows:
                table(("", "", "Pressure", "Bore adapter"), rows)
            else:
                ui.label("None yet.").classes("soft")

        known()
        link_button("Instruments of the benches", links.INSTRUMENTS)
        link_button("Bench health: plates, calibrations, repeatability", links.bench_health())
    with ui.element("section").classes("sheet"):
        heading("New bench", 3)
        with ui.element("div").classes("fields"):
            code = Field("Short name", hint="as on your sheets: B1")
            name = Field("Name")
            shows = Field("It shows", Metering.DIRECT.value, kind="choice", options=_METERING)
            pressure = Field("Test pressure", "28 inH2O")
            ranges = Field("Full flow of each range", hint="for percent: 50 cfm; 100 cfm")
            adapter = Field("Bore adapter", hint="like 90 mm")
            inlet = Field("Inlet aid", hint="radius plate, or none")
            stub = Field("Exhaust stub", hint="pipe stub, or none")

        def add() -> None:
            benches.add_bench(
                shop_file(),
                benches.NewBench(
                    code.value,
                    name.value,
                    Metering(shows.value),
                    pressure.value,
                    ranges.value,
                    adapter.value,
                    inlet.value,
                    stub.value,
                ),
            )
            known.refresh()
            for box in (code, name, ranges):
                box.set("")

        button("Add the bench", add).style("align-self: flex-start")
