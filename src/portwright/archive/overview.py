"""What every port of the shop flows, kept ready."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import (
    ColumnElement,
    Connection,
    Select,
    false,
    func,
    or_,
    select,
)

from portwright.archive import searching, tables
from portwright.archive.searching import SearchLine

_RECORDED = "recorded"


@dataclass(frozen=True, slots=True, eq=False)
class PortOverview:
    """One port in one state on one bench.

    Parameters
    ----------
    job : str
    port, stage, bench : str
    side : str
        "intake" or "exhaust".
    place : str
        "first", "between" or "last" among the stages swept; "head first" and "head last" for the
        mean of all ports of a side; "recorded" for a figure an older job sheet gives without a
        sweep.
    valve_count : int
    valve_diameter : float or None
        [m]
    sweeps, sessions : int
        Behind the mean. [-]
    top_lift, top_area : float
        Highest lift and its effective area. [m], [m2]
    areas : ndarray, shape (n,)
        Effective area at fixed steps of L/D, NaN where not swept. [m2]
    valve_angle : float or None
        Of the stem from the bore axis. [rad]
    port_location : str
        In the words ports are compared by, "" where nobody said.
    """

    job: str
    port: str
    stage: str
    bench: str
    side: str
    place: str
    valve_count: int
    valve_diameter: float | None
    sweeps: int
    sessions: int
    top_lift: float
    top_area: float
    areas: NDArray[np.float64]
    valve_angle: float | None = None
    port_location: str = ""


def keep(
    connection: Connection,
    job: str,
    rows: Iterable[PortOverview],
    lines: Sequence[SearchLine],
) -> None:
    """Replace what is kept of one job."""
    table = tables.port_overview
    number, version = connection.execute(
        select(tables.job.c.id, tables.job.c.version).where(tables.job.c.number == job)
    ).one()
    connection.execute(table.delete().where(table.c.job_id == number))
    new = [
        {
            "job_id": number,
            "port": r.port,
            "stage": r.stage,
            "bench": r.bench,
            "side": r.side,
            "place": r.place,
            "valve_count": r.valve_count,
            "valve_diameter": r.valve_diameter,
            "sweeps": r.sweeps,
            "sessions": r.sessions,
            "top_lift": r.top_lift,
            "top_area": r.top_area,
            "areas": np.asarray(r.areas, "<f8").tobytes(),
            "valve_angle": r.valve_angle,
            "port_location": r.port_location,
        }
        for r in rows
    ]
    if new:
        connection.execute(table.insert(), new)
    searching.keep(connection, int(number), int(version), lines)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which ports; empty fields do not narrow.

    Parameters
    ----------
    side : str
    places : tuple of str
    valve_count : int or None
    valve_from, valve_to : float
        Valve diameter. [m]
    casting : str
        Part of the casting number.
    words : tuple of str
        All of them on the job sheet.
    job : str
        One job only.
    angle_from, angle_to : float
        Valve angle from the bore axis. [rad]
    location : str
        Port location, in the words ports are compared by.
    untold : bool
        Those that do fit but for a valve angle or port location asked for that nobody gave.
    """

    side: str = ""
    places: tuple[str, ...] = ()
    valve_count: int | None = None
    valve_from: float = 0.0
    valve_to: float = float("inf")
    casting: str = ""
    words: tuple[str, ...] = ()
    job: str = ""
    angle_from: float = 0.0
    angle_to: float = float("inf")
    location: str = ""
    untold: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class PortTable:
    """Kept ports as columns, each of shape (n,) but ``areas``.

    Parameters
    ----------
    row, job : ndarray of int
        Names of the kept row and of its job inside the shop file.
    recorded : ndarray of bool
        Whether it is a figure of an older job sheet.
    valve_diameter, top_lift, top_area : ndarray
        As of :class:`PortOverview`; NaN for an unknown diameter. [m], [m], [m2]
    areas : ndarray, shape (n, k)
        [m2]
    """

    row: NDArray[np.int64]
    job: NDArray[np.int64]
    recorded: NDArray[np.bool_]
    valve_diameter: NDArray[np.float64]
    top_lift: NDArray[np.float64]
    top_area: NDArray[np.float64]
    areas: NDArray[np.float64]


