"""A search taken apart: sizes, flows, lifts and years among its words."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from portwright import units
from portwright.services.display import Display
from portwright.units import Kind

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_FLOW = re.compile(
    rf"(?P<how>over|above|more than|at least|under|below|less than|>|<)\s*{_NUMBER}"
    r"\s*(?P<unit>cfm|l/s|cfm/28)?(?![\w.])",
    re.IGNORECASE,
)
_LIFT = re.compile(rf"\bat\s+{_NUMBER}\s*(?P<unit>mm|inch|in|l/d)?(?![\w.])", re.IGNORECASE)
_ANGLE = re.compile(rf"(?<![\w.]){_NUMBER}\s*(?:deg(?:rees?)?\b|°)", re.IGNORECASE)
_VALVE = re.compile(rf"(?<![\w.]){_NUMBER}\s*(?P<unit>mm|inch|in)\b", re.IGNORECASE)
_YEARS = re.compile(
    r"\b(?P<how>since|after|before|until|in)\s+(?P<year>(?:19|20)\d\d)\b", re.IGNORECASE
)
_SIDES = {"intake": "intake", "inlet": "intake", "exhaust": "exhaust"}
_LESS = {"under", "below", "less than", "<"}


@dataclass(frozen=True, slots=True)
class Question:
    """How a search was understood.

    Parameters
    ----------
    words : tuple of str
        To be found as text.
    side : str
    valve : float or None
        Valve diameter. [m]
    angle : float or None
        Valve angle from the bore axis. [rad]
    flow : float or None
        [m3/s]
    less : bool
        True for less than ``flow``.
    lift, ratio : float or None
        Where the flow is meant: lift [m] or L/D [-]; the highest lift when both are None.
    since, until : str
        Years.
    """

    words: tuple[str, ...] = ()
    side: str = ""
    valve: float | None = None
    flow: float | None = None
    less: bool = False
    lift: float | None = None
    ratio: float | None = None
    since: str = ""
    until: str = ""
    angle: float | None = None

    @property
    def of_ports(self) -> bool:
        """Whether ports have to be looked at, not only words."""
        return (self.valve, self.flow, self.angle) != (None, None, None)

    def describe(self, display: Display) -> str:
        """How it was understood, in words."""
        parts = []
        if self.valve is not None:
            parts.append(f"valve {_plain(display.length_text(self.valve))}")
        if self.angle is not None:
            angle = _plain(f"{units.from_si(self.angle, 'deg', Kind.ANGLE):.2f}")
            parts.append(f"valve angle {angle} deg")
        if self.side and self.of_ports:
            parts.append(self.side)
        if self.flow is not None:
            size = f"{'under' if self.less else 'over'} {_plain(display.flow_text(self.flow))} "
            where = "its highest lift"
            if self.lift is not None:
                where = f"{_plain(display.lift_text(self.lift))} {display.length} lift"
            elif self.ratio is not None:
                where = f"L/D {self.ratio:g}"
            parts.append(f"{size}{display.flow} at {where}")
        if self.since:
            parts.append(f"since {self.since}")
        if self.until:
            parts.append(f"until {self.until}")
        if self.words:
            parts.append("with the words " + ", ".join(f"'{w}'" for w in self.words))
        return "; ".join(parts)


def _plain(text: str) -> str:
    """Without zeros that nobody typed: "44.00 mm" was asked for as 44 mm."""
    return re.sub(r"(\.\d*?)0+(?=\D|$)", r"\1", text).replace(". ", " ").rstrip(".")


def understand(text: str, display: Display) -> Question:
    """Take a search apart; what is no number with a meaning is searched as a word.

    Parameters
    ----------
    text : str
    display : Display
        Units for numbers typed without one.
    """
    asked = Question()
    rest = text
    if found := _FLOW.search(rest):
        unit = (found["unit"] or display.flow).replace("l/s", "L/s").replace("cfm/28", "cfm")
        asked = replace(
            asked,
            flow=units.to_si(_value(found[2]), unit if unit != "L/S" else "L/s", Kind.FLOW),
            less=found["how"].casefold() in _LESS,
        )
        rest = rest[: found.start()] + " " + rest[found.end() :]
    if found := _LIFT.search(rest):
        lift, ratio = _lift(found, display)
        asked = replace(asked, lift=lift, ratio=ratio)
        rest = rest[: found.start()] + " " + rest[found.end() :]
    for found in list(_YEARS.finditer(rest)):
        how, year = found["how"].casefold(), found["year"]
        if how in {"since", "after", "in"}:
            asked = replace(asked, since=year if how != "after" else str(int(year) + 1))
        if how in {"until", "before", "in"}:
            asked = replace(asked, until=year if how != "before" else str(int(year) - 1))
    rest = _YEARS.sub(" ", rest)
    if found := _ANGLE.search(rest):
        angle = units.to_si(_value(found[1]), "deg", Kind.ANGLE)
        asked = replace(asked, angle=angle)
        rest = rest[: found.start()] + " " + rest[found.end() :]
    if found := _VALVE.search(rest):
        unit = "in" if found["unit"].casefold().startswith("in") else "mm"
        asked = replace(asked, valve=units.to_si(_value(found[1]), unit, Kind.LENGTH))
        rest = rest[: found.start()] + " " + rest[found.end() :]
    words = [w for w in re.split(r"[\s,;]+", rest) if re.search(r"\w", w)]
    sides = [w for w in words if w.casefold() in _SIDES]
    if sides and asked.of_ports:
        asked = replace(asked, side=_SIDES[sides[0].casefold()])
        words = [w for w in words if w.casefold() not in {*_SIDES, "valve", "valves", "ports"}]
    if asked.angle is not None:
        words = [w for w in words if w.casefold() not in {"valve", "valves", "angle"}]
    return replace(asked, words=tuple(words))


def _value(text: str) -> float:
    return float(text.replace(",", "."))


def _lift(found: re.Match[str], display: Display) -> tuple[float | None, float | None]:
    value, unit = _value(found[1]), (found["unit"] or display.length).casefold()
    if unit == "l/d":
        return None, value
    return units.to_si(value, "in" if unit.startswith("in") else unit, Kind.LENGTH), None
