"""The job card: work in order with its hours, parts, and what waits for the customer's yes."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from decimal import Decimal

from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.entry import EntryKind, JobEntry
from portwright.model.job import SheetKind
from portwright.services.money import decimal_in
from portwright.services.shop_file import ShopFile

SECONDS = Decimal(3600)

# Work on a cylinder head in the usual order (common practice); a shop adds and takes away.
USUAL_OPERATIONS = (
    "Strip, hot wash, photos",
    "Penetrant, pressure test, sonic, measure",
    "Weld repairs, pressure test again",
    "Guides",
    "Seat inserts",
    "Valve job",
    "Develop one port",
    "Copy to the other ports",
    "Exhaust ports",
    "Chambers, cc match",
    "Mill deck and intake face",
    "Flow test all ports",
    "Springs, assembly, final wash",
    "Report, photos, clips",
)


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


# --- reading ----------------------------------------------------------------------------------


def now() -> str:
    """Present moment, UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def current(entries: Iterable[JobEntry]) -> list[JobEntry]:
    """Entries that count: neither replaced by a newer one nor taken back."""
    known = list(entries)
    replaced = {e.replaces for e in known if e.replaces}
    return [e for e in known if e.key not in replaced and e.kind is not EntryKind.WITHDRAWN]


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


# --- writing ----------------------------------------------------------------------------------


def enter(
    shop: ShopFile,
    job: str,
    kind: EntryKind,
    cells: dict[str, str],
    *,
    author: str = "",
    at: str = "",
) -> str:
    """Append an entry to the card and give its key."""
    entry = JobEntry(uuid.uuid4().hex, kind, at or now(), cells, author)
    shop.add_entry(job, entry)
    return entry.key


def add_operation(
    shop: ShopFile, job: str, name: str, hours: str = "", *, found: bool = False
) -> None:
    """Add work, or hours quoted for work that is on the card.

    Work found on inspection waits until the customer has said yes to it.

    Parameters
    ----------
    hours : str
        Quoted hours as typed, "" for none.

    Raises
    ------
    InputError
        No name, or hours that are no number above zero.
    """
    clean = name.strip()
    if not clean:
        raise InputError("The work has no name.", "Say what is to be done.")
    quoted = str(decimal_in(hours, "hours")) if hours.strip() else ""
    cells = {"name": clean, "hours": quoted, "found": "yes" if found else ""}
    enter(shop, job, EntryKind.OPERATION, cells)
    if found:
        ask(shop, job, f"Found on inspection: {clean} ({quoted or '?'} h). Go ahead?", clean)


def start(shop: ShopFile, job: str, operation: str, *, author: str = "", at: str = "") -> None:
    """Start the clock on an operation; starting it twice changes nothing.

    Raises
    ------
    UnknownNameError
        The card has no such operation.
    InputError
        It waits for the customer's yes.
    """
    card = job_card(shop, job)
    known = card.operation(operation)
    blocking = [h for h in card.waiting if h.operation in {"", operation}]
    if blocking:
        raise InputError(
            f"'{operation}' waits for the customer's yes: {blocking[0].question}",
            "Record the answer with its day and how it was given, then start.",
        )
    if not known.running_since:
        cells = {"operation": operation}
        enter(shop, job, EntryKind.START, cells, author=author, at=at)


def stop(shop: ShopFile, job: str, operation: str, *, author: str = "", at: str = "") -> None:
    """Stop the clock on an operation; stopping one that does not run changes nothing.

    Raises
    ------
    UnknownNameError
    """
    if job_card(shop, job).operation(operation).running_since:
        enter(shop, job, EntryKind.STOP, {"operation": operation}, author=author, at=at)


def add_hours(shop: ShopFile, job: str, operation: str, hours: str) -> None:
    """Add hours that were worked without the clock; less than none takes some back.

    Raises
    ------
    UnknownNameError, InputError
    """
    name = job_card(shop, job).operation(operation).name
    worked = decimal_in(hours, "hours", least=None)
    enter(shop, job, EntryKind.HOURS, {"operation": name, "hours": str(worked)})


def add_part(shop: ShopFile, job: str, name: str, count: str, price: str) -> None:
    """Add parts used on the job.

    Raises
    ------
    InputError
        No name, or a number that is none.
    """
    if not name.strip():
        raise InputError("The part has no name.", "Say what was used.")
    cells = {
        "name": name.strip(),
        "count": str(decimal_in(count, "number of parts")),
        "price": str(decimal_in(price, "price")),
    }
    enter(shop, job, EntryKind.PART, cells)


def ask(shop: ShopFile, job: str, question: str, operation: str = "", asked: str = "") -> str:
    """Put a question that work waits for, and give its key."""
    if not question.strip():
        raise InputError("There is no question.", "Say what the customer has to decide.")
    cells = {
        "question": question.strip(),
        "operation": operation,
        "asked": asked or now()[:10],
    }
    return enter(shop, job, EntryKind.HOLD, cells)


def answer(
    shop: ShopFile, job: str, hold: str, said: str, how: str, *, day: str = "", who: str = ""
) -> None:
    """Record what the customer said.

    Parameters
    ----------
    hold : str
        Key of the question, or enough of its beginning or its words to know it.
    said : str
        "yes" or "no".
    how : str
        "phone", "in writing", "in person" ...

    Raises
    ------
    UnknownNameError, InputError
    """
    card = job_card(shop, job)
    fits = [h for h in card.holds if h.key.startswith(hold) or hold.lower() in h.question.lower()]
    if len(fits) != 1 or not hold:
        raise UnknownNameError("question", hold, [h.question for h in card.holds])
    if said not in {"yes", "no"}:
        raise InputError(f"'{said}' is no answer.", "Say yes or no.")
    if not how.strip():
        raise InputError(
            "It is not said how the customer answered.", "Say phone, in writing or in person."
        )
    cells = {
        "hold": fits[0].key,
        "answer": said,
        "answered": day or now()[:10],
        "how": how.strip(),
        "who": who.strip(),
    }
    enter(shop, job, EntryKind.ANSWER, cells)


def release_names(shop: ShopFile, job: str, *, released: bool, how: str = "") -> None:
    """Record whether the customer lets name and serial numbers be shown outside the shop."""
    cells = {"names": "yes" if released else "no", "how": how.strip(), "day": now()[:10]}
    enter(shop, job, EntryKind.RELEASE, cells)


def is_released(contents: JobContents) -> bool:
    """Whether name and serial numbers may be shown, by the newest word of the customer."""
    said = [e for e in current(contents.entries) if e.kind is EntryKind.RELEASE]
    return bool(said) and said[-1].cells.get("names") == "yes"


def take_back(shop: ShopFile, job: str, key: str) -> None:
    """Take an entry back; it stays in the file, marked so.

    Raises
    ------
    UnknownNameError
    """
    keys = [e.key for e in current(shop.job(job).entries)]
    if key not in keys:
        raise UnknownNameError("entry", key, keys)
    shop.add_entry(job, JobEntry(uuid.uuid4().hex, EntryKind.WITHDRAWN, now(), {}, replaces=key))
