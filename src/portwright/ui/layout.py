"""The frame around every screen: places, units, theme."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from html import escape

from nicegui import ui

from portwright.errors import PortwrightError
from portwright.ui import links
from portwright.ui.errors import error_words, show_error
from portwright.ui.icons import icon
from portwright.ui.state import FLOWS, LENGTHS, View, form_token, open_shop, view

_PLACES = (
    ("jobs", "Jobs", links.JOBS),
    ("bench", "Bench", links.BENCH),
    ("measure", "Measure", links.MEASURE),
    ("compare", "Compare", links.COMPARE),
    ("rank", "Rank", links.RANK),
    ("shop", "Shop", links.SHOP),
)


def raw(html: str, tag: str = "div") -> ui.html:
    """Markup written by Portwright itself; text a person typed only when escaped."""
    return ui.html(html, sanitize=False, tag=tag)


def button(text: str, on_click: Callable[..., object], look: str = "") -> ui.button:
    """A button for gloved hands; ``look`` is "main", "quiet", "danger" or ""."""
    return ui.button(text, on_click=on_click, color=None).classes(f"act {look}")


def link_button(text: str, address: str, look: str = "") -> ui.link:
    """A link that looks like a button."""
    return ui.link(text, address).classes(f"act {look}")


def heading(text: str, level: int = 2) -> ui.element:
    """A heading of that level."""
    with ui.element(f"h{level}") as made:
        ui.label(text)
    return made


class Switch:
    """A few choices side by side, one pressed.

    Parameters
    ----------
    name : str
        What is switched, for screen readers.
    choices : dict of str to str
        Value to text.
    value : str
    on_change : callable
        Called with the value chosen.
    """

    def __init__(
        self, name: str, choices: dict[str, str], value: str, on_change: Callable[[str], object]
    ) -> None:
        self._buttons: dict[str, ui.element] = {}
        self._on_change = on_change
        with ui.element("div").classes("pair").props(f'role=group aria-label="{name}"'):
            for choice, text in choices.items():
                with ui.element("button").props("type=button") as made:
                    ui.label(text)
                made.on("click", lambda _, choice=choice: self._chosen(choice))
                self._buttons[choice] = made
        self.press(value)

    def press(self, value: str) -> None:
        """Show ``value`` as the pressed one."""
        for choice, made in self._buttons.items():
            made.props(f"aria-pressed={'true' if choice == value else 'false'}")

    def _chosen(self, choice: str) -> None:
        self.press(choice)
        self._on_change(choice)


def _switches(page_view: View) -> None:
    choice = page_view.choice
    Switch(
        "Length unit",
        {unit: unit for unit in LENGTHS},
        choice.length,
        lambda unit: page_view.change(length=unit),
    )
    Switch(
        "Flow unit",
        {unit: unit for unit in FLOWS},
        choice.flow,
        lambda unit: page_view.change(flow=unit),
    )
    # the browser knows what is lit now, also when the theme follows the system
    dark = ui.element("button").classes("lamp").props('type=button aria-label="Dark or light"')
    with dark:
        raw(icon("lamp"))
    dark.on(
        "click",
        lambda event: page_view.change(theme=str(event.args)),
        js_handler="() => emit(portwright.dark() ? 'light' : 'dark')",
    )


def _log_out() -> None:
    raw(
        f'<form method="post" action="{links.LOGOUT}"><input type="hidden" name="form" '
        f'value="{form_token()}"><button class="lamp wide">Log out</button></form>'
    )


@contextmanager
def page_frame(title: str, active: str = "", *, classes: str = "") -> Iterator[View]:
    """Frame of a screen; what is built inside the ``with`` block is the screen.

    Parameters
    ----------
    title : str
        Heading of the screen and of the browser tab.
    active : str
        Place it belongs to: "jobs", "bench", "measure", "compare" or "shop".
    classes : str
        Further style classes of the work area.

    Yields
    ------
    View
        Units and theme of this page; ``view.on_change`` tells when the units were switched.
    """
    page_view = view()
    ui.page_title(f"{title} · Portwright")
    ui.on_exception(show_error)
    with ui.element("div").classes("frame"):
        with ui.element("nav").classes("rail").props('aria-label="Places"'):
            with ui.link(target=links.HOME).classes("mark").props('aria-label="Portwright, start"'):
                raw(icon("mark"))
            for name, text, address in _PLACES:
                with ui.link(target=address) as place:
                    raw(icon(name))
                    ui.label(text)
                if name == active:
                    place.props('aria-current="page"')
        with ui.element("div") as body:
            with ui.element("header").classes("bar"):
                heading(title, 1)
                _switches(page_view)
                if open_shop().lan:
                    _log_out()
            work = ui.element("div").classes(f"work {classes}")
        body.classes("body")
    ui.skip_link("Skip to the work", target=work)
    with work:
        yield page_view


def table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, numeric: Sequence[int] = ()
) -> ui.element:
    """A plain table of text.

    Parameters
    ----------
    headings : sequence of str
    rows : sequence of sequence of str
    numeric : sequence of int
        Columns set to the right.
    """

    def cell(place: int, text: str, tag: str, extra: str = "") -> str:
        look = ' class="num"' if place in numeric else ""
        return f"<{tag}{look}{extra}>{escape(text)}</{tag}>"

    head = "".join(cell(n, text, "th", ' scope="col"') for n, text in enumerate(headings))
    body = "".join(
        f"<tr>{''.join(cell(n, text, 'td') for n, text in enumerate(row))}</tr>" for row in rows
    )
    # one element however many cells: each would take a millisecond in which no tablet is answered
    made = raw(f'<table class="plain"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>')
    made.classes("scroll-x").props('tabindex=0 role=region aria-label="Table"')
    return made


def error_page(error: Exception) -> None:
    """Whole page for an address that cannot be shown."""
    message, hint = error_words(error)
    with page_frame("That did not work"), ui.element("section").classes("sheet"):
        ui.label(message).classes("strong")
        if hint:
            ui.label(hint)
        link_button("All jobs", links.JOBS, "main").style("align-self: flex-start")


_PATIENCE = 120.0
"""Time a page may take to build [s]: on a slow or busy PC a late page is better than none."""


def screen(address: str) -> Callable[[Callable[..., object]], Callable[..., object]]:
    """As ``ui.page``, but an error about what was asked for becomes a page that says so."""

    def put(build: Callable[..., object]) -> Callable[..., object]:
        @functools.wraps(build)
        async def built(*args: object, **kwargs: object) -> None:
            try:
                made = build(*args, **kwargs)
                if inspect.isawaitable(made):
                    await made
            except PortwrightError as error:
                ui.context.client.content.clear()
                error_page(error)

        return ui.page(address, response_timeout=_PATIENCE)(built)

    return put
