"""Column headings to what they mean, from a closed list; a unit is read, never guessed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from portwright.errors import UnitError, UnknownNameError
from portwright.io.headings import HEADINGS, SIDES, STATES, Meaning
from portwright.nomenclature import TERMS, term_for_heading
from portwright.units import Kind, unit

USUAL_UNITS = {
    Kind.LENGTH: "mm",
    Kind.FLOW: "cfm",
    Kind.PRESSURE: "inH2O",
    Kind.TEMPERATURE: "degC",
    Kind.RATIO: "%",
    Kind.AREA: "mm2",
    Kind.VOLUME: "cc",
}
"""One unit of each kind, for examples."""


class Use(StrEnum):
    """What becomes of a column."""

    READ = "read"
    DERIVED = "derived, recomputed here"
    NEEDS_UNIT = "needs a unit"
    IGNORED = "ignored"
    REPEATED = "repeated"
    UNKNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet and what it was understood as.

    Parameters
    ----------
    index : int
        Place in the sheet, from 0.
    heading : str
        As written.
    use : Use
    field : str
        Portwright's name of what it holds.
    kind : Kind or None
        None for text and counts.
    unit : str
        Unit of cells that carry none themselves; "" when each cell must.
    flow_at : str
        Test pressure in inH2O at which a flow column holds, "" when the heading does not say.
    state : str
        When the values were taken, where the heading says so ("as received").
    side : str
        "intake" or "exhaust" where the heading says so.
    quantity : bool
        True when the field is a term of the nomenclature.
    reason : str
        Why it is not read, or what to do.
    """

    index: int
    heading: str
    use: Use
    field: str = ""
    kind: Kind | None = None
    unit: str = ""
    flow_at: str = ""
    state: str = ""
    side: str = ""
    quantity: bool = False
    reason: str = ""

    @property
    def understood_as(self) -> str:
        """Field, side, state, unit and pressure in words."""
        words = [self.side, self.field, self.state, f"[{self.unit}]" if self.unit else ""]
        words.append(f"at {self.flow_at} inH2O" if self.flow_at else "")
        return " ".join(word for word in words if word)


def understand_columns(
    headers: tuple[str, ...], mapping: Mapping[str, str] | None = None
) -> tuple[Column, ...]:
    """Meaning of every heading of a sheet.

    Parameters
    ----------
    headers : tuple of str
    mapping : mapping of str to str, optional
        What the person says a heading means: "lift", "lift [mm]", "flow [cfm @ 28 inH2O]"
        or "ignore".

    Raises
    ------
    UnknownNameError
        The mapping names a heading the sheet lacks, or a field that does not exist.
    """
    mapping = mapping or {}
    for heading in mapping:
        if heading not in headers:
            raise UnknownNameError("column", heading, headers)
    taken: set[tuple[str, str, str]] = set()
    columns = []
    for index, heading in enumerate(headers):
        column = replace(_understand(heading, mapping.get(heading)), index=index, heading=heading)
        key = (column.field, column.side, column.state)
        stored = column.use in {Use.READ, Use.NEEDS_UNIT}
        if stored and key in taken and column.field not in {"torque", "power", "place"}:
            column = replace(
                column, use=Use.REPEATED, reason=f"an earlier column already holds {column.field}"
            )
        elif stored:
            taken.add(key)
        columns.append(column)
    return tuple(columns)


def known_fields() -> tuple[str, ...]:
    """Names a mapping may use, sorted."""
    fields = {meaning.field for meanings in HEADINGS.values() for meaning in meanings}
    return tuple(sorted(fields | {term.name for term in TERMS} | {"ignore"}))


def suggested_meanings() -> tuple[str, ...]:
    """What a person is offered for a heading of a flow sheet, with units where there are some."""
    numbers = (
        f"{meaning.field} [{unit_text}]"
        for field, units in _SUGGESTED
        for meaning in HEADINGS[field][:1]
        for unit_text in units
    )
    return (*numbers, "port", "stage", "repeat", "date", "bench", "run", "note", "ignore")


_SUGGESTED = (
    ("lift", ("mm", "in", "thou")),
    ("flow", ("cfm", "L/s", "cfm @ 28 inH2O", "cfm @ 10 inH2O")),
    ("percent", ("%",)),
    ("test_pressure", ("inH2O", "kPa")),
    ("air_temperature", ("degC", "degF")),
    ("barometer", ("hPa", "inHg")),
    ("leak", ("cfm", "L/s")),
)


def _understand(heading: str, wanted: str | None) -> Column:
    if wanted is None:
        return _from_words(heading)
    if wanted.strip().casefold() == "ignore":
        return Column(0, heading, Use.IGNORED, reason="left out by the mapping")
    column = _from_words(wanted)
    if column.use is Use.UNKNOWN:
        raise UnknownNameError("field", wanted, known_fields())
    if column.use is Use.NEEDS_UNIT:
        own = _unit_in(heading, column.kind)
        column = replace(column, use=Use.READ, unit=own) if own else column
    return column


