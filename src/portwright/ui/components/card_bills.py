"""Quote and invoice of a job card: what would be on them, what would not, and closing them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import ui

from portwright.catalogue import words
from portwright.errors import InputError
from portwright.model.entry import EntryKind
from portwright.services import billing
from portwright.services.billing import Basis, Bill
from portwright.services.job_card import JobCard
from portwright.services.money import hours_text
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.errors import show_finding
from portwright.ui.layout import Switch, button, heading, link_button, table
from portwright.ui.state import shop_file

_BASIS = {Basis.QUOTED.value: "Hours as quoted", Basis.WORKED.value: "Hours as worked"}


def bills(card: JobCard, again: Callable[[], None]) -> None:
    """Draft of the invoice with the unbilled hours before its button, and the quote."""
    with ui.element("section").classes("sheet"):
        heading("Quote and invoice")
        for finding in billing.repeated_numbers(shop_file(), card.job):
            show_finding(finding)
        for entry in card.bills:
            with ui.element("div").classes("spread"):
                cells = entry.cells
                ui.label(f"{entry.kind.value.capitalize()} {cells['number']}, {cells['day']}")
                ui.label(f"{cells['total']} {cells['currency']}").classes("strong number")
                name = f"{entry.kind.value} {cells['number']}"
                link_button("PDF", links.bill(card.job, name), "quiet").props("target=_blank")

        @ui.refreshable
        def draft(basis: str) -> None:
            try:
                _invoice(billing.draft_invoice(shop_file(), card.job, Basis(basis)), again)
            except InputError as error:
                ui.label(error.message).classes("notice ask")
                link_button("Shop", links.SHOP).style("align-self: flex-start")

        Switch("Bill", _BASIS, Basis.QUOTED.value, draft.refresh)
        with ui.element("div").classes("stack").props("aria-live=polite"):
            draft(Basis.QUOTED.value)

        def quote() -> None:
            billing.close_bill(shop_file(), billing.draft_quote(shop_file(), card.job))
            again()

        with ui.element("div").classes("row-wrap"):
            button("Make the quote", quote)
            link_button("See the quote first", links.bill(card.job, "quote"), "quiet").props(
                "target=_blank"
            )


def _invoice(bill: Bill, again: Callable[[], None]) -> None:
    money = partial(words().money, currency=bill.currency)
    rows = [(li.name, str(li.count), money(li.total)) for li in bill.lines]
    rows += [(f"{tax.name} {tax.percent} %", "", money(amount)) for tax, amount in bill.taxes]
    if rows:
        table(
            ("Next invoice", "", "Amount"),
            [*rows, ("Total", "", money(bill.total))],
            numeric=(1, 2),
        )
    else:
        ui.label("Nothing is left to bill this way.").classes("soft")
    reason = None
    if bill.unbilled:
        with ui.element("div").classes("notice fault").props("role=status"):
            ui.label(f"{hours_text(bill.unbilled_hours)} h worked would not be billed").classes(
                "kind"
            )
            for name, value in bill.unbilled.items():
                ui.label(f"{name}: {hours_text(value)} h").classes("small")
        reason = Field("Why they are not billed", options=("Agreed price", "Our own mistake"))
    if bill.kind is EntryKind.INVOICE and bill.lines:

        def close() -> None:
            billing.close_bill(shop_file(), bill, reason=reason.value if reason else "")
            again()

        with ui.element("div").classes("row-wrap"):
            button("Close the invoice", close, "main")
