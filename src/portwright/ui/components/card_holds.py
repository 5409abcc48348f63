"""Questions that work waits for, and the customer's answer with its day and how it was given."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import ui

from portwright.services import card_holds
from portwright.services.job_card import Hold, JobCard
from portwright.services.jobs import today
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading
from portwright.ui.state import shop_file

_HOW = ("phone", "in writing", "in person")
# When to ask, by common practice.
_USUAL = ("Crack found", "Wall too thin", "Goal cannot be reached", "Cost 10 % above the quote")


def holds(card: JobCard, again: Callable[[], None]) -> None:
    """Everything asked so far, open questions first, and a new one."""
    with ui.element("section").classes("sheet"):
        heading("Waiting for the customer")
        for hold in sorted(card.holds, key=lambda h: not h.waiting):
            if hold.waiting:
                _open(card, hold, again)
            else:
                words = f"Yes on {hold.answered}, {hold.how}"
                with ui.element("div").classes("notice good"):
                    ui.label(hold.question)
                    ui.label(f"{words}, {hold.who}" if hold.who else words).classes("small strong")
        if not card.holds:
            ui.label("No questions open.").classes("soft")
        with ui.element("div").classes("fields"):
            question = Field("Ask", options=_USUAL)
            names = {"": "all the work", **{o.name: o.name for o in card.operations}}
            which = Field("Until the answer waits", "", kind="choice", options=names)

        def ask() -> None:
            card_holds.ask(shop_file(), card.job, question.value, which.value, today())
            again()

        button("Put the question", ask).style("align-self: flex-start")


def _open(card: JobCard, hold: Hold, again: Callable[[], None]) -> None:
    with ui.element("div").classes("notice ask stack"):
        ui.label(hold.question).classes("strong")
        said = f"Asked {hold.asked}" if hold.asked else "Asked"
        if hold.answer == "no":
            said = f"No on {hold.answered}, {hold.how}"
        ui.label(f"{said}. Waits: {hold.operation or 'all the work'}").classes("small")
        with ui.element("div").classes("fields"):
            how = Field("How it was answered", _HOW[0], kind="choice", options=_HOW)
            day = Field("Day", today(), kind="date")
            who = Field("Who answered")

        def answered(said: str) -> None:
            card_holds.answer(
                shop_file(), card.job, hold.key, said, how.value, day=day.value, who=who.value
            )
            again()

        with ui.element("div").classes("row-wrap"):
            button("Customer says yes", partial(answered, "yes"), "main")
            button("Customer says no", partial(answered, "no"))
