"""The open shop, and how this browser wants to see it."""

from __future__ import annotations

import hmac
import inspect
import secrets
import socket
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from nicegui import app, background_tasks, ui

from portwright.errors import PortwrightError
from portwright.services.display import Display
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

COOKIE = "pw_view"
LENGTHS = ("mm", "in")
FLOWS = ("cfm", "L/s")
THEMES = ("auto", "light", "dark")


@dataclass(slots=True)
class OpenShop:
    """What the running app works on.

    Parameters
    ----------
    file : ShopFile
    lan : bool
        True while other devices of the network may connect.
    port : int
    place : Path
        Shop file or address of a database as it was asked for.
    """

    file: ShopFile
    lan: bool = False
    port: int = 8080
    place: Path = Path()

    @property
    def path(self) -> Path:
        """Where the shop file lies."""
        return self.file.path

    def address(self) -> str:
        """Address for other devices, "" while they are not let in or there is no network."""
        if not self.lan:
            return ""
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect(("192.0.2.1", 9))  # sends nothing, only picks the network card
            except OSError:
                return ""
            return f"http://{probe.getsockname()[0]}:{self.port}"


def open_shop() -> OpenShop:
    """The shop this app was started with."""
    found: OpenShop = app.state.portwright
    return found


_FORM_TOKEN = secrets.token_urlsafe(32)


def form_token() -> str:
    """What a plain form of ours must send back: other sites cannot read it."""
    return _FORM_TOKEN


def form_fits(sent: str) -> bool:
    """Whether a plain form sent back :func:`form_token`; any text may come instead."""
    return hmac.compare_digest(sent.encode("utf-8", "replace"), _FORM_TOKEN.encode())


def shop_file() -> ShopFile:
    """The open shop file, to hand to services."""
    return open_shop().file


@dataclass(frozen=True, slots=True)
class Choice:
    """Units and theme of one browser; changes what is shown, never what is stored."""

    length: str = "mm"
    flow: str = "cfm"
    theme: str = "auto"

    @classmethod
    def parse(cls, text: str, default: Choice) -> Choice:
        """Read the cookie; anything not offered falls back to the shop's own units."""
        length, flow, theme = ([*text.split("."), "", "", ""])[:3]
        flow = flow.replace("~", "/")
        return cls(
            length if length in LENGTHS else default.length,
            flow if flow in FLOWS else default.flow,
            theme if theme in THEMES else default.theme,
        )

    def text(self) -> str:
        """As kept in the cookie."""
        return f"{self.length}.{self.flow.replace('/', '~')}.{self.theme}"


@dataclass(slots=True, eq=False)
class View:
    """Display preferences of one open page, with those who want to hear of a change."""

    choice: Choice
    pressure: str = "inH2O"
    _listeners: list[Callable[[], object]] = field(default_factory=list)

    @property
    def display(self) -> Display:
        """The same choice as services take it."""
        return Display(
            length=self.choice.length,
            flow=self.choice.flow,
            pressure=self.pressure,
            temperature="degF" if self.choice.length == "in" else "degC",
        )

    def unit(self, kind: Kind) -> str:
        """Unit in which a kind is shown here."""
        display = self.display
        shown = {
            Kind.LENGTH: display.length,
            Kind.AREA: display.area,
            Kind.VOLUME: "cc",
            Kind.FLOW: display.flow,
            Kind.PRESSURE: display.pressure,
            Kind.TEMPERATURE: display.temperature,
            Kind.ANGLE: "deg",
            Kind.SPEED: "ft/s" if display.length == "in" else "m/s",
            Kind.RATIO: "%",
            Kind.HARDNESS: "HB",
            Kind.TIME: "h",
            Kind.MASS: "g",
        }
        return shown[kind]

    def on_change(self, listener: Callable[[], object]) -> None:
        """Call ``listener`` whenever units change on this page."""
        self._listeners.append(listener)

    def change(self, **choices: str) -> None:
        """Change a preference here and for the next pages of this browser."""
        before = self.choice
        self.choice = replace(self.choice, **choices)
        ui.run_javascript(f"portwright.keepView({self.choice.text()!r})")
        if replace(before, theme=self.choice.theme) != self.choice:
            for listener in self._listeners:
                made = listener()
                if inspect.iscoroutine(made):
                    background_tasks.create(made, name="units switched")


def view() -> View:
    """Display preferences of the page being built or handled."""
    client = ui.context.client
    known = client.storage.get("view")
    if isinstance(known, View):
        return known
    try:
        shop = shop_file().shop()
    except PortwrightError:  # the page that says so has units and a lamp as well
        shop = None
    default = Choice(
        shop.length_unit if shop and shop.length_unit in LENGTHS else "mm",
        shop.flow_unit if shop and shop.flow_unit in FLOWS else "cfm",
    )
    choice = Choice.parse(client.request.cookies.get(COOKIE, ""), default)
    made = View(choice, shop.pressure_unit if shop else "inH2O")
    client.storage["view"] = made
    return made
