"""Adding to a job and changing what its sheet says, one step at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from portwright.archive import merge, rows, store, tables
from portwright.archive.fetch import job_row
from portwright.errors import ConflictError, InputError, UnknownNameError
from portwright.model.engine_run import KeptEngineRun
from portwright.model.entry import JobEntry
from portwright.model.head import Casting, Head, Port
from portwright.model.job import Job, Measurement, Note, Stage
from portwright.model.run import Run


def _job_id(connection: Connection, number: str) -> int:
    return int(job_row(connection, number)["id"])


def job_version(connection: Connection, number: str) -> int:
    """How many times the job's own fields were written, to be named when changing them."""
    return int(job_row(connection, number)["version"])


def update_job(
    connection: Connection, number: str, changes: Mapping[str, Any], version: int
) -> int:
    """Change fields of a job and give its new version.

    Raises
    ------
    ConflictError
        Someone else changed the job since ``version``, or the new number is taken.
    InputError
        A field does not exist or has the wrong kind of value.
    """
    known = job_row(connection, number)
    fields = Job.__dataclass_fields__
    for name, value in changes.items():
        if name not in fields:
            raise UnknownNameError("job field", name, fields)
        if not _fits(name, value):
            raise InputError(f"Job field {name} cannot be {value!r}.", "Give it as text.")
    if known["version"] != version:
        raise _changed_meanwhile(f"Job {number}")
    renamed = changes.get("number", number)
    if renamed != number and merge.find(connection, tables.job, {"number": renamed}):
        raise ConflictError(f"There is already a job {renamed}.", "Choose another number.")
    merge.change(connection, tables.job, known, changes)
    return version + 1


def _fits(name: str, value: object) -> bool:
    if name == "facts":
        return isinstance(value, dict) and all(isinstance(v, str) for v in value.values())
    return isinstance(value, str) and (name != "number" or bool(value.strip()))


def casting_version(connection: Connection, number: str) -> int:
    """How many times a casting was written, 0 while it is not."""
    known = merge.find(connection, tables.casting, {"number": number})
    return 0 if known is None else int(known["version"])


def write_casting(connection: Connection, casting: Casting, version: int) -> None:
    """Write what is said of a casting over what was said before.

    Raises
    ------
    ConflictError
        Someone else wrote it since ``version``.
    InputError
        It has no number.
    """
    if not casting.number.strip():
        raise InputError("The casting has no number.", "Give the job its casting number first.")
    if casting_version(connection, casting.number) != version:
        raise _changed_meanwhile(f"Casting {casting.number}")
    row = rows.to_row(casting, tables.casting)
    known = merge.find(connection, tables.casting, {"number": casting.number})
    if known is None:
        merge.add(connection, tables.casting, row)
    else:
        merge.change(connection, tables.casting, known, row)


def write_head(connection: Connection, job: str, head: Head, version: int) -> None:
    """Write what is said of one head of a job over what was said before, or add the head.

    Raises
    ------
    ConflictError
        Someone else wrote the job since ``version``.
    """
    known_job = job_row(connection, job)
    if known_job["version"] != version:
        raise _changed_meanwhile(f"Job {job}")
    key = {"job_id": known_job["id"], "code": head.code}
    row = rows.to_row(head, tables.head) | key
    known = merge.find(connection, tables.head, key)
    if known is None:
        merge.add(connection, tables.head, row)
    else:
        merge.change(connection, tables.head, known, row)
    merge.touch_job(connection, int(known_job["id"]))


def _changed_meanwhile(what: str) -> ConflictError:
    return ConflictError(
        f"{what} was changed by someone else in the meantime.",
        "Look at it as it is now and enter your change again; nothing was overwritten.",
    )


def add_job(connection: Connection, job: Job) -> None:
    """Open a job.

    Raises
    ------
    ConflictError
        The number is taken.
    """
    _add_new(connection, tables.job, {"number": job.number}, rows.to_row(job, tables.job))


def add_stage(connection: Connection, job: str, stage: Stage) -> None:
    """Add a stage to a job.

    Raises
    ------
    ConflictError
        The job has a stage of that code.
    """
    key = {"job_id": _job_id(connection, job), "code": stage.code}
    _add_new(connection, tables.stage, key, rows.to_row(stage, tables.stage))


def add_port(connection: Connection, job: str, port: Port) -> None:
    """Add a port to a job.

    Raises
    ------
    ConflictError
        The job has a port of that code.
    """
    key = {"job_id": _job_id(connection, job), "code": port.code}
    row = rows.to_row(port, tables.port) | {"side": port.side.value}
    _add_new(connection, tables.port, key, row)


