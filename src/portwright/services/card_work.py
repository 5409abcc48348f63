"""Work on the job card: operations with their hours, the clock, and parts used."""

from __future__ import annotations

from portwright.errors import InputError
from portwright.model.entry import EntryKind
from portwright.services.card_entries import enter
from portwright.services.card_holds import ask
from portwright.services.job_card import job_card
from portwright.services.money import decimal_in
from portwright.services.shop_file import ShopFile

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