def _unit_in(heading: str, kind: Kind | None) -> str:
    """Unit that a heading of unknown words carries in brackets, "" if none."""
    _, bracket = _bracketed(heading)
    if kind is None or not bracket:
        return ""
    try:
        return unit(bracket, kind).name
    except UnitError:
        return ""


def _from_words(heading: str) -> Column:
    text, bracket = _bracketed(heading)
    slug = re.sub(r"[^\w%°²³]+", "_", text.strip().casefold()).strip("_")
    bracket, _, at = (part.strip() for part in re.split(r"(@|\bat\b)", bracket + "@", maxsplit=1))
    at = re.sub(r"(?i)\s*in\s*h2o$|@$", "", at.removesuffix("@").strip()).strip()
    slug = _flow_by_unit(slug)
    needs_unit: Column | None = None
    for words, unit_text in [(slug, bracket)] if bracket else _splits(slug):
        for column in _meanings(words):
            fitted = _with_unit(column, unit_text)
            if fitted is None:
                continue
            if at and fitted.kind is Kind.FLOW:
                fitted = replace(fitted, flow_at=at)
            if fitted.use is not Use.NEEDS_UNIT:
                return fitted
            needs_unit = needs_unit or fitted
    unknown = Column(0, heading, Use.UNKNOWN, reason="not a heading Portwright knows")
    return needs_unit or unknown


def _flow_by_unit(slug: str) -> str:
    """A heading that is only a unit of flow, with or without a pressure, is a flow."""
    match = re.fullmatch(
        r"([a-z]+(?:_[a-z])?)(?:_(?:at_)?(\d+(?:\.\d+)?)(?:_in(?:_?h2o)?)?)?", slug
    )
    if match is None or match[1] in HEADINGS:
        return slug
    try:
        name = unit(match[1].replace("_", "/"), Kind.FLOW).name
    except UnitError:
        return slug
    return "_".join(part for part in ("flow", name.replace("/", "_"), match[2]) if part)


def _bracketed(heading: str) -> tuple[str, str]:
    match = re.fullmatch(r"\s*(.*?)\s*[\[(](.*?)[\])]\s*", heading)
    return (match[1], match[2].strip()) if match else (heading, "")


def _splits(slug: str) -> Iterator[tuple[str, str]]:
    """The heading as it is, then with each one or two of its words taken as the unit."""
    yield slug, ""
    tokens = slug.split("_")
    for size in (1, 2):
        for start in range(len(tokens) - size, -1, -1):
            rest = tokens[:start] + tokens[start + size :]
            if rest:
                yield "_".join(rest), "/".join(tokens[start : start + size])


def _with_unit(column: Column, unit_text: str) -> Column | None:
    """Column with its unit, None where the unit does not fit what is measured."""
    if column.kind is None:
        return replace(column, unit=unit_text) if _may_carry_unit(column, unit_text) else None
    if not unit_text:
        if column.unit or column.use is Use.DERIVED:
            return column
        example = f"{column.field} [{USUAL_UNITS.get(column.kind, 'unit')}]"
        hint = (
            f"say which, for example '{example}', on the screen below the columns or with --column"
        )
        return replace(column, use=Use.NEEDS_UNIT, reason=f"the heading has no unit: {hint}")
    try:
        return replace(column, unit=unit(unit_text, column.kind).name)
    except UnitError:
        return None


def _may_carry_unit(column: Column, unit_text: str) -> bool:
    """Text columns have no unit, except a bore adapter, whose size is kept as text."""
    if not unit_text:
        return True
    if column.field != "bore adapter":
        return False
    try:
        unit(unit_text, Kind.LENGTH)
    except UnitError:
        return False
    return True


def _meanings(words: str) -> Iterator[Column]:
    for meaning in HEADINGS.get(words, ()):
        yield _plain(meaning)
    at_pressure = re.fullmatch(r"(\w+?)_(\d+(?:\.\d+)?)(_by_square_root)?", words)
    if at_pressure:
        for meaning in HEADINGS.get(at_pressure[1], ()):
            if meaning.kind is Kind.FLOW:
                column = replace(_plain(meaning), flow_at=at_pressure[2])
                yield replace(column, use=Use.DERIVED) if at_pressure[3] else column
    yield from _quantities(words)


def _plain(meaning: Meaning) -> Column:
    use = Use.DERIVED if meaning.derived else Use.READ
    return Column(0, "", use, meaning.field, meaning.kind, meaning.implied_unit)


def _quantities(words: str) -> Iterator[Column]:
    side = ""
    first, _, rest = words.partition("_")
    state = next((s for s in sorted(STATES, key=len, reverse=True) if words.endswith(s)), "")
    if state and state == words:
        yield Column(0, "", Use.READ, "value at state", Kind.LENGTH, state=STATES[state])
    if first in SIDES and rest:
        side, words = SIDES[first], rest
    if state:
        words = words.removesuffix(state).rstrip("_")
    term = term_for_heading(words)
    if term is not None:
        kind = Kind(term.kind)
        yield Column(0, "", Use.READ, term.name, kind, "", "", STATES.get(state, ""), side, True)
    elif words == "cuts" and side:
        yield Column(0, "", Use.READ, "cuts", None, side=side)
