"""Quote and invoice of a job: what is on them, and what was worked and is on none."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from portwright.catalogue import to_coin
from portwright.errors import Finding, InputError, Severity, UnknownNameError
from portwright.model.entry import EntryKind, JobEntry
from portwright.services.card_entries import now
from portwright.services.job_card import JobCard, Operation, job_card
from portwright.services.jobs import today
from portwright.services.money import Tax, currency_of, hours_text, rate_of, series_of, taxes_of
from portwright.services.shop_file import ShopFile

_HUNDRED = Decimal(100)


class Basis(StrEnum):
    """Which hours an invoice asks for."""

    QUOTED = "quoted"  # the agreed hours, whatever was worked; unquoted work as worked
    WORKED = "worked"  # the hours of the clock


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line.

    Parameters
    ----------
    name : str
    count : Decimal
        Hours or pieces.
    price : Decimal
        Of one, before tax.
    total : Decimal
        To the smallest coin.
    source : str
        "hours:NAME" or "part:KEY", by which the card knows what was billed.
    """

    name: str
    count: Decimal
    price: Decimal
    total: Decimal
    source: str


@dataclass(frozen=True, slots=True)
class Bill:
    """A quote or an invoice.

    Parameters
    ----------
    kind : EntryKind
        QUOTE or INVOICE.
    job : str
    currency : str
    lines : tuple of BillLine
    net : Decimal
    taxes : tuple of (Tax, Decimal)
        Each with its amount on the net sum.
    total : Decimal
    unbilled : dict of str to Decimal
        Hours worked that are on no invoice, this one included, by operation. [h]
    number, day : str
        Empty while it is a draft.
    """

    kind: EntryKind
    job: str
    currency: str
    lines: tuple[BillLine, ...]
    net: Decimal
    taxes: tuple[tuple[Tax, Decimal], ...]
    total: Decimal
    unbilled: dict[str, Decimal]
    number: str = ""
    day: str = ""

    @property
    def unbilled_hours(self) -> Decimal:
        """Sum of what would stay unbilled. [h]"""
        return sum(self.unbilled.values(), Decimal(0))


def draft_quote(shop: ShopFile, job: str) -> Bill:
    """All hours quoted so far, and the parts on the card.

    Raises
    ------
    InputError
        No hourly rate is set.
    """
    card = job_card(shop, job)
    return _bill(shop, card, EntryKind.QUOTE, {o.name: o.quoted for o in card.operations})


def draft_invoice(
    shop: ShopFile,
    job: str,
    basis: Basis = Basis.QUOTED,
    chosen: Mapping[str, Decimal] | None = None,
) -> Bill:
    """What is to be billed now.

    Parameters
    ----------
    chosen : mapping of str to Decimal, optional
        Hours of single operations in place of the basis. [h]

    Raises
    ------
    InputError
        No hourly rate is set.
    UnknownNameError
        ``chosen`` names work that is not on the card.
    """
    card = job_card(shop, job)
    hours = {o.name: _due(o, basis) for o in card.operations}
    for name, value in (chosen or {}).items():
        if name not in hours:
            raise UnknownNameError("operation", name, hours)
        hours[name] = value
    return _bill(shop, card, EntryKind.INVOICE, hours)


def _due(operation: Operation, basis: Basis) -> Decimal:
    if basis is Basis.QUOTED and operation.quoted > 0:
        return max(Decimal(0), operation.quoted - operation.billed)
    return operation.unbilled


def _bill(shop: ShopFile, card: JobCard, kind: EntryKind, hours: Mapping[str, Decimal]) -> Bill:
    rate, currency = rate_of(shop), currency_of(shop)
    if rate is None and any(hours.values()):
        raise InputError(
            "What an hour costs is not set.", "Set the hourly rate on the Shop screen."
        )
    price = rate or Decimal(0)
    lines = [
        _line(name, _tenth(count), price, currency, f"hours:{name}")
        for name, count in hours.items()
        if _tenth(count) > 0
    ]
    lines += [
        _line(part.name, part.count, part.price, currency, f"part:{part.key}")
        for part in card.parts
        if not (part.billed and kind is EntryKind.INVOICE)
    ]
    net = sum((line.total for line in lines), Decimal(0))
    taxes = tuple((t, to_coin(net * t.percent / _HUNDRED, currency)) for t in taxes_of(shop))
    on_it = hours if kind is EntryKind.INVOICE else {}
    left = {o.name: o.unbilled - on_it.get(o.name, Decimal(0)) for o in card.operations}
    return Bill(
        kind,
        card.job,
        currency,
        tuple(lines),
        net,
        taxes,
        net + sum((amount for _, amount in taxes), Decimal(0)),
        {name: value for name, value in left.items() if _tenth(value) > 0},
    )