def _add_new(
    connection: Connection, table: Table, key: Mapping[str, Any], row: Mapping[str, Any]
) -> None:
    if merge.find(connection, table, key) is not None:
        name = key.get("code", key.get("number", ""))
        raise ConflictError(
            f"There is already a {table.name} {name}.", "Choose another name, or use that one."
        )
    merge.add(connection, table, {**row, **key})


def add_measurements(connection: Connection, job: str, items: Iterable[Measurement]) -> int:
    """Append measurements to a job and give their number."""
    job_id = _job_id(connection, job)
    new = [rows.measurement_row(item, job_id) for item in items]
    if new:
        connection.execute(insert(tables.measurement), new)
    return len(new)


def add_note(connection: Connection, job: str, note: Note) -> None:
    """Append a remark to a job."""
    job_id = _job_id(connection, job)
    merge.add(connection, tables.note, rows.to_row(note, tables.note, job_id=job_id))


def add_entry(connection: Connection, job: str, entry: JobEntry) -> None:
    """Append an entry to the card of a job; the same one sent twice is stored once.

    Raises
    ------
    ConflictError
        Another entry has its key, or the entry it corrects was corrected by someone else first.
    """
    row = rows.entry_row(entry, _job_id(connection, job))
    _add_keyed(connection, tables.job_entry, row, "job card")


def add_numbered_entry(connection: Connection, job: str, entry: JobEntry, series: str) -> JobEntry:
    """Append an entry under the number after the highest one of its series, and give it back.

    Numbers count on in one step with storing, so two tablets at once get two of them, and go by
    what is stored, so none is given twice where shops were brought together.

    Parameters
    ----------
    series : str
        What a number begins with; three digits or more follow.
    """
    taken = [0]
    for _, number in numbers_of(connection, entry.kind.value):
        digits = number.removeprefix(series)
        if number.startswith(series) and digits.isdecimal():
            taken.append(int(digits))
    cells = entry.cells | {"number": f"{series}{max(taken) + 1:03d}"}
    numbered = replace(entry, cells=cells)
    add_entry(connection, job, numbered)
    return numbered


def numbers_of(connection: Connection, kind: str) -> list[tuple[str, str]]:
    """Job and number of every entry of a kind that has one, in the order stored."""
    table, job = tables.job_entry, tables.job
    query = (
        select(job.c.number, table.c.cells)
        .join(job, job.c.id == table.c.job_id)
        .where(table.c.kind == kind)
        .order_by(table.c.id)
    )
    found = ((row[0], str(row[1].get("number", ""))) for row in connection.execute(query))
    return [(number, bill) for number, bill in found if bill]


def keep_engine_run(connection: Connection, job: str, kept: KeptEngineRun) -> None:
    """Keep an engine run with a job; the same one sent twice is stored once.

    Raises
    ------
    ConflictError
        Another one has its key, or the one it replaces was replaced by someone else first.
    """
    row = rows.engine_run_row(kept, _job_id(connection, job))
    _add_keyed(connection, tables.engine_run, row, "engine page")


def _add_keyed(connection: Connection, table: Table, row: dict[str, Any], place: str) -> None:
    """Append a row that may replace another, known by its key in the job."""
    job = {"job_id": row["job_id"]}
    known = merge.find(connection, table, job | {"key": row["key"]})
    if known is not None:
        if all(known[name] == value for name, value in row.items() if name != "at"):
            return
        raise ConflictError(f"There is already an entry {row['key']}.", f"Reload the {place}.")
    replaces = row["replaces"]
    if replaces and merge.find(connection, table, job | {"replaces": replaces}):
        raise ConflictError(
            "That entry was changed by someone else in the meantime.",
            f"Look at the {place} as it is now and enter your change again.",
        )
    merge.add(connection, table, row)


def add_run(connection: Connection, run: Run) -> None:
    """Begin a run; its readings may follow one by one.

    Raises
    ------
    ConflictError
        Some job has a run of that code.
    InputError
        The job does not have the port.
    """
    job_id = _job_id(connection, run.job)
    query = (
        select(tables.job.c.number)
        .join(tables.run, tables.run.c.job_id == tables.job.c.id)
        .where(tables.run.c.code == run.code)
    )
    taken = connection.execute(query).scalars().first()
    if taken is not None:
        raise ConflictError(
            f"Run {run.code} exists already, in job {taken}.", "Take the next free run code."
        )
    store.add_runs(connection, job_id, (run,), store.SaveReport())
