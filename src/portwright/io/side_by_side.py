"""Flow sheets that hold one sweep a column: turned into one reading a row, nothing else changed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from portwright.errors import ImportFileError
from portwright.io.columns import Column, Use, understand_columns
from portwright.io.headings import STATES
from portwright.io.names import port_code
from portwright.io.tables import Table
from portwright.model.head import Side

_PORT = re.compile(
    r"(?ix)"
    r"(?: (?P<side>intake|inlet|int|exhaust|exh) [\s_-]* (?P<number>\d*)"
    r"  | (?P<letter>i|e|ex) [\s_-]? (?P<cylinder>\d+) )"
    r"(?: [\s_:,/-]+ (?P<rest>.*) )?"
)


@dataclass(frozen=True, slots=True)
class SideBySide:
    """A sheet with one reading a row, and how the columns of the original were understood.

    Parameters
    ----------
    table : Table
    mapping : dict of str to str
        What is left of the person's mapping for the new headings.
    columns : tuple of Column
        Of the original, in its order; empty where the sheet was in rows already.
    """

    table: Table
    mapping: dict[str, str]
    columns: tuple[Column, ...] = ()


@dataclass(frozen=True, slots=True)
class _SweepColumn:
    column: Column
    port: str
    stage: str
    repeat: int


def one_reading_a_row(table: Table, mapping: Mapping[str, str] | None = None) -> SideBySide:
    """The table with one reading a row, itself where it is so already.

    A sheet is one sweep a column when it has a lift and either two columns a person called flow or
    a column whose heading is a port ("Intake 1 [cfm]", "E2 S0 (L/s)").  Blank cells are lifts
    that were not flown.

    Raises
    ------
    ImportFileError
        The columns hold at different test pressures.
    UnknownNameError
        The mapping names a heading the sheet lacks, or a field that does not exist.
    """
    mapping = dict(mapping or {})
    columns = understand_columns(table.headers, mapping)
    sweeps = list(_sweep_columns(columns, mapping))
    in_rows = SideBySide(table, mapping)
    if not any(c.field == "lift" and _is_read(c) for c in columns) or not sweeps:
        return in_rows
    without_port = not any(sweep.port for sweep in sweeps)
    if without_port and (len(sweeps) == 1 or len({s.column.flow_at for s in sweeps}) > 1):
        return in_rows  # one flow, or the same flow at several pressures
    taken = {sweep.column.index for sweep in sweeps}
    kept = [c for c in columns if c.index not in taken and c.field != "run"]
    added = {
        name: [getattr(sweep, name) for sweep in sweeps]
        for name in ("port", "stage", "repeat")
        if any(getattr(sweep, name) not in {"", 1} for sweep in sweeps)
    }
    rows, numbers = _rows(table, kept, sweeps, added)
    return SideBySide(
        Table(
            (*(c.heading for c in kept), _flow_heading(sweeps, table.source), *added),
            tuple(rows),
            table.source,
            table.sheet,
            table.header_row,
            table.findings,
            tuple(numbers),
        ),
        {h: m for h, m in mapping.items() if h in {c.heading for c in kept}},
        tuple(_as_shown(c, sweeps) for c in columns),
    )


def _is_read(column: Column) -> bool:
    return column.use in {Use.READ, Use.NEEDS_UNIT}


def _sweep_columns(columns: Sequence[Column], mapping: Mapping[str, str]) -> Iterator[_SweepColumn]:
    seen: Counter[tuple[str, str]] = Counter()
    for column in columns:
        words = re.sub(r"[\[(].*?[\])]", "", column.heading).strip()
        port, rest = _port(words)
        flow = column
        if column.heading not in mapping and port and column.use is Use.UNKNOWN:
            # the port's name stands where the word flow would
            told = column.heading.replace(words, "flow", 1)
            flow = replace(understand_columns((told,))[0], index=column.index)
            unit = _trailing_unit(rest)
            if flow.use is Use.NEEDS_UNIT and unit is not None:
                flow, rest = unit, ""
        if flow.field != "flow" or flow.use not in {Use.READ, Use.NEEDS_UNIT, Use.REPEATED}:
            continue
        if flow.use is Use.REPEATED and column.heading not in mapping:
            continue  # the same flow in another unit
        stage = _stage(rest if port else words, known=bool(port))
        seen[port, stage] += 1
        yield _SweepColumn(
            replace(flow, index=column.index, heading=column.heading),
            port,
            stage,
            seen[port, stage],
        )


def _port(words: str) -> tuple[str, str]:
    """Port that a heading begins with, and the words after it."""
    match = _PORT.fullmatch(words)
    if match is None:
        return "", words
    rest = match["rest"] or ""
    numbered = bool(match["number"] or match["cylinder"])
    if rest and not numbered and not _stage(rest, known=False) and _trailing_unit(rest) is None:
        return "", words  # "intake valve" is no port
    letter = (match["side"] or match["letter"]).casefold()
    side = Side.INTAKE if letter.startswith("i") else Side.EXHAUST
    number = match["number"] or match["cylinder"]
    return (port_code(side, number) if number else str(side.value)), rest


def _trailing_unit(words: str) -> Column | None:
    """Column of flow where those words are nothing but its unit ("cfm", "cfm_28")."""
    column = understand_columns((f"flow_{words}",))[0]
    return column if column.field == "flow" and column.use is Use.READ else None


def _stage(words: str, *, known: bool) -> str:
    """Stage in a heading: any word behind a port, else only one that says when."""
    slug = re.sub(r"[^\w]+", "_", words.casefold()).strip("_")
    if slug in STATES:
        return STATES[slug]
    return words.strip(" -:,/") if known else ""


def _flow_heading(sweeps: Sequence[_SweepColumn], source: str) -> str:
    pressures = {sweep.column.flow_at for sweep in sweeps}
    if len(pressures) > 1:
        raise ImportFileError(
            f"{source} has columns of flow at different test pressures.",
            "Keep one pressure on a sheet, or give each its own sheet.",
        )
    units = {sweep.column.unit for sweep in sweeps}
    unit = next(iter(units)) if len(units) == 1 else ""
    at = next(iter(pressures))
    inside = f"{unit} @ {at} inH2O" if at else unit
    return f"flow [{inside}]" if inside else "flow"


def _rows(
    table: Table,
    kept: Sequence[Column],
    sweeps: Sequence[_SweepColumn],
    added: Mapping[str, Sequence[str | int]],
) -> tuple[list[tuple[str, ...]], list[int]]:
    one_unit = len({sweep.column.unit for sweep in sweeps}) == 1
    rows: list[tuple[str, ...]] = []
    numbers: list[int] = []
    beyond = len(table.headers)
    for place, sweep in enumerate(sweeps):
        for index, cells in enumerate(table.rows):
            flow = cells[sweep.column.index]
            empty = not any(cells[s.column.index] for s in sweeps)
            if not any(cells) or (not flow and not (empty and place == 0)):
                continue
            if flow and not one_unit and sweep.column.unit:
                flow = f"{flow} {sweep.column.unit}"
            values = (str(value[place]) for value in added.values())
            rows.append((*(cells[c.index] for c in kept), flow, *values, *cells[beyond:]))
            numbers.append(table.row_number(index))
    return rows, numbers


def _as_shown(column: Column, sweeps: Sequence[_SweepColumn]) -> Column:
    for sweep in sweeps:
        if sweep.column.index == column.index:
            said = (sweep.port, sweep.stage, f"repeat {sweep.repeat}" if sweep.repeat > 1 else "")
            name = " ".join(word for word in said if word)
            use = Use.NEEDS_UNIT if sweep.column.use is Use.NEEDS_UNIT else Use.READ
            shown = replace(sweep.column, use=use, reason="" if use is Use.READ else column.reason)
            return replace(shown, state=f"of {name}" if name else "")
    return column
