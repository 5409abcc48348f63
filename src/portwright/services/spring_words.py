"""Springs and clearances as a sheet for assembly."""

from __future__ import annotations

from collections.abc import Sequence

from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.report.document import Grid
from portwright.services.checked import Check
from portwright.services.display import Display
from portwright.services.shop_figures import Figures, shipped
from portwright.services.springs import (
    SPRING_QUANTITIES,
    ClearanceLine,
    SpringLine,
    SpringSheet,
)
from portwright.services.work_sheet import (
    BELOW_LOUD,
    NOT_CHECKED_LOUD,
    Part,
    Place,
    Say,
    belongs_to,
    numbered,
    sources,
    work_sheet_pdf,
)

HEADINGS = (
    "Valve",
    "Installed height",
    "Shims to add",
    "Seat load",
    "Open load",
    "To coil bind",
    "Retainer to seal",
)
_UNKNOWN = "–"
_ROOM_TO_WRITE = 5  # columns beside which two more to write in still fit on the page
COIL_BIND_NOTE = (
    "Shims, loads and coil bind are worked out from the heights and the spring's figures; only "
    "what was measured counts as checked."
)
COUNTS_NOTE = "A value counts as checked only with its instrument and its day."


def spring_row(line: SpringLine, display: Display) -> list[str]:
    """One valve, in the order of ``HEADINGS``."""
    return [
        line.port,
        line.height.words,
        *_worked_out(line, Say(display)),
        line.retainer.words,
    ]


def _worked_out(line: SpringLine, say: Say) -> list[str]:
    """What follows from the readings of one valve."""

    def gap(value: float | None, below: str) -> str:
        if value is None:
            return _UNKNOWN
        return say.cut(value) if value >= 0.0 else f"{below} {say.cut(value)}"

    return [
        gap(line.shim_needed, "too short by"),
        say.force(line.seat_load),
        say.force(line.open_load),
        gap(line.bind_margin, "binds by"),
    ]


def spring_parts(
    contents: JobContents,
    sheet: SpringSheet,
    display: Display | None = None,
    figures: Figures | None = None,
    *,
    to_fill: bool = False,
) -> tuple[Part, ...]:
    """The sheet as headed lines and tables.

    Parameters
    ----------
    to_fill : bool
        With empty columns to write in by hand.
    """
    shown, rules = display or Display(), figures or shipped()
    say = Say(shown)
    return (
        _open(sheet),
        *(
            (Part("Look at", tuple(f"{f.message} {f.hint}" for f in sheet.findings)),)
            if sheet.findings
            else ()
        ),
        Part(
            "Clearances",
            grid=_clearances(sheet.clearances, say, to_fill=to_fill),
            notes=(sources((c.check.name, c.least) for c in sheet.clearances),),
        ),
        Part(
            "Springs",
            grid=_springs(sheet.springs, say, to_fill=to_fill),
            notes=(f"{COUNTS_NOTE} {COIL_BIND_NOTE}",),
        ),
        Part("Springs are bought for", grid=_bought(sheet), place=Place.BESIDE),
        Part("Datum, tolerances", (*_DATUM, *_tolerances(rules, say)), place=Place.BESIDE),
        Part("Order of work", numbered(_ORDER), place=Place.BESIDE),
        Part("Who answers for it", (_ASSEMBLER,), place=Place.BESIDE),
    )


def _open(sheet: SpringSheet) -> Part:
    """Everything nobody checked, in as few lines as hold it."""

    def valves(name: str, places: Sequence[str]) -> str:
        count = len(sheet.springs)
        told = "every valve" if len(places) == count > 1 else ", ".join(places)
        return f"{name}, {len(places)} of {count}: {told}."

    named = {
        "Installed height": [s.port for s in sheet.springs if not s.height.done],
        "Retainer to seal": [s.port for s in sheet.springs if not s.retainer.done],
    }
    lines = [valves(name, places) for name, places in named.items() if places]
    open_ = [c.check.name for c in sheet.clearances if not c.check.done]
    if open_:
        of = f"{len(open_)} of {len(sheet.clearances)}"
        lines.insert(0, f"Clearances, {of}: {', '.join(open_)}.")
    if not lines:
        return Part("Not checked yet", ("Everything here has a value, instrument and day.",))
    return Part("Not checked yet", tuple(lines), loud=True)


