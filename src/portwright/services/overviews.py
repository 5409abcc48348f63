"""Keeping the overview of every port and the words of the shop up to date."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from portwright.archive.archive import Archive
from portwright.archive.overview import PortOverview
from portwright.archive.searching import SHEET, SearchLine
from portwright.core.curve import Array
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.repeatability import Repeatability
from portwright.errors import PortwrightError
from portwright.model.bench import Calibration
from portwright.model.contents import JobContents
from portwright.model.head import Casting, Side
from portwright.model.job import SheetKind
from portwright.services.findings import check_contents, learn_repeatability
from portwright.services.head_facts import (
    SideFacts,
    castings_by_number,
    facts_of,
    location_word,
)
from portwright.services.reduce import ReducedRun, reduce_runs
from portwright.services.sweeps import repeat_groups, session_of
from portwright.services.valves import latest
from portwright.units import Kind, to_si

METHOD = "overview-2"
STEPS: Array = np.array([0.02 * n for n in range(1, 21)])  # L/D at which areas are kept [-]
RECORDED = "recorded"
HEAD_FIRST, HEAD_LAST = "head first", "head last"
OF_PORTS = ("first", "between", "last")
_HISTORY = 400  # runs of a bench its repeatability is learned from
_AT_ONCE = 20  # jobs to one write
_NO_CASTINGS: Mapping[str, Casting] = {}
_PLAIN_PRESSURE = to_si(28.0, "inH2O", Kind.PRESSURE)


def refresh(archive: Archive, told: Callable[[str], object] = lambda _: None) -> int:
    """Work out what changed since it was last kept, and give the number of jobs that did.

    A shop file that cannot be written keeps the overview it has.

    Parameters
    ----------
    told : callable
        Hears what is being done, for a progress line.
    """
    now, numbers = archive.changed_jobs(METHOD)
    if archive.read_only or numbers is None:
        return 0
    if not numbers:  # rows that show nowhere, or a state noted by an older version
        archive.keep_stamp(now)
        return 0
    calibrations = archive.calibrations()
    figures = {
        b.code: learn_repeatability(
            reduce_runs(archive.runs_of_bench(b.code, _HISTORY), calibrations)
        )
        for b in archive.benches()
    }
    castings = castings_by_number(archive)
    for start in range(0, len(numbers), _AT_ONCE):
        told(f"Looking at job {start + 1} of {len(numbers)}")
        part = [archive.job(n) for n in numbers[start : start + _AT_ONCE]]
        archive.keep_overviews(
            [
                (
                    c.job.number,
                    port_overviews(c, calibrations, figures, castings),
                    search_lines(c, castings),
                )
                for c in part
            ]
        )
    archive.keep_stamp(now)
    return len(numbers)


def port_overviews(
    contents: JobContents,
    calibrations: Sequence[Calibration],
    figures: dict[str, Repeatability],
    castings: Mapping[str, Casting] = _NO_CASTINGS,
) -> list[PortOverview]:
    """Each port at each stage on each bench, from its sound sweeps; recorded figures as well."""
    try:
        benches = {r.bench for r in contents.runs}
        known = {b: figures[b] for b in benches if b in figures}
        sound = check_contents(contents, calibrations, known).sound()
    except PortwrightError:
        sound = []  # a flawed job still opens; it just has nothing to rank
    order = [s.code for s in contents.stages]
    sides = {p.code: p for p in contents.ports}
    states: dict[tuple[str, str, str], list[ReducedRun]] = {}
    for members in repeat_groups(sound).values():
        run = members[0].run
        key = (run.port, run.stage, run.bench)
        if len(members) > len(states.get(key, ())):  # the set-up most sweeps share
            states[key] = members
    found = []
    for (port, stage, bench), members in states.items():
        known_port = sides.get(port)
        if known_port is None:
            continue
        stages = sorted(
            {s for p, s, _ in states if p == port},
            key=lambda s: order.index(s) if s in order else -1,
        )
        place = "last" if stage == stages[-1] else "first" if stage == stages[0] else "between"
        measured = latest(contents, port, "valve head diameter", stage)
        diameter = (
            _written_diameter(contents, known_port.side) if measured is None else measured.value.si
        )
        top, areas = _mean(members, diameter)
        facts = facts_of(contents, castings, known_port.side, known_port)
        found.append(
            PortOverview(
                contents.job.number,
                port,
                stage,
                bench,
                known_port.side.value,
                place,
                known_port.valve_count,
                diameter,
                len(members),
                len({session_of(m.run) for m in members}),
                top[0],
                top[1],
                areas,
                *_compared_by(facts),
            )
        )
    return found + _heads(found) + ([] if found else _recorded(contents, castings))


def _compared_by(facts: SideFacts) -> tuple[float | None, str]:
    """Valve angle [rad] and port location in the words ports are compared by."""
    angle = None if facts.valve_angle is None else facts.valve_angle.si
    return angle, location_word(facts.port_location)


def _heads(ports: Sequence[PortOverview]) -> list[PortOverview]:
    """Mean of the ports of each side, as received and as finished, on each bench."""
    groups: dict[tuple[object, ...], list[PortOverview]] = {}
    for row in ports:
        if row.place != "between" and row.valve_diameter:
            # a port swept at one stage only is as received and finished at once
            single = sum(r.port == row.port for r in ports) == 1
            places = {HEAD_LAST, HEAD_FIRST} if single else {f"head {row.place}"}
            kind = (row.side, row.bench, row.valve_count, row.valve_angle, row.port_location)
            for place in places:
                groups.setdefault((place, *kind), []).append(row)
    return [mean_of(rows, str(place)) for (place, *_), rows in groups.items()]


def mean_of(rows: Sequence[PortOverview], place: str) -> PortOverview:
    """Geometric mean of several ports of one head on one bench, all with a valve size."""
    first = rows[0]
    return replace(
        first,
        port="",
        place=place,
        valve_diameter=float(np.mean([r.valve_diameter or np.nan for r in rows])),
        sweeps=sum(r.sweeps for r in rows),
        sessions=max(r.sessions for r in rows),
        top_lift=min(r.top_lift for r in rows),
        top_area=float(np.exp(np.mean([np.log(r.top_area) for r in rows]))),
        areas=np.exp(np.mean(np.log(np.array([r.areas for r in rows])), axis=0)),
    )


def kept_area_at(areas: Array, ratio: Array, top_ratio: Array, top_area: Array) -> Array:
    """Effective area of kept ports at any L/D, by straight lines between what is kept. [m2]

    Parameters
    ----------
    areas : ndarray, shape (n, k)
        At the kept steps of L/D, NaN where not swept. [m2]
    ratio, top_ratio : ndarray, shape (n,)
        L/D asked for, and that of the highest lift. [-]
    top_area : ndarray, shape (n,)
        At the highest lift. [m2]

    Returns
    -------
    ndarray, shape (n,)
        NaN below the lowest step swept and above the highest lift. [m2]
    """
    rows, last = np.arange(ratio.size), STEPS.size - 1
    with np.errstate(invalid="ignore"):
        # the step at or below, a millionth of a step forgiven
        below = np.floor(np.nan_to_num(ratio) / STEPS[0] + 1e-6).astype(np.int64) - 1
        left = np.where(below >= 0, areas[rows, np.clip(below, 0, last)], np.nan)
        right = np.where(below < last, areas[rows, np.clip(below + 1, 0, last)], np.nan)
        start = STEPS[np.clip(below, 0, last)]
        to_top = ~np.isfinite(right)
        end = np.where(to_top, top_ratio, start + STEPS[0])
        share = np.clip((ratio - start) / (end - start), 0.0, 1.0)
        area = left + share * (np.where(to_top, top_area, right) - left)
        return np.where((ratio <= top_ratio + 1e-6) & np.isfinite(ratio), area, np.nan)


def _mean(
    members: Sequence[ReducedRun], diameter: float | None
) -> tuple[tuple[float, float], Array]:
    """Highest lift with its area, and areas at the steps of L/D: geometric mean of the sweeps."""
    curves = [m.curve for m in members if m.curve is not None]
    top = min(float(c.lift[-1]) for c in curves)
    lifts = np.append(STEPS * (diameter or np.nan), top)
    with np.errstate(invalid="ignore"):
        logs = np.log(np.array([c.at(lifts) for c in curves]))
    mean = np.exp(logs.mean(axis=0))
    return (top, float(mean[-1])), mean[:-1]


def _recorded(contents: JobContents, castings: Mapping[str, Casting]) -> list[PortOverview]:
    """The peak that an older job sheet gives, for a job of which no sweep is kept."""
    facts = facts_of(contents, castings, Side.INTAKE)
    out = []
    for row in contents.rows:
        if row.kind is not SheetKind.EARLIER_JOBS:
            continue
        cells = row.cells
        flow = _number(cells.get("peak_flow_cfm_28_as_recorded", ""))
        lift = _number(cells.get("max_lift_mm", ""))
        valve = _number(cells.get("int_valve_mm", ""))
        if flow is None or lift is None or valve is None:
            continue
        velocity = float(jet_velocity(REFERENCE_DENSITY, _PLAIN_PRESSURE))
        area = to_si(flow, "cfm", Kind.FLOW) / velocity
        count = int(_number(cells.get("int_valves_per_port", "")) or 1)
        out.append(
            PortOverview(
                contents.job.number,
                "",
                "",
                cells.get("bench_id", ""),
                Side.INTAKE.value,
                RECORDED,
                count,
                valve * 1e-3,
                1,
                1,
                lift * 1e-3,
                area,
                np.full(STEPS.size, np.nan),
                *_compared_by(facts),
            )
        )
    return out


def _written_diameter(contents: JobContents, side: Side) -> float | None:
    """Valve diameter that the job sheet gives, for ports nobody measured. [m]"""
    if side is not Side.INTAKE:
        return None
    written = _number(contents.job.facts.get("int_valve_mm", ""))
    return None if written is None else written * 1e-3


def _number(text: str) -> float | None:
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*", text)
    return float(found[1].replace(",", ".")) if found else None


def search_lines(
    contents: JobContents, castings: Mapping[str, Casting] = _NO_CASTINGS
) -> list[SearchLine]:
    """Everything written on a job, line by line."""
    job = contents.job
    facts = {side: facts_of(contents, castings, side) for side in Side}
    known = [
        f"{side.value} {said.describe()} {location_word(said.port_location)}"
        for side, said in facts.items()
        if said != SideFacts()
    ]
    own = (job.number, job.opened, job.promised, job.delivered, job.customer, job.vehicle)
    heads = [f"{h.code} {h.casting} {h.serial}" for h in contents.heads]
    lines = [
        _line(SHEET, "", [*own, job.casting, job.goal, *job.facts.values(), *heads, *known]),
        _line(
            "ports",
            "",
            [f"{p.code} {p.side.value} cylinder {p.cylinder or ''}" for p in contents.ports],
        ),
    ]
    lines += [_line("stage", s.code, [s.code, s.note, s.date]) for s in contents.stages]
    lines += [_line("note", n.subject, [n.text, n.author, n.written_at]) for n in contents.notes]
    lines += [
        _line(r.kind.value, r.subject, [r.subject, r.source, *r.cells.values()])
        for r in contents.rows
    ]
    lines += [
        _line("measurement", m.subject, [m.quantity, m.place, str(m.value), m.note])
        for m in contents.measurements
        if m.note
    ]
    lines += [_line("sweep", r.code, [r.code, r.note, r.date]) for r in contents.runs if r.note]
    codes = [r.code for r in contents.runs]
    if codes:
        lines.append(_line("sweeps", "", codes))
    return [line for line in lines if line.words]


def _line(kind: str, place: str, parts: Iterable[str]) -> SearchLine:
    return SearchLine(kind, place, " ".join(p for p in parts if p).strip())
