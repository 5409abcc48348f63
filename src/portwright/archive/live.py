"""Entering readings one by one at the bench: nothing acknowledged before it is stored."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, Select, func, select

from portwright.archive import merge, rows, tables
from portwright.archive.fetch import job_row, run_ids
from portwright.archive.tables import ReadingState
from portwright.errors import ConflictError, UnknownNameError
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading

_SAME_LIFT = 1e-6  # [m], far below what any lift setting can hold
_NEWER = tables.reading.alias("newer")  # made once: a reading waits for it several times


@dataclass(frozen=True, slots=True)
class StoredReading:
    """A reading with its row id, needed to replace it later."""

    id: int
    position: int
    reading: Reading


@dataclass(frozen=True, slots=True)
class Contested:
    """A reading that came second: stored beside the one that counts, neither is lost.

    Parameters
    ----------
    aside : StoredReading
        The newcomer, waiting for a person to choose.
    counting : StoredReading or None
        The reading that counts meanwhile; None when it was taken back.
    """

    aside: StoredReading
    counting: StoredReading | None

    def error(self) -> ConflictError:
        """What to tell the person who entered the newcomer."""
        lift = self.aside.reading.lift
        return ConflictError(
            f"Lift {lift} of this sweep was entered or changed by someone else first.",
            "Both values are stored; look at them and choose the one that counts.",
        )


def now() -> str:
    """Time of writing, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def run_id(connection: Connection, job: str, code: str) -> int:
    """Row id of a run.

    Raises
    ------
    UnknownNameError
    """
    query = select(tables.run.c.id).join(tables.job, tables.job.c.id == tables.run.c.job_id)
    query = query.where(tables.job.c.number == job, tables.run.c.code == code)
    if connection.get_execution_options().get("writing"):
        query = query.with_for_update(of=tables.run)  # on a server, this run waits and no other
    known = connection.execute(query).scalar()
    if known is None:
        job_id = int(job_row(connection, job)["id"])
        raise UnknownNameError("run", code, run_ids(connection, job_id))
    return int(known)


def _open_rows(run: int, state: ReadingState) -> Select[Any]:
    """Rows of a run in a state that no newer row replaces."""
    table = tables.reading
    return (
        select(table)
        .outerjoin(_NEWER, _NEWER.c.replaces == table.c.id)
        .where(table.c.run_id == run, _NEWER.c.id.is_(None), table.c.state == state.value)
        .order_by(table.c.position, table.c.id)
    )


def _stored(row: RowMapping) -> StoredReading:
    return StoredReading(row["id"], row["position"], rows.reading_from(row))


def stored_readings(connection: Connection, run: int) -> list[StoredReading]:
    """Current readings of a run with their row ids, withdrawn ones left out."""
    query = _open_rows(run, ReadingState.TAKEN)
    return [_stored(row) for row in connection.execute(query).mappings()]


def set_aside(connection: Connection, run: int) -> list[Contested]:
    """Readings that came second and nobody has decided on yet."""
    counting = stored_readings(connection, run)
    query = _open_rows(run, ReadingState.SET_ASIDE)
    asides = [_stored(row) for row in connection.execute(query).mappings()]
    return [Contested(aside, _at_lift(counting, aside.reading)) for aside in asides]


def _at_lift(stored: list[StoredReading], reading: Reading) -> StoredReading | None:
    near = (s for s in stored if abs(s.reading.lift.si - reading.lift.si) < _SAME_LIFT)
    return next(near, None)


def add_reading(
    connection: Connection, run: int, reading: Reading, replaces: int | None, reason: str = ""
) -> StoredReading | Contested:
    """Append a reading, as a new row or in place of an older one.

    The same reading sent twice, as after a lost connection, is stored once.

    Parameters
    ----------
    run : int
        Row id of the run.
    replaces : int or None
        Row id of the reading this one corrects; it is kept.
    reason : str
        Why it is corrected.

    Returns
    -------
    StoredReading or Contested
        Contested where the lift has a reading already, or the one to replace was replaced by
        someone else: the newcomer is stored aside.

    Raises
    ------
    ConflictError
        The reading to replace is not in this run.
    """
    if replaces is not None:
        return _replace(connection, run, reading, replaces, reason)
    counting = _at_lift(stored_readings(connection, run), reading)
    if counting is None:
        table = tables.reading
        newest = select(func.max(table.c.position)).where(table.c.run_id == run)
        position = int(connection.execute(newest).scalar() or 0) + 1
        return _insert(connection, run, reading, position)
    if counting.reading == reading:
        return counting
    return _put_aside(connection, run, reading, counting)


