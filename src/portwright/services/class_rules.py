"""What the class allows, as far as a rule can be read."""

from __future__ import annotations

import re
from dataclasses import dataclass

from portwright import units
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.job import Measurement, SheetKind, SheetRow
from portwright.units import Kind

# What a rule is about, by words its subject must contain, and the quantity measured for it.
_RULE_QUANTITIES = (
    (("valve", "diameter"), "valve head diameter"),
    (("valve", "lift"), "full valve lift"),
    (("port", "volume"), "port volume"),
    (("throat", "diameter"), "throat diameter"),
)
_WITH_TOLERANCE = re.compile(
    r"(?P<size>[\d.,]+)\s*(?P<unit>[^\d\s+-]+)\s*\+\s*(?P<plus>[\d.,]+)\s*/\s*-\s*(?P<minus>[\d.,]+)"
)
_AT_MOST = re.compile(r"(?:max\.?\s*)?(?P<value>[\d.,]+\s*[^\d\s]*?)\s*(?:max\.?)?")


@dataclass(frozen=True, slots=True)
class ClassLimit:
    """One class rule as far as it can be read.

    Parameters
    ----------
    rule, subject, words : str
        As on the sheet.
    quantity : str
        What is measured for it, "" where only a person can tell.
    side : Side or None
        Ports it is about.
    most, least : float or None
        Limits in SI of the quantity.
    measured : float or None
        Largest value measured at the newest stage, None where nothing was.
    """

    rule: str
    subject: str
    words: str
    quantity: str
    side: Side | None
    most: float | None
    least: float | None
    measured: float | None

    @property
    def kept(self) -> bool | None:
        """Whether the measured value lies inside, None where it cannot be told."""
        if self.measured is None or (self.most is None and self.least is None):
            return None
        return (self.most is None or self.measured <= self.most * (1.0 + 1e-9)) and (
            self.least is None or self.measured >= self.least * (1.0 - 1e-9)
        )

    @property
    def forbids_adding(self) -> bool:
        """Whether it says that no material may be added."""
        return "added" in self.subject.lower() and "none" in self.words.lower()


def class_limits(contents: JobContents) -> tuple[ClassLimit, ...]:
    """Class rules of a job; those written in words are passed on as words."""
    rows = [r for r in contents.rows if r.kind is SheetKind.CLASS_RULES]
    return tuple(_class_limit(contents, row) for row in rows)


def _class_limit(contents: JobContents, row: SheetRow) -> ClassLimit:
    subject, words = row.cells.get("subject", ""), row.cells.get("limit", "")
    lower = subject.lower()
    quantity = next((q for said, q in _RULE_QUANTITIES if all(word in lower for word in said)), "")
    side = next((s for s in Side if s.value in lower), None)
    most = least = None
    if quantity:
        least, most = _read_limit(words, Kind(_KINDS[quantity]))
    measured = _largest(contents, quantity, side) if quantity else None
    rule = row.cells.get("rule_id", "") or row.cells.get("rule", "")
    return ClassLimit(rule, subject, words, quantity, side, most, least, measured)


_KINDS = {
    "valve head diameter": Kind.LENGTH,
    "full valve lift": Kind.LENGTH,
    "port volume": Kind.VOLUME,
    "throat diameter": Kind.LENGTH,
}


def _read_limit(words: str, kind: Kind) -> tuple[float | None, float | None]:
    """Least and most of "42.0 mm +0.0/-0.2" or "11.6 mm max". [SI of the kind]"""
    try:
        band = _WITH_TOLERANCE.fullmatch(words.strip())
        if band:
            size, plus, minus = (
                units.read(f"{band[part]} {band['unit']}", kind).si
                for part in ("size", "plus", "minus")
            )
            return size - minus, size + plus
        most = _AT_MOST.fullmatch(words.strip())
        if most and "max" in words.lower():
            return None, units.read(most["value"], kind).si
    except InputError:
        pass
    return None, None


def _largest(contents: JobContents, quantity: str, side: Side | None) -> float | None:
    """Largest newest value over all ports of a side."""
    of_side = {p.code for p in contents.ports if side is None or p.side is side}
    order = {s.code: i for i, s in enumerate(contents.stages)}
    newest: dict[tuple[str, str], Measurement] = {}
    for m in contents.measurements:
        if m.quantity != quantity or (m.subject not in of_side and not m.subject.startswith("cam")):
            continue
        key = (m.subject, m.place)
        if key not in newest or order.get(m.stage, -1) >= order.get(newest[key].stage, -1):
            newest[key] = m
    return max((m.value.si for m in newest.values()), default=None)
