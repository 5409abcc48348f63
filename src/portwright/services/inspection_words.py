"""An inspection as a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from portwright.model.contents import JobContents
from portwright.report.document import Grid
from portwright.services.inspection import Inspection, Observation
from portwright.services.shop_figures import Figures, shipped
from portwright.services.work_sheet import Part, Place, belongs_to, numbered, work_sheet_pdf

HINTS_NOTE = "Common meanings, to ask about. They are no diagnosis."


def seen_line(item: Observation) -> str:
    """What was seen, with reading and method; nothing of what is suspected."""
    parts = [item.seen, item.reading, item.method]
    text = ", ".join(p for p in parts if p)
    return f"{item.place}: {text}" if item.place else text


def seen_together(seen: Sequence[Observation]) -> dict[tuple[str, str], list[str]]:
    """Places with their readings, by what was seen there and how; each thing stands once."""
    together: dict[tuple[str, str], list[str]] = {}
    for item in seen:
        where = f"{item.place} {item.reading}".strip()
        together.setdefault((item.seen, item.method), []).append(where or "somewhere")
    return together


def _seen(found: Inspection) -> Part:
    """What was seen, row by row; what is suspected in a column of its own."""
    if not found.observations:
        return Part("Seen", ("Nothing recorded yet.",))
    rows = tuple((o.place, o.seen, o.reading, o.method, o.suspicion) for o in found.observations)
    headings = ("Where", "Seen", "Reading", "With", "Noted or suspected, by the one who wrote it")
    return Part("Seen", grid=Grid(headings, rows, wide=(1, 4)))


def _meanings(hints: tuple[tuple[str, ...], ...]) -> Part:
    grid = Grid(("Sign", "Where", "Common meaning"), hints, wide=(1, 2))
    return Part("What it commonly means", grid=grid, notes=(HINTS_NOTE,))


def inspection_parts(
    contents: JobContents, found: Inspection, figures: Figures | None = None
) -> tuple[Part, ...]:
    """The inspection as headed lines and tables."""
    hints = tuple((h.sign.capitalize(), ", ".join(h.places), h.text) for h in found.hints)
    asked = tuple(
        f"{h.question}. {'Put to the customer.' if h.asked else 'NOT ASKED YET.'}"
        for h in found.hints
        if h.question
    )
    return (
        _seen(found),
        *((Part("Beyond the shop's figures", found.limits),) if found.limits else ()),
        *((_meanings(hints),) if hints else ()),
        *((Part("Waits for the customer's yes", asked),) if asked else ()),
        Part("Order of work", numbered(_ORDER), place=Place.BESIDE),
        Part("Tolerances", _tolerances(figures or shipped()), place=Place.BESIDE),
        Part("Datum", (_DATUM,), place=Place.BESIDE),
        Part("Who answers for it", (_WORDS,), place=Place.BESIDE),
    )


def _tolerances(figures: Figures) -> tuple[str, ...]:
    """The shop's figures a reading is held against, each with its label."""
    own = [f for f in figures.values() if f.group == "inspection"]
    return tuple(f"{f.words.capitalize()}: {f.text} ({f.tag})." for f in own)


_ORDER = (
    "Photos of every face before anything is cleaned off.",
    "Valves bagged by hole, seats and valves looked at as they came.",
    "Hot wash, then cracks: penetrant, or magnetic particles on iron.",
    "Pressure test, with shields; again after any weld and after deep porting.",
    "Deck, hardness, guides, seats: numbers with instrument.",
    "What needs a yes is asked before work goes on.",
)
_DATUM = "Where it was measured from is part of a reading: write it with it."
_WORDS = (
    "Nothing here certifies a part. Follow local codes and rules, and have qualified people do or "
    "check tests under pressure, welding and crack detection."
)


def inspection_pdf(
    contents: JobContents, found: Inspection, figures: Figures | None = None
) -> bytes:
    """The sheet on paper.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    title = f"Inspection, job {found.job}"
    return work_sheet_pdf(title, belongs_to(contents), inspection_parts(contents, found, figures))
