"""Which jobs have to be looked at again, because something they show has changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from sqlalchemy import Connection, Text, cast, func, or_, select

from portwright.archive import searching, tables

_STAMP = "overview stamp"
# Tables whose new rows change what a job shows; rows are only ever added to them.
_WATCHED = (tables.run, tables.measurement, tables.note, tables.sheet_row)
_BY_RUN = (tables.reading, tables.run_mark)


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
    castings : dict of str to int
        How often each casting that says something about its ports was written.
    """

    rows: dict[str, int]
    calibrations: str
    method: str
    castings: dict[str, int]


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
    casting = tables.casting.c
    said = or_(
        cast(casting.typed, Text) != "{}",
        casting.intake_port_location != "",
        casting.exhaust_port_location != "",
    )
    found = connection.execute(select(casting.number, casting.version).where(said))
    castings = {str(row[0]): int(row[1]) for row in found}
    return Stamp(rows, digest.hexdigest(), method, castings)


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
    castings = kept.get("castings", {})
    if kept["rows"] == now.rows and castings == now.castings:
        return None
    named = castings.keys() | now.castings.keys()
    ids = _jobs_of_castings(
        connection, [n for n in named if castings.get(n) != now.castings.get(n)]
    )
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


def _jobs_of_castings(connection: Connection, numbers: Sequence[str]) -> set[int]:
    """Row ids of the jobs that have one of these castings, on the job or on a head."""
    job, head = tables.job.c, tables.head.c
    ids: set[int] = set()
    for number in numbers:
        for query in (
            select(job.id).where(job.casting == number),
            select(head.job_id).where(head.casting == number),
        ):
            ids.update(connection.execute(query).scalars())
    return ids


def keep_stamp(connection: Connection, done: Stamp) -> None:
    """Note the state everything kept belongs to."""
    table = tables.setting
    value = asdict(done)
    connection.execute(table.delete().where(table.c.name == _STAMP))
    connection.execute(table.insert().values(name=_STAMP, value=value))
