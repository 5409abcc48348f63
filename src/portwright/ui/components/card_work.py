"""Work on a job card with its clock, and the parts used."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial

from nicegui import ui

from portwright.services import card_work
from portwright.services.job_card import JobCard, Operation
from portwright.services.money import currency_of, hours_text
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, table
from portwright.ui.state import shop_file

Again = Callable[[], None]
_FOUND = {"": "part of the job as agreed", "yes": "found on inspection: ask first"}


def work(card: JobCard, again: Again) -> None:
    """Operations in order, each with its hours and one large button."""
    with ui.element("section").classes("sheet"):
        heading("Work in order")
        if not card.operations:
            ui.label("Nothing on the card yet.").classes("soft")

            def usual() -> None:
                for name in card_work.USUAL_OPERATIONS:
                    card_work.add_operation(shop_file(), card.job, name)
                again()

            button("Put the usual work on it", usual).style("align-self: flex-start")
        for operation in card.operations:
            _operation(card, operation, again)


def _operation(card: JobCard, operation: Operation, again: Again) -> None:
    def pressed(act: Callable[..., object]) -> None:
        act(shop_file(), card.job, operation.name)
        again()

    running = bool(operation.running_since)
    with (
        ui.element("div")
        .classes("spread")
        .style("border-bottom: 1px solid var(--line); padding-bottom: 10px")
    ):
        with ui.element("div").style("flex: 1 1 12rem"):
            ui.label(operation.name).classes("strong")
            ui.label(_hours(operation)).classes("small soft")
            if running:
                since = datetime.fromisoformat(operation.running_since).astimezone()
                ui.label(f"Running since {since:%H:%M}").classes("tag good")
            if operation.found:
                ui.label("found on inspection").classes("tag")
            if operation.waits_for:
                ui.label("waits for the customer's yes").classes("tag ask")
        name = f"{'Stop' if running else 'Start'} {operation.name}"
        act = card_work.stop if running else card_work.start
        word, look = ("Stop", "danger") if running else ("Start", "main")
        button(word, partial(pressed, act), look).props(f'aria-label="{name}"')


def _hours(operation: Operation) -> str:
    parts = []
    if operation.quoted:
        parts.append(f"quoted {hours_text(operation.quoted)} h")
    parts.append(f"worked {hours_text(operation.actual)} h")
    if operation.unbilled:
        parts.append(f"not billed {hours_text(operation.unbilled)} h")
    return " · ".join(parts)


def add_work(card: JobCard, again: Again) -> None:
    """More work, or hours that were worked without the clock."""
    names = [o.name for o in card.operations]
    with ui.element("section").classes("sheet"):
        heading("More work", 3)
        with ui.element("div").classes("fields"):
            usual = [u for u in card_work.USUAL_OPERATIONS if u not in names]
            name = Field("What is to be done", options=usual)
            quoted = Field("Hours quoted", hint="like 2.5")
            found = Field("It is", "", kind="choice", options=_FOUND)

        def add() -> None:
            card_work.add_operation(
                shop_file(), card.job, name.value, quoted.value, found=found.value == "yes"
            )
            again()

        button("Add the work", add).style("align-self: flex-start")
    if not names:
        return
    with ui.element("section").classes("sheet"):
        heading("Hours without the clock", 3)
        with ui.element("div").classes("fields"):
            which = Field("Work", names[0], kind="choice", options=names)
            worked = Field("Hours worked", hint="like 1.5; -0.5 takes some back")

        def book() -> None:
            card_work.add_hours(shop_file(), card.job, which.value, worked.value)
            again()

        button("Add the hours", book).style("align-self: flex-start")


def parts(card: JobCard, again: Again) -> None:
    """Parts used, and a box for one more."""
    currency = currency_of(shop_file())
    with ui.element("section").classes("sheet"):
        heading("Parts")
        rows = [
            (p.name, f"{p.count}", f"{p.price} {currency}", "billed" if p.billed else "")
            for p in card.parts
        ]
        if rows:
            table(("Part", "Number", "Each", ""), rows, numeric=(1, 2))
        with ui.element("div").classes("fields"):
            name, count = Field("Part"), Field("Number", "1")
            price = Field("Price of one, before tax", hint=currency)

        def add() -> None:
            card_work.add_part(shop_file(), card.job, name.value, count.value, price.value)
            again()

        button("Add the part", add).style("align-self: flex-start")