def _narrowed(
    connection: Connection, query: Select[Any], wanted: Wanted, *, few_jobs: bool = False
) -> Select[Any]:
    """A question about ports narrowed to those wanted."""
    t, job = tables.port_overview.c, tables.job.c
    # of few jobs only: their own index finds far fewer rows than that of all ports of a side,
    # which the database takes unless the columns are hidden from it
    side, place = (c.concat("") if few_jobs else c for c in (t.side, t.place))
    if wanted.side:
        query = query.where(side == wanted.side)
    if wanted.places:
        query = query.where(place.in_(wanted.places))
    if wanted.valve_count is not None:
        query = query.where(t.valve_count == wanted.valve_count)
    if wanted.valve_from > 0.0 or wanted.valve_to < float("inf"):
        query = query.where(t.valve_diameter.between(wanted.valve_from, wanted.valve_to))
    if wanted.casting:
        query = query.where(job.casting.icontains(wanted.casting, autoescape=True))
    if wanted.job:
        query = query.where(job.number == wanted.job)
    for word in wanted.words:
        query = query.where(t.job_id.in_(searching.jobs_with(connection, word)))
    return query.where(*_class_facts(wanted))


def _class_facts(wanted: Wanted) -> list[ColumnElement[bool]]:
    """Valve angle and port location as wanted; or, of what is untold, either not given."""
    t = tables.port_overview.c
    fits: list[ColumnElement[bool]] = []
    gaps: list[ColumnElement[bool]] = []
    if wanted.angle_from > 0.0 or wanted.angle_to < float("inf"):
        fits.append(t.valve_angle.between(wanted.angle_from, wanted.angle_to))
        gaps.append(t.valve_angle.is_(None))
    if wanted.location:
        fits.append(t.port_location == wanted.location)
        gaps.append(t.port_location == "")
    if not wanted.untold:
        return fits
    if not gaps:
        return [false()]
    return [or_(*gaps), *(or_(fit, gap) for fit, gap in zip(fits, gaps, strict=True))]


def count_jobs(connection: Connection, wanted: Wanted, but: str) -> int:
    """Number of jobs, but for one, with a port that fits."""
    t, job = tables.port_overview.c, tables.job.c
    query = select(func.count(t.job_id.distinct())).join(tables.job, t.job_id == job.id)
    query = query.where(job.number != but)
    return int(connection.execute(_narrowed(connection, query, wanted)).scalar() or 0)


def locations(connection: Connection) -> list[str]:
    """Port locations there are among the kept ports, each once."""
    t = tables.port_overview.c.port_location
    return list(connection.execute(select(t).where(t != "").distinct().order_by(t)).scalars())


def port_table(connection: Connection, wanted: Wanted, jobs: Sequence[int]) -> PortTable:
    """Ports of these jobs that fit, as columns, for looking through many at once."""
    t = tables.port_overview.c
    query = select(
        t.id, t.job_id, t.place, t.valve_diameter, t.top_lift, t.top_area, t.areas
    ).where(t.job_id.in_(jobs))
    if wanted.casting or wanted.job:
        query = query.join(tables.job, t.job_id == tables.job.c.id)
    found = connection.execute(_narrowed(connection, query, wanted, few_jobs=True)).all()
    columns = list(zip(*found, strict=True)) or [()] * 7
    return PortTable(
        np.array(columns[0], dtype=np.int64),
        np.array(columns[1], dtype=np.int64),
        np.array([place == _RECORDED for place in columns[2]], dtype=np.bool_),
        np.array(columns[3], dtype=np.float64),
        np.array(columns[4], dtype=np.float64),
        np.array(columns[5], dtype=np.float64),
        np.frombuffer(b"".join(columns[6]), "<f8").reshape(len(found), -1 if found else 0),
    )


_COLUMNS = tuple(
    tables.port_overview.c[name]
    for name in (
        *("port", "stage", "bench", "side", "place", "valve_count", "valve_diameter"),
        *("sweeps", "sessions", "top_lift", "top_area", "areas", "valve_angle", "port_location"),
    )
)


def port_rows(connection: Connection, rows: Sequence[int]) -> dict[int, PortOverview]:
    """Kept ports by the names of their rows."""
    t = tables.port_overview.c
    query = select(tables.job.c.number, *_COLUMNS, t.id).join(
        tables.job, t.job_id == tables.job.c.id
    )
    found = connection.execute(query.where(t.id.in_(rows))).all()
    return {r[-1]: _overview(r[:-1]) for r in found}


def find(connection: Connection, wanted: Wanted) -> list[PortOverview]:
    """Kept ports that fit, in the order of their jobs."""
    t, job = tables.port_overview.c, tables.job.c
    query = select(job.number, *_COLUMNS).join(tables.job, t.job_id == job.id)
    return [_overview(r) for r in connection.execute(_narrowed(connection, query, wanted)).all()]


def _overview(row: Any) -> PortOverview:
    fields = (*row[:12], np.frombuffer(row[12], "<f8"), row[13], row[14])
    return PortOverview(*fields)