def _replace(
    connection: Connection, run: int, reading: Reading, replaces: int, reason: str
) -> StoredReading | Contested:
    old = merge.find(connection, tables.reading, {"id": replaces, "run_id": run})
    if old is None:
        raise ConflictError("The reading to correct is not in this sweep.", "Reload the sweep.")
    newer = merge.find(connection, tables.reading, {"replaces": replaces})
    counting = _at_lift(stored_readings(connection, run), reading)
    if newer is None and (counting is None or counting.id == replaces):
        place = old["position"]
        return _insert(connection, run, reading, place, replaces=replaces, reason=reason)
    if newer and newer["state"] == ReadingState.TAKEN.value and rows.reading_from(newer) == reading:
        return _stored(newer)
    return _put_aside(connection, run, reading, counting, position=old["position"])


def _put_aside(
    connection: Connection,
    run: int,
    reading: Reading,
    counting: StoredReading | None,
    position: int = 0,
) -> Contested:
    waiting = [c for c in set_aside(connection, run) if c.aside.reading == reading]
    if waiting:
        return waiting[0]
    place = counting.position if counting else position
    state = ReadingState.SET_ASIDE.value
    return Contested(_insert(connection, run, reading, place, state=state), counting)


def _insert(
    connection: Connection, run: int, reading: Reading, position: int, **extra: object
) -> StoredReading:
    row = rows.to_row(
        reading, tables.reading, run_id=run, position=position, taken_at=now(), **extra
    )
    return StoredReading(merge.add(connection, tables.reading, row), position, reading)


def withdraw_reading(connection: Connection, run: int, stored: int, reason: str) -> None:
    """Take a reading back: a row that says so replaces it, the old one is kept.

    Raises
    ------
    ConflictError
        It is not in this run, or was replaced by someone else.
    """
    old = merge.find(connection, tables.reading, {"id": stored, "run_id": run})
    if old is None:
        raise ConflictError("The reading to take back is not in this sweep.", "Reload the sweep.")
    newer = merge.find(connection, tables.reading, {"replaces": stored})
    if newer is None:
        empty = Reading(lift=rows.reading_from(old).lift)
        state = ReadingState.WITHDRAWN.value
        place = old["position"]
        _insert(connection, run, empty, place, replaces=stored, reason=reason, state=state)
    elif newer["state"] != ReadingState.WITHDRAWN.value:
        raise ConflictError(
            "That reading was corrected by someone else in the meantime.",
            "Look at the newer value; both are kept.",
        )


def settle(connection: Connection, run: int, aside: int, reason: str, *, keep: bool) -> None:
    """Decide on a reading that was set aside; every row stays.

    Parameters
    ----------
    aside : int
        Row id of the reading set aside.
    keep : bool
        True when it shall count in place of the other one, False when the other one stays.

    Raises
    ------
    ConflictError
        Someone has decided already.
    """
    waiting = {c.aside.id: c for c in set_aside(connection, run)}
    if aside not in waiting:
        raise ConflictError("Someone has decided on that reading already.", "Reload the sweep.")
    contested = waiting[aside]
    withdraw_reading(connection, run, aside, reason)
    if keep:
        counting = contested.counting
        extra = {"replaces": counting.id} if counting else {}
        position = contested.aside.position
        _insert(connection, run, contested.aside.reading, position, reason=reason, **extra)


def mark_run(connection: Connection, run: int, left_out: str) -> None:
    """Leave a run out of comparisons with a reason, or take it back in with ""."""
    merge.add(
        connection,
        tables.run_mark,
        {"run_id": run, "left_out": left_out, "marked_at": now()},
    )


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
            new = rows.measurement_row(replace(old, value=value), job_id)
            merge.add(connection, table, new | {"replaces": row["id"], "reason": reason})
            return
    raise ConflictError(
        f"{old.quantity} of {old.subject or 'the job'} has another value by now.",
        "Reload and look again.",
    )