def _tenth(hours: Decimal) -> Decimal:
    """Hours as they are billed."""
    return Decimal(hours_text(hours))


def _line(name: str, count: Decimal, price: Decimal, currency: str, source: str) -> BillLine:
    return BillLine(name, count, price, to_coin(count * price, currency), source)


def close_bill(shop: ShopFile, draft: Bill, *, reason: str = "", day: str = "") -> Bill:
    """Give a quote or an invoice its number and put it on the card; it is not changed after.

    Parameters
    ----------
    reason : str
        Why hours that were worked are not billed.

    Raises
    ------
    InputError
        Nothing is on it, a clock still runs, or hours worked are not on it and no reason is given.
    """
    if not draft.lines:
        raise InputError("There is nothing on it.", "Enter work with hours, or parts, first.")
    if draft.kind is EntryKind.INVOICE:
        _refuse_open_ends(job_card(shop, draft.job), draft, reason)
    day = day or today()
    entry = JobEntry(uuid.uuid4().hex, draft.kind, now(), _cells(draft, day, reason))
    stored = shop.add_numbered_entry(draft.job, entry, series_of(shop, day[:4]))
    return replace(draft, number=stored.cells["number"], day=day)


def _refuse_open_ends(card: JobCard, draft: Bill, reason: str) -> None:
    running = [o.name for o in card.operations if o.running_since]
    if running:
        raise InputError(
            f"The clock still runs on {', '.join(running)}.", "Stop it, then close the invoice."
        )
    if draft.unbilled and not reason.strip():
        said = ", ".join(f"{name} {hours_text(h)} h" for name, h in draft.unbilled.items())
        raise InputError(
            f"{hours_text(draft.unbilled_hours)} h worked are not on this invoice: {said}.",
            "Bill them, or say why not.",
        )


def repeated_numbers(shop: ShopFile, job: str = "") -> tuple[Finding, ...]:
    """Numbers that stand on several quotes or several invoices, as after two shops became one.

    A number that was given is never changed here: the other party has it on paper.

    Parameters
    ----------
    job : str
        Only those that concern it; "" for all of the shop.
    """
    found = []
    for kind in (EntryKind.INVOICE, EntryKind.QUOTE):
        jobs: dict[str, list[str]] = {}
        for number, bill in shop.numbers_of(kind.value):
            jobs.setdefault(bill, []).append(number)
        found += [
            Finding(
                f"{kind.value}-number-twice",
                Severity.WARNING,
                f"{kind.value.capitalize()} {bill} stands {len(on)} times, on {_named(on)}.",
                "Numbers that were given stay. Ask your tax adviser how to set it right, and give "
                "each shop its own letters before the number, on the Shop screen.",
            )
            for bill, on in jobs.items()
            if len(on) > 1 and (not job or job in on)
        ]
    return tuple(found)


def _named(jobs: list[str]) -> str:
    names = list(dict.fromkeys(jobs))
    return f"job {names[0]}" if len(names) == 1 else f"jobs {', '.join(names)}"


def _cells(bill: Bill, day: str, reason: str) -> dict[str, str]:
    cells = {
        "day": day,
        "currency": bill.currency,
        "net": str(bill.net),
        "total": str(bill.total),
        "reason": reason.strip(),
    }
    cells |= {line.source: str(line.count) for line in bill.lines}
    cells |= {f"name {line.source}": line.name for line in bill.lines}
    cells |= {f"price {line.source}": str(line.price) for line in bill.lines}
    cells |= {f"tax:{t.name}": f"{t.percent} {amount}" for t, amount in bill.taxes}
    return cells


def stored_bill(shop: ShopFile, job: str, number: str) -> Bill:
    """A closed quote or invoice as it was given its number.

    Raises
    ------
    UnknownNameError
    """
    known = {f"{e.kind.value} {e.cells['number']}": e for e in job_card(shop, job).bills}
    known |= {e.cells["number"]: e for e in known.values()}
    if number not in known:
        raise UnknownNameError("quote or invoice", number, known)
    return _from_entry(job, known[number])


def _from_entry(job: str, entry: JobEntry) -> Bill:
    cells = entry.cells
    currency = cells["currency"]
    lines = tuple(
        _line(cells[f"name {s}"], Decimal(cells[s]), Decimal(cells[f"price {s}"]), currency, s)
        for s in cells
        if s.startswith(("hours:", "part:"))
    )
    taxes = []
    for name, value in cells.items():
        if name.startswith("tax:"):
            percent, _, amount = value.partition(" ")
            taxes.append((Tax(name.removeprefix("tax:"), Decimal(percent)), Decimal(amount)))
    return Bill(
        entry.kind,
        job,
        currency,
        lines,
        Decimal(cells["net"]),
        tuple(taxes),
        Decimal(cells["total"]),
        {},
        cells["number"],
        cells["day"],
    )
