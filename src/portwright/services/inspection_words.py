"""An inspection as a sheet."""

from __future__ import annotations

from portwright.model.contents import JobContents
from portwright.services.inspection import Inspection, Observation
from portwright.services.shop_figures import Figures, shipped
from portwright.services.work_sheet import Part, belongs_to, numbered, work_sheet_pdf

HINTS_NOTE = "Common meanings, to ask about. They are no diagnosis."


def seen_line(item: Observation) -> str:
    """What was seen, with reading and method; nothing of what is suspected."""
    parts = [item.seen, item.reading, item.method]
    text = ", ".join(p for p in parts if p)
    return f"{item.place}: {text}" if item.place else text


def inspection_parts(
    contents: JobContents, found: Inspection, figures: Figures | None = None
) -> tuple[Part, ...]:
    """The inspection as headed lines of plain words."""
    suspected = tuple(
        f"{o.place or o.seen}: {o.suspicion}" for o in found.observations if o.suspicion
    )
    hints = tuple(f"{h.sign.capitalize()} ({', '.join(h.places)}): {h.text}" for h in found.hints)
    asked = tuple(
        f"{h.question}. {'Put to the customer.' if h.asked else 'NOT ASKED YET.'}"
        for h in found.hints
        if h.question
    )
    return (
        Part("Seen", tuple(seen_line(o) for o in found.observations) or ("Nothing recorded yet.",)),
        *((Part("Beyond the shop's figures", found.limits),) if found.limits else ()),
        *((Part("Noted or suspected, by the one who wrote it", suspected),) if suspected else ()),
        *((Part("What it commonly means", (*hints, HINTS_NOTE)),) if hints else ()),
        *((Part("Waits for the customer's yes", asked),) if asked else ()),
        Part("Order of work", numbered(_ORDER)),
        Part("Datum", ("Where it was measured from is part of a reading: write it with it.",)),
        Part("Tolerances", _tolerances(figures or shipped())),
        Part("Who answers for it", (_WORDS,)),
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
