"""What every port of the shop flows, kept ready, and which jobs have to be looked at again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Select, func, select

from portwright.archive import searching, tables
from portwright.archive.searching import SearchLine

_STAMP = "overview stamp"
_RECORDED = "recorded"
# Tables whose new rows change what a job shows; rows are only ever added to them.
_WATCHED = (tables.run, tables.measurement, tables.note, tables.sheet_row)
_BY_RUN = (tables.reading, tables.run_mark)


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


@dataclass(frozen=True, slots=True)
class Stamp:
    """State of the shop file an overview was made from.

    Parameters
    ----------
    rows : dict of str to int
        Highest row of each watched table, the number of jobs, and how often all of them together
        were written.
    calibrations : str
        Digest of all calibrations.
    method : str
        How the overview was worked out.
    """

    rows: dict[str, int]
    calibrations: str
    method: str


def stamp(connection: Connection, method: str) -> Stamp:
    """State of the shop file now."""
    rows = {
        t.name: int(connection.execute(select(func.max(t.c.id))).scalar() or 0)
        for t in (*_WATCHED, *_BY_RUN)
    }
    job = tables.job.c
    count, written = connection.execute(select(func.count(), func.sum(job.version))).one()
    rows |= {"job": int(count), "job version": int(written or 0)}
    digest = hashlib.sha256()
    for row in connection.execute(select(tables.calibration).order_by(tables.calibration.c.id)):
        digest.update(json.dumps(list(row), default=str).encode())
    return Stamp(rows, digest.hexdigest(), method)


def changed_jobs(connection: Connection, now: Stamp) -> list[str] | None:
    """Numbers of the jobs whose overview or words are not those of ``now``.

    None where the kept state is this very one, so that there is nothing to note either.
    """
    table = tables.setting
    kept = connection.execute(select(table.c.value).where(table.c.name == _STAMP)).scalar()
    job, line = tables.job.c, tables.search_line.c
    every = select(job.number).order_by(job.id)
    if not isinstance(kept, dict) or (kept["calibrations"], kept["method"]) != (
        now.calibrations,
        now.method,
    ):
        return [str(n) for n in connection.execute(every).scalars()]
    if kept["rows"] == now.rows:
        return None
    ids: set[int] = set()
    for t in _WATCHED:
        if now.rows[t.name] > kept["rows"].get(t.name, 0):
            newer = t.c.id > kept["rows"].get(t.name, 0)
            ids.update(connection.execute(select(t.c.job_id).distinct().where(newer)).scalars())
    for t in _BY_RUN:
        if now.rows[t.name] > kept["rows"].get(t.name, 0):
            newer = t.c.id > kept["rows"].get(t.name, 0)
            query = select(tables.run.c.job_id).distinct().join(t, t.c.run_id == tables.run.c.id)
            ids.update(connection.execute(query.where(newer)).scalars())
    sheets = select(line.job_id, line.job_version).where(line.kind == searching.SHEET)
    seen = {row[0]: row[1] for row in connection.execute(sheets)}
    versions = connection.execute(select(job.id, job.version, job.number)).all()
    return [n for i, version, n in versions if i in ids or seen.get(i) != version]


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
        }
        for r in rows
    ]
    if new:
        connection.execute(table.insert(), new)
    searching.keep(connection, int(number), int(version), lines)


def keep_stamp(connection: Connection, done: Stamp) -> None:
    """Note the state everything kept belongs to."""
    table = tables.setting
    value = {"rows": done.rows, "calibrations": done.calibrations, "method": done.method}
    connection.execute(table.delete().where(table.c.name == _STAMP))
    connection.execute(table.insert().values(name=_STAMP, value=value))


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
    """

    side: str = ""
    places: tuple[str, ...] = ()
    valve_count: int | None = None
    valve_from: float = 0.0
    valve_to: float = float("inf")
    casting: str = ""
    words: tuple[str, ...] = ()
    job: str = ""


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
    return query


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
        *("sweeps", "sessions", "top_lift", "top_area", "areas"),
    )
)


def port_rows(connection: Connection, rows: Sequence[int]) -> dict[int, PortOverview]:
    """Kept ports by the names of their rows."""
    t = tables.port_overview.c
    query = select(tables.job.c.number, *_COLUMNS, t.id).join(
        tables.job, t.job_id == tables.job.c.id
    )
    found = connection.execute(query.where(t.id.in_(rows))).all()
    return {r[13]: _overview(r) for r in found}


def find(connection: Connection, wanted: Wanted) -> list[PortOverview]:
    """Kept ports that fit, in the order of their jobs."""
    t, job = tables.port_overview.c, tables.job.c
    query = select(job.number, *_COLUMNS).join(tables.job, t.job_id == job.id)
    return [_overview(r) for r in connection.execute(_narrowed(connection, query, wanted)).all()]


def _overview(row: Any) -> PortOverview:
    fields = (*row[:12], np.frombuffer(row[12], "<f8"))
    return PortOverview(*fields)
