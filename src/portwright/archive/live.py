"""Entering readings one by one at the bench: nothing acknowledged before it is stored."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, func, insert, select

from portwright.archive import rows, tables
from portwright.archive.fetch import job_row, run_ids
from portwright.errors import ConflictError, UnknownNameError
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading


@dataclass(frozen=True, slots=True)
class StoredReading:
    """A reading with its row id, needed to replace it later."""

    id: int
    position: int
    reading: Reading


def now() -> str:
    """Time of writing, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def run_id(connection: Connection, job: str, code: str) -> int:
    """Row id of a run.

    Raises
    ------
    UnknownNameError
    """
    known = run_ids(connection, int(job_row(connection, job)["id"]))
    if code not in known:
        raise UnknownNameError("run", code, known)
    return known[code]


def stored_readings(connection: Connection, run: int) -> list[StoredReading]:
    """Current readings of a run with their row ids, withdrawn ones left out."""
    table = tables.reading
    newer = table.alias("newer")
    query = (
        select(table)
        .outerjoin(newer, newer.c.replaces == table.c.id)
        .where(table.c.run_id == run, newer.c.id.is_(None))
        .order_by(table.c.position)
    )
    found = [
        StoredReading(row["id"], row["position"], rows.reading_from(row))
        for row in connection.execute(query).mappings()
    ]
    return [s for s in found if s.reading.flow or s.reading.percent or s.reading.meter_pressure]


def add_reading(
    connection: Connection, run: int, reading: Reading, replaces: int | None, reason: str = ""
) -> StoredReading:
    """Append a reading, as a new row or in place of an older one.

    Parameters
    ----------
    run : int
        Row id of the run.
    replaces : int or None
        Row id of the reading this one corrects; it is kept.

    Raises
    ------
    ConflictError
        The lift already has a reading, or the one to replace was replaced by someone else.
    """
    table = tables.reading
    if replaces is None:
        _refuse_same_lift(connection, run, reading)
        newest = select(func.max(table.c.position)).where(table.c.run_id == run)
        position = int(connection.execute(newest).scalar() or 0) + 1
    else:
        position = _position_to_replace(connection, run, replaces)
    row = rows.to_row(
        reading,
        table,
        run_id=run,
        position=position,
        replaces=replaces,
        reason=reason,
        taken_at=now(),
    )
    key = connection.execute(insert(table).values(**row)).inserted_primary_key
    return StoredReading(int(key[0]) if key else 0, position, reading)


def _refuse_same_lift(connection: Connection, run: int, reading: Reading) -> None:
    for stored in stored_readings(connection, run):
        if abs(stored.reading.lift.si - reading.lift.si) < 1e-6:
            raise ConflictError(
                f"Lift {reading.lift} already has a reading in this sweep.",
                "Another tablet may have entered it; look at the stored value and keep one.",
            )


def _position_to_replace(connection: Connection, run: int, replaces: int) -> int:
    table = tables.reading
    old = connection.execute(
        select(table.c.position).where(table.c.id == replaces, table.c.run_id == run)
    ).scalar()
    if old is None:
        raise ConflictError("The reading to correct is not in this sweep.", "Reload the sweep.")
    taken = connection.execute(select(table.c.id).where(table.c.replaces == replaces)).scalar()
    if taken is not None:
        raise ConflictError(
            "That reading was corrected by someone else in the meantime.",
            "Look at the newer value; both are kept.",
        )
    return int(old)


def withdraw_reading(connection: Connection, run: int, stored: int, reason: str) -> None:
    """Take a reading back: a row without a value replaces it, the old one is kept.

    Raises
    ------
    ConflictError
    """
    table = tables.reading
    row = connection.execute(select(table).where(table.c.id == stored)).mappings().first()
    if row is None:
        raise ConflictError("The reading to take back is not there.", "Reload the sweep.")
    empty = Reading(lift=rows.reading_from(row).lift)
    add_reading(connection, run, empty, replaces=stored, reason=reason)


def mark_run(connection: Connection, run: int, left_out: str) -> None:
    """Leave a run out of comparisons with a reason, or take it back in with ""."""
    mark = {"run_id": run, "left_out": left_out, "marked_at": now()}
    connection.execute(insert(tables.run_mark).values(**mark))


def replace_measurement(
    connection: Connection, job: str, old: Measurement, value: AsTyped, reason: str
) -> None:
    """Correct a measurement with a new row that names the old one.

    Raises
    ------
    ConflictError
        The old value is not the current one any more.
    """
    table = tables.measurement
    job_id = int(job_row(connection, job)["id"])
    newer = table.alias("newer")
    query = (
        select(table)
        .outerjoin(newer, newer.c.replaces == table.c.id)
        .where(table.c.job_id == job_id, newer.c.id.is_(None))
        .where(table.c.subject == old.subject, table.c.quantity == old.quantity)
        .where(table.c.place == old.place, table.c.stage == old.stage)
        .order_by(table.c.id.desc())
    )
    for row in connection.execute(query).mappings():
        if rows.measurement_from(row) == old:
            new = rows.measurement_row(old, job_id)
            new |= {"value": value.si, "typed": {"value": rows.pack(value)}}
            new |= {"replaces": row["id"], "reason": reason}
            connection.execute(insert(table).values(**new))
            return
    raise ConflictError(
        f"{old.quantity} of {old.subject} has another value by now.", "Reload and look again."
    )
