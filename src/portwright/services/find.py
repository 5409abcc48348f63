"""Search in words and numbers: "44 mm intake over 150 at 11", "weld cyl 4 since 2020"."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from portwright.archive.archive import Archive
from portwright.archive.overview import PortOverview, PortTable, Wanted
from portwright.archive.searching import Hit
from portwright.core.curve import Array
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.errors import InputError
from portwright.model.job import Job
from portwright.nomenclature import search_words
from portwright.services.classes import SAME_ANGLE
from portwright.services.compare import archive_pressure
from portwright.services.display import Display
from portwright.services.overviews import OF_PORTS, RECORDED, kept_area_at, refresh
from portwright.services.question import Question, understand

_VALVE_TOLERANCE = 0.25e-3  # "44 mm" means 43.75 to 44.25
_RECORDED_LIFT = 1.0e-3  # an old sheet's single peak counts this near the lift asked for
_SAME_LIFT = 1e-5
_MOST = 100  # jobs shown; who needs more asks more narrowly
_LINES_EACH = 6  # ports shown of one job
_FIRST_LOOK = 100  # jobs whose ports are read at first, twice as many every time after


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


@dataclass(frozen=True, slots=True)
class Answer:
    """What a search found.

    Parameters
    ----------
    question : Question
        How it was understood.
    jobs : tuple of Found
        Newest first.
    more : bool
        Whether older jobs would fit as well.
    """

    question: Question
    jobs: tuple[Found, ...]
    more: bool = False

    @property
    def count(self) -> str:
        """How many, in words."""
        number = len(self.jobs)
        if self.more:
            return f"more than {number} jobs, the newest {number} shown"
        return f"{number} job{'' if number == 1 else 's'}"


def find(
    archive: Archive,
    text: str,
    display: Display,
    told: Callable[[str], object] = lambda _: None,
) -> Answer:
    """Search the whole shop, newest job first, and stop where enough are found.

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
    wanted = [search_words(word) for word in asked.words]
    jobs, places = archive.search(wanted, asked.since, asked.until)
    ports: dict[int, list[tuple[int, float]]] = {}
    if asked.of_ports:
        ports = _ports(archive, asked, jobs)
        jobs = list(ports)
    shown = jobs[:_MOST]
    heads = archive.jobs_of_rows(shown)
    lines = _port_lines(archive, {j: ports[j] for j in shown if j in ports}, asked, display)
    for hit in sorted(archive.hits(places, shown), key=lambda h: -_held(h, wanted)):
        lines.setdefault(hit.job, []).append(_said(hit, wanted))
    found = [Found(heads[j], tuple(dict.fromkeys(lines.get(j, ())))) for j in shown]
    found.sort(key=lambda f: (f.job.opened, f.job.number), reverse=True)
    return Answer(asked, tuple(found), len(jobs) > len(shown))


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


def _ports(
    archive: Archive, asked: Question, jobs: Sequence[int]
) -> dict[int, list[tuple[int, float]]]:
    """Rows of ports that fit with their effective area, by job, until enough jobs have one."""
    wide = _VALVE_TOLERANCE
    wanted = Wanted(
        side=asked.side,
        places=(*OF_PORTS, RECORDED),
        valve_from=0.0 if asked.valve is None else asked.valve - wide,
        valve_to=float("inf") if asked.valve is None else asked.valve + wide,
        angle_from=0.0 if asked.angle is None else max(asked.angle - SAME_ANGLE, 0.0),
        angle_to=float("inf") if asked.angle is None else asked.angle + SAME_ANGLE,
    )
    least = None if asked.flow is None else asked.flow / _velocity(archive)
    found: dict[int, list[tuple[int, float]]] = {}
    start, size = 0, _FIRST_LOOK
    while start < len(jobs) and len(found) <= _MOST:
        table = archive.port_table(wanted, jobs[start : start + size])
        area = _read(table, asked)
        with np.errstate(invalid="ignore"):
            fits: NDArray[np.bool_] = np.isfinite(area)
            if least is not None:
                fits &= area < least if asked.less else area > least
        for k in np.flatnonzero(fits):
            found.setdefault(int(table.job[k]), []).append((int(table.row[k]), float(area[k])))
        start, size = start + size, 2 * size
    order = {job: place for place, job in enumerate(jobs)}
    return {job: found[job] for job in sorted(found, key=order.__getitem__)}


def _velocity(archive: Archive) -> float:
    """Flow through an effective area of 1 m2. [m/s]"""
    return float(jet_velocity(REFERENCE_DENSITY, archive_pressure(archive)))


def _read(table: PortTable, asked: Question) -> Array:
    """Area of ports where they were asked for, NaN where they were not swept. [m2]"""
    diameter = table.valve_diameter
    if asked.lift is not None:
        lift: Array = np.full(diameter.size, asked.lift)
    elif asked.ratio is not None:
        lift = asked.ratio * diameter
    else:
        return table.top_area
    # a whole millimetre off is still near, whatever the last bit says
    near = np.where(table.recorded, _RECORDED_LIFT + _SAME_LIFT, _SAME_LIFT)
    area = kept_area_at(table.areas, lift / diameter, table.top_lift / diameter, table.top_area)
    with np.errstate(invalid="ignore"):
        return np.where(np.abs(table.top_lift - lift) <= near, table.top_area, area)


def _port_lines(
    archive: Archive,
    ports: dict[int, list[tuple[int, float]]],
    asked: Question,
    display: Display,
) -> dict[int, list[str]]:
    """The best ports of each job in words."""
    if not ports:
        return {}
    velocity = _velocity(archive)
    best = {
        job: sorted(rows, key=lambda r: r[1], reverse=not asked.less)[:_LINES_EACH]
        for job, rows in ports.items()
    }
    rows = archive.port_rows([row for found in best.values() for row, _ in found])
    return {
        job: [_line(rows[row], area * velocity, asked, display) for row, area in found]
        for job, found in best.items()
    }


def _line(row: PortOverview, flow: float, asked: Question, display: Display) -> str:
    lift = asked.lift
    if asked.ratio is not None and row.valve_diameter:
        lift = asked.ratio * row.valve_diameter
    if lift is None or row.place == RECORDED:
        lift = row.top_lift
    what = f"{row.port} {row.stage}" if row.port else f"{row.side} as recorded"
    valve = f", valve {display.length_text(row.valve_diameter)}" if row.valve_diameter else ""
    return (
        f"{what} on {row.bench}: {display.flow_text(flow)} {display.flow} at "
        f"{display.lift_text(lift)} {display.length}{valve}"
    )
