"""Search in words and numbers: "44 mm intake over 150 at 11", "weld cyl 4 since 2020"."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from portwright import units
from portwright.archive.archive import Archive
from portwright.archive.overview import PortOverview, Wanted
from portwright.archive.searching import Hit
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.errors import InputError
from portwright.model.job import Job
from portwright.nomenclature import search_words
from portwright.services.compare import archive_pressure
from portwright.services.display import Display
from portwright.services.jobs import year_of
from portwright.services.overviews import OF_PORTS, RECORDED, STEPS, refresh
from portwright.units import Kind

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_FLOW = re.compile(
    rf"(?P<how>over|above|more than|at least|under|below|less than|>|<)\s*{_NUMBER}"
    r"\s*(?P<unit>cfm|l/s|cfm/28)?(?![\w.])",
    re.IGNORECASE,
)
_LIFT = re.compile(rf"\bat\s+{_NUMBER}\s*(?P<unit>mm|inch|in|l/d)?(?![\w.])", re.IGNORECASE)
_VALVE = re.compile(rf"(?<![\w.]){_NUMBER}\s*(?P<unit>mm|inch|in)\b", re.IGNORECASE)
_YEARS = re.compile(
    r"\b(?P<how>since|after|before|until|in)\s+(?P<year>(?:19|20)\d\d)\b", re.IGNORECASE
)
_SIDES = {"intake": "intake", "inlet": "intake", "exhaust": "exhaust"}
_LESS = {"under", "below", "less than", "<"}
_VALVE_TOLERANCE = 0.25e-3  # "44 mm" means 43.75 to 44.25
_RECORDED_LIFT = 1.0e-3  # an old sheet's single peak counts this near the lift asked for
_MOST = 200


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

    @property
    def of_ports(self) -> bool:
        """Whether ports have to be looked at, not only words."""
        return self.valve is not None or self.flow is not None

    def describe(self, display: Display) -> str:
        """How it was understood, in words."""
        parts = []
        if self.valve is not None:
            parts.append(f"valve {display.length_text(self.valve)}")
        if self.side and self.of_ports:
            parts.append(self.side)
        if self.flow is not None:
            size = f"{'under' if self.less else 'over'} {display.flow_text(self.flow)} "
            where = "its highest lift"
            if self.lift is not None:
                where = f"{display.lift_text(self.lift)} {display.length} lift"
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


@dataclass(frozen=True, slots=True)
class Found:
    """One job that fits, with where it fits.

    Parameters
    ----------
    job : Job
    lines : tuple of str
        Ports with their flow, and lines of text.
    """

    job: Job
    lines: tuple[str, ...] = field(default=())


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
    if found := _VALVE.search(rest):
        unit = "in" if found["unit"].casefold().startswith("in") else "mm"
        asked = replace(asked, valve=units.to_si(_value(found[1]), unit, Kind.LENGTH))
        rest = rest[: found.start()] + " " + rest[found.end() :]
    words = [w for w in re.split(r"[\s,;]+", rest) if re.search(r"\w", w)]
    sides = [w for w in words if w.casefold() in _SIDES]
    if sides and asked.of_ports:
        asked = replace(asked, side=_SIDES[sides[0].casefold()])
        words = [w for w in words if w.casefold() not in {*_SIDES, "valve", "valves", "ports"}]
    return replace(asked, words=tuple(words))


def _value(text: str) -> float:
    return float(text.replace(",", "."))


def _lift(found: re.Match[str], display: Display) -> tuple[float | None, float | None]:
    value, unit = _value(found[1]), (found["unit"] or display.length).casefold()
    if unit == "l/d":
        return None, value
    return units.to_si(value, "in" if unit.startswith("in") else unit, Kind.LENGTH), None


def find(
    archive: Archive,
    text: str,
    display: Display,
    told: Callable[[str], object] = lambda _: None,
) -> tuple[Question, list[Found]]:
    """Search the whole shop, newest job first.

    Parameters
    ----------
    text : str
    display : Display
        Units for numbers typed without one, and for the answer.
    told : callable
        Hears what is being done where the words have to be gathered first.

    Raises
    ------
    InputError
        Nothing to search for.
    """
    asked = understand(text, display)
    if not asked.words and not asked.of_ports and not (asked.since or asked.until):
        raise InputError(
            "There is nothing to search for.", "Type words, or '44 mm intake over 150'."
        )
    refresh(archive, told)
    lines: dict[str, list[str]] = {}
    chosen: list[str] | None = None
    if asked.words:
        wanted = [search_words(word) for word in asked.words]
        chosen, hits = archive.search(wanted, _MOST)
        for hit in sorted(hits, key=lambda h: -_held(h, wanted)):
            lines.setdefault(hit.job, []).append(_said(hit, wanted))
    if asked.of_ports:
        ports = _ports(archive, asked, display)
        names = list(ports)
        chosen = names if chosen is None else [n for n in chosen if n in ports]
        lines = {n: [*ports[n], *lines.get(n, [])] for n in chosen}
    jobs = {j.number: j for j in archive.jobs()}
    kept = [jobs[n] for n in (jobs if chosen is None else chosen) if n in jobs]
    kept = [j for j in kept if _in_years(j, asked)]
    kept.sort(key=lambda j: (j.opened, j.number), reverse=True)
    return asked, [Found(j, tuple(dict.fromkeys(lines.get(j.number, [])))) for j in kept[:_MOST]]


def _in_years(job: Job, asked: Question) -> bool:
    year = year_of(job)
    if asked.since and (not year or year < asked.since):
        return False
    return not (asked.until and (not year or year > asked.until))


def _held(hit: Hit, wanted: Sequence[Sequence[str]]) -> int:
    """How many of the wanted words a line holds."""
    text = hit.words.casefold()
    return sum(any(word.casefold() in text for word in words) for words in wanted)


def _said(hit: Hit, wanted: Sequence[Sequence[str]]) -> str:
    """The words round the first match, not the whole job sheet."""
    text = hit.words
    held = [w for words in wanted for w in words if w.casefold() in text.casefold()]
    longest = max(held, key=len, default="")  # short words and numbers stand everywhere
    start = max(text.casefold().find(longest.casefold()) - 40, 0)
    part = text[start : start + 120].strip()
    around = ("… " if start else "") + part + (" …" if start + 120 < len(text) else "")
    what = hit.kind if not hit.place else f"{hit.kind} {hit.place}"
    return f"{what}: {around}"


def _ports(archive: Archive, asked: Question, display: Display) -> dict[str, list[str]]:
    """Ports that fit, as lines by job; the best port of each state first."""
    wide = _VALVE_TOLERANCE
    rows = archive.port_overviews(
        Wanted(
            side=asked.side,
            places=(*OF_PORTS, RECORDED),
            valve_from=0.0 if asked.valve is None else asked.valve - wide,
            valve_to=float("inf") if asked.valve is None else asked.valve + wide,
        )
    )
    velocity = float(jet_velocity(REFERENCE_DENSITY, archive_pressure(archive)))
    found: dict[str, list[tuple[float, str]]] = {}
    for row in rows:
        lift, area = _read(row, asked)
        if not np.isfinite(area):
            continue
        flow = area * velocity
        fits = asked.flow is None or (flow < asked.flow if asked.less else flow > asked.flow)
        if fits:
            found.setdefault(row.job, []).append((flow, _line(row, lift, flow, display)))
    return {
        job: [line for _, line in sorted(lines, reverse=not asked.less)][:6]
        for job, lines in found.items()
    }


def _read(row: PortOverview, asked: Question) -> tuple[float, float]:
    """Lift [m] and area [m2] of a port where it was asked for, NaN where it was not swept."""
    lift = asked.lift
    if asked.ratio is not None and row.valve_diameter:
        lift = asked.ratio * row.valve_diameter
    if lift is None:
        return row.top_lift, row.top_area
    near = _RECORDED_LIFT if row.place == RECORDED else 1e-5
    if abs(row.top_lift - lift) <= near:
        return row.top_lift, row.top_area
    if lift > row.top_lift or not row.valve_diameter:
        return lift, float("nan")
    known = np.isfinite(row.areas)
    knots = np.concatenate(([0.0], STEPS[known] * row.valve_diameter, [row.top_lift]))
    areas = np.concatenate(([0.0], row.areas[known], [row.top_area]))
    first = knots[1] if knots.size > 1 else row.top_lift
    return lift, float(np.interp(lift, knots, areas)) if lift >= first else float("nan")


def _line(row: PortOverview, lift: float, flow: float, display: Display) -> str:
    what = f"{row.port} {row.stage}" if row.port else f"{row.side} as recorded"
    valve = f", valve {display.length_text(row.valve_diameter)}" if row.valve_diameter else ""
    return (
        f"{what} on {row.bench}: {display.flow_text(flow)} {display.flow} at "
        f"{display.lift_text(lift)} {display.length}{valve}"
    )