def _state(check: Check) -> str:
    """Loud where it is not checked, else with what and when."""
    if check.found is None or not check.done:
        return NOT_CHECKED_LOUD
    return f"{check.found.instrument}, {check.found.date}"


def _value(check: Check) -> str:
    return _UNKNOWN if check.found is None else str(check.found.value)


def _clearances(lines: Sequence[ClearanceLine], say: Say, *, to_fill: bool) -> Grid:
    rows = tuple(
        (
            line.check.name,
            say.figure(line.least),
            _value(line.check) + (f" {BELOW_LOUD}" if line.close else ""),
            _state(line.check),
            *("" for _ in range(3 * to_fill)),
        )
        for line in lines
    )
    headings = ("Clearance", "The shop's least", "On record", "Checked")
    if not to_fill:
        return Grid(headings, rows)
    written = ("Measured now", "With", "Day")
    return Grid((*headings, *written), rows, wide=(4, 5, 6), tall=True, to_write=(4, 5, 6))


def _springs(lines: Sequence[SpringLine], say: Say, *, to_fill: bool) -> Grid:
    def cell(check: Check) -> str:
        state = _state(check)
        return state if check.found is None else f"{_value(check)} {state}"

    def row(line: SpringLine) -> tuple[str, ...]:
        return line.port, cell(line.height), *_worked_out(line, say), cell(line.retainer)

    rows = tuple(row(line) for line in lines)
    if not to_fill:
        return Grid(HEADINGS, rows)
    known = [i for i in range(len(HEADINGS)) if any(r[i] != _UNKNOWN for r in rows)]
    headings = tuple(HEADINGS[i] for i in known)
    shown = tuple(tuple(r[i] for i in known) for r in rows)
    if len(known) > _ROOM_TO_WRITE:
        return Grid(headings, shown)
    by_hand = (len(known), len(known) + 1)
    filled = tuple((*row, "", "") for row in shown)
    return Grid((*headings, "Height now", "Retainer now"), filled, wide=by_hand, to_write=by_hand)


def _bought(sheet: SpringSheet) -> Grid:
    rows = tuple(
        (
            quantity,
            *(
                str(sheet.spec[side][quantity].value) if quantity in sheet.spec[side] else _UNKNOWN
                for side in Side
            ),
        )
        for quantity in SPRING_QUANTITIES
    )
    return Grid(("", *(side.value.capitalize() for side in Side)), rows)


_DATUM = (
    (
        "Installed height: from the spring pad or locator to the underside of the "
        "retainer, retainer and locks pulled tight, shims as they will run."
    ),
    "Clearances: on the real engine with its gasket, cam and timing; light springs.",
)


def _tolerances(rules: Figures, say: Say) -> tuple[str, ...]:
    height, load, soft = (
        rules[name]
        for name in ("installed height tolerance", "spring load tolerance", "soft parts extra")
    )
    return (
        f"Installed height ±{say.figure(height)} ({height.tag}).",
        f"Loads of a set alike within {load.text} ({load.tag}).",
        f"Valve to piston: {say.figure(soft)} more with soft parts ({soft.tag}).",
    )


_ORDER = (
    "Seats, valves and tips finished and washed.",
    "Installed height of every valve without shims, recorded.",
    "Shims, then the height again; loads on a spring tester at that height and at full lift.",
    "Coil bind of one spring of the set, by vice or tester.",
    "Retainer to seal at full lift, by dial or feeler.",
    (
        "On the engine, with its own gasket: valve to piston every few degrees about overlap, "
        "valve to valve, valve to bore."
    ),
)
_ASSEMBLER = (
    "Nothing here certifies an engine. The assembler checks every clearance on the real parts; "
    "follow local codes and rules, and have qualified people do or check the work."
)


def spring_pdf(
    contents: JobContents,
    sheet: SpringSheet,
    display: Display | None = None,
    figures: Figures | None = None,
) -> bytes:
    """The sheet on paper.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    title = f"Springs and clearances, job {sheet.job}"
    return work_sheet_pdf(
        title,
        belongs_to(contents),
        spring_parts(contents, sheet, display, figures, to_fill=True),
    )
