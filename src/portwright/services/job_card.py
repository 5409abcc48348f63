"""The job card as it stands: work in order with its hours, parts, hold points, quotes and invoices.

Read from the job's entries; what writes them is beside it: ``card_work`` (hours and parts),
``card_holds`` (what waits for the customer) and ``billing`` (quote and invoice).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal

from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.entry import EntryKind, JobEntry
from portwright.model.job import SheetKind
from portwright.services.card_entries import current, now
from portwright.services.money import decimal_in
from portwright.services.shop_file import ShopFile

SECONDS = Decimal(3600)


@dataclass(frozen=True, slots=True)
class Operation:
    """One line of work.

    Parameters
    ----------
    name : str
        Known by it in this job.
    quoted, actual, billed : Decimal
        Hours. [h]
    found : bool
        Found on inspection, not part of the first quote.
    running_since : str
        When the clock was started, UTC, "" while nobody works on it.
    waits_for : str
        Key of the question that must be answered with yes first, "" for none.
    key : str
        Of its entry; "" where it came from a time sheet.
    """

    name: str
    quoted: Decimal = Decimal(0)
    actual: Decimal = Decimal(0)
    billed: Decimal = Decimal(0)
    found: bool = False
    running_since: str = ""
    waits_for: str = ""
    key: str = ""

    @property
    def unbilled(self) -> Decimal:
        """Hours worked and on no invoice yet. [h]"""
        return max(Decimal(0), self.actual - self.billed)


@dataclass(frozen=True, slots=True)
class Part:
    """A part used on the job.

    Parameters
    ----------
    price : Decimal
        Of one, before tax.
    billed : bool
    """

    key: str
    name: str
    count: Decimal
    price: Decimal
    billed: bool = False

    @property
    def total(self) -> Decimal:
        """Price of all of them."""
        return self.count * self.price


@dataclass(frozen=True, slots=True)
class Hold:
    """A question the work waits for.

    Parameters
    ----------
    question : str
    operation : str
        Work that waits, "" for all that follows.
    asked : str
        Day.
    answer : str
        "yes", "no" or "" while nobody answered.
    answered, how, who : str
        Day, way ("phone", "in writing"), and person.
    """

    key: str
    question: str
    operation: str = ""
    asked: str = ""
    answer: str = ""
    answered: str = ""
    how: str = ""
    who: str = ""

    @property
    def waiting(self) -> bool:
        """Whether work still waits."""
        return self.answer != "yes"


@dataclass(frozen=True, slots=True)
class JobCard:
    """The card as it stands.

    Parameters
    ----------
    job : str
    operations, parts, holds : tuple
    bills : tuple of JobEntry
        Quotes and invoices, oldest first.
    """

    job: str
    operations: tuple[Operation, ...] = ()
    parts: tuple[Part, ...] = ()
    holds: tuple[Hold, ...] = ()
    bills: tuple[JobEntry, ...] = ()

    @property
    def unbilled(self) -> Decimal:
        """Hours worked and on no invoice yet. [h]"""
        return sum((o.unbilled for o in self.operations), Decimal(0))

    @property
    def quoted(self) -> Decimal:
        """Hours quoted. [h]"""
        return sum((o.quoted for o in self.operations), Decimal(0))

    @property
    def actual(self) -> Decimal:
        """Hours worked. [h]"""
        return sum((o.actual for o in self.operations), Decimal(0))

    @property
    def waiting(self) -> tuple[Hold, ...]:
        """Questions without a yes."""
        return tuple(h for h in self.holds if h.waiting)

    def operation(self, name: str) -> Operation:
        """One line of work.

        Raises
        ------
        UnknownNameError
        """
        found = next((o for o in self.operations if o.name == name), None)
        if found is None:
            raise UnknownNameError("operation", name, [o.name for o in self.operations])
        return found


def job_card(shop: ShopFile, job: str, *, at: str = "") -> JobCard:
    """The card of a job.

    Parameters
    ----------
    at : str
        Moment up to which running clocks count; now when left out.

    Raises
    ------
    UnknownNameError
    """
    return card_of(shop.job(job), at or now())


@dataclass(slots=True)
class _Filling:
    """A card while its entries are read in order."""

    operations: dict[str, Operation] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    holds: dict[str, Hold] = field(default_factory=dict)
    bills: list[JobEntry] = field(default_factory=list)

    def change(self, name: str, **changes: object) -> None:
        known = self.operations.get(name, Operation(name))
        self.operations[name] = replace(known, **changes)  # type: ignore[arg-type]

    def known(self, name: str) -> Operation:
        return self.operations.get(name, Operation(name))


def card_of(contents: JobContents, at: str) -> JobCard:
    """As :func:`job_card` for a job already read."""
    filling = _Filling()
    for row in contents.rows:
        if row.kind is SheetKind.HOURS:
            _from_sheet(filling, row.cells)
    for entry in current(contents.entries):
        _READ[entry.kind](filling, entry)
    for operation in list(filling.operations.values()):
        if operation.running_since:
            worked = _between(operation.running_since, at)
            filling.change(operation.name, actual=operation.actual + worked)
    for hold in filling.holds.values():
        if hold.waiting and hold.operation:
            filling.change(hold.operation, waits_for=hold.key)
    return JobCard(
        contents.job.number,
        tuple(filling.operations.values()),
        tuple(filling.parts.values()),
        tuple(filling.holds.values()),
        tuple(filling.bills),
    )


def _from_sheet(filling: _Filling, cells: dict[str, str]) -> None:
    """A row of an imported time sheet."""
    name = cells.get("operation", cells.get("what", "")).strip()
    if not name:
        return

    def hours(*headings: str) -> Decimal:
        typed = next((cells[h] for h in headings if cells.get(h)), "0")
        try:
            return decimal_in(typed, "hours")
        except InputError:
            return Decimal(0)  # kept as typed on its sheet; the preview has asked about it

    known = filling.known(name)
    filling.operations[name] = replace(
        known,
        quoted=known.quoted + hours("quoted_h"),
        actual=known.actual + hours("actual_h", "hours"),
        billed=known.billed + hours("billed_h"),
    )


def _operation(filling: _Filling, entry: JobEntry) -> None:
    cells = entry.cells
    filling.change(
        cells["name"],
        quoted=filling.known(cells["name"]).quoted + Decimal(cells.get("hours") or "0"),
        found=cells.get("found") == "yes",
        key=entry.key,
    )


def _start(filling: _Filling, entry: JobEntry) -> None:
    filling.change(entry.cells["operation"], running_since=entry.at)


def _stop(filling: _Filling, entry: JobEntry) -> None:
    known = filling.known(entry.cells["operation"])
    if known.running_since:
        worked = _between(known.running_since, entry.at)
        filling.change(known.name, actual=known.actual + worked, running_since="")


def _hours(filling: _Filling, entry: JobEntry) -> None:
    known = filling.known(entry.cells["operation"])
    filling.change(known.name, actual=known.actual + Decimal(entry.cells["hours"]))


def _part(filling: _Filling, entry: JobEntry) -> None:
    cells = entry.cells
    count, price = Decimal(cells["count"]), Decimal(cells["price"])
    filling.parts[entry.key] = Part(entry.key, cells["name"], count, price)


def _hold(filling: _Filling, entry: JobEntry) -> None:
    cells = entry.cells
    filling.holds[entry.key] = Hold(
        entry.key, cells["question"], cells.get("operation", ""), cells.get("asked", "")
    )


def _answer(filling: _Filling, entry: JobEntry) -> None:
    cells = entry.cells
    known = filling.holds.get(cells["hold"])
    if known is not None:
        said = {name: cells.get(name, "") for name in ("answer", "answered", "how", "who")}
        filling.holds[known.key] = replace(known, **said)


def _bill(filling: _Filling, entry: JobEntry) -> None:
    filling.bills.append(entry)
    if entry.kind is not EntryKind.INVOICE:
        return
    for name, value in entry.cells.items():
        what, _, which = name.partition(":")
        if what == "hours":
            known = filling.known(which)
            filling.change(which, billed=known.billed + Decimal(value))
        elif what == "part" and which in filling.parts:
            filling.parts[which] = replace(filling.parts[which], billed=True)


def _nothing(filling: _Filling, entry: JobEntry) -> None:
    """Entries that are no part of the card."""


_READ = {
    EntryKind.OPERATION: _operation,
    EntryKind.START: _start,
    EntryKind.STOP: _stop,
    EntryKind.HOURS: _hours,
    EntryKind.PART: _part,
    EntryKind.HOLD: _hold,
    EntryKind.ANSWER: _answer,
    EntryKind.QUOTE: _bill,
    EntryKind.INVOICE: _bill,
    EntryKind.RELEASE: _nothing,
    EntryKind.OBSERVATION: _nothing,
    EntryKind.MARKS: _nothing,
    EntryKind.WITHDRAWN: _nothing,
}


def _between(start: str, end: str) -> Decimal:
    """Hours from one moment to another, never less than none, to the second. [h]"""
    span = datetime.fromisoformat(end) - datetime.fromisoformat(start)
    seconds = Decimal(span.days * 86400 + span.seconds)
    return max(Decimal(0), seconds) / SECONDS
