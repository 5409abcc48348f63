"""Springs and clearances as a sheet for assembly."""

from __future__ import annotations

from portwright import units
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.services.display import Display
from portwright.services.shop_figures import Figures, shipped
from portwright.services.springs import SpringLine, SpringSheet
from portwright.services.work_sheet import Part, Say, belongs_to, numbered, work_sheet_pdf
from portwright.units import Kind

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
COIL_BIND_NOTE = (
    "Shims, loads and coil bind are worked out from the heights and the spring's figures; only "
    "what was measured counts as checked."
)


def _force(value: float | None, display: Display) -> str:
    if value is None:
        return _UNKNOWN
    unit = "lbf" if display.length in {"in", "thou"} else "N"
    return f"{units.show(value, unit, Kind.FORCE)} {unit}"


def spring_row(line: SpringLine, display: Display) -> list[str]:
    """One valve, in the order of ``HEADINGS``."""
    say = Say(display)

    def gap(value: float | None, below: str) -> str:
        if value is None:
            return _UNKNOWN
        return say.cut(value) if value >= 0.0 else f"{below} {say.cut(value)}"

    return [
        line.port,
        line.height.words,
        gap(line.shim_needed, "too short by"),
        _force(line.seat_load, display),
        _force(line.open_load, display),
        gap(line.bind_margin, "binds by"),
        line.retainer.words,
    ]


def spring_parts(
    contents: JobContents,
    sheet: SpringSheet,
    display: Display | None = None,
    figures: Figures | None = None,
) -> tuple[Part, ...]:
    """The sheet as headed lines of plain words."""
    shown, rules = display or Display(), figures or shipped()
    say = Say(shown)
    missing = tuple(f"{name.upper()}: NOT CHECKED YET" for name in sheet.open_names)
    springs = []
    for line in sheet.springs:
        cells = zip(HEADINGS, spring_row(line, shown), strict=True)
        springs.append("; ".join(f"{h.lower()} {c}" for h, c in cells if c != _UNKNOWN))
    return (
        Part("Not checked yet", missing or ("Everything here has a value, instrument and date.",)),
        Part(
            "Clearances",
            tuple(
                f"{c.check.name}: {c.check.words}. The shop's least: {c.least.text} "
                f"({c.least.tag})."
                for c in sheet.clearances
            ),
        ),
        Part("Springs are bought for", _bought(sheet)),
        Part("Springs", (*springs, COIL_BIND_NOTE)),
        Part(
            "Datum",
            (
                (
                    "Installed height: from the spring pad or locator to the underside of the "
                    "retainer, retainer and locks pulled tight, shims as they will run."
                ),
                "Clearances: on the real engine with its gasket, cam and timing; light springs.",
            ),
        ),
        Part("Order of work", numbered(_ORDER)),
        Part(
            "Tolerances",
            (
                (
                    f"Installed height ±{say.cut(rules['installed height tolerance'].value.si)} "
                    f"({rules['installed height tolerance'].tag})."
                ),
                (
                    f"Loads of a set alike within {rules['spring load tolerance'].text} "
                    f"({rules['spring load tolerance'].tag})."
                ),
                (
                    f"Aluminium rods, soft timing drives: add {rules['soft parts extra'].text} "
                    f"to valve to piston ({rules['soft parts extra'].tag})."
                ),
            ),
        ),
        *(
            (Part("Look at", tuple(f"{f.message} {f.hint}" for f in sheet.findings)),)
            if sheet.findings
            else ()
        ),
        Part("Who answers for it", (_ASSEMBLER,)),
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


def _bought(sheet: SpringSheet) -> tuple[str, ...]:
    lines = []
    for side in Side:
        known = ", ".join(f"{q} {m.value}" for q, m in sheet.spec[side].items())
        lines.append(f"{side.value.capitalize()}: {known or 'nothing recorded'}.")
    return tuple(lines)


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
        title, belongs_to(contents), spring_parts(contents, sheet, display, figures)
    )
