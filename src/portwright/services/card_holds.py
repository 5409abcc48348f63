"""Hold points of the job card: what waits for the customer's word, and what the customer said."""

from __future__ import annotations

from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.entry import EntryKind
from portwright.services.card_entries import current, enter, now
from portwright.services.job_card import job_card
from portwright.services.shop_file import ShopFile


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
