"""Reading the shop file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, RowMapping, Select, Table, and_, func, select

from portwright.archive import rows, tables
from portwright.archive.kept_readings import KeptReadings, Readings
from portwright.archive.tables import ReadingState
from portwright.errors import InputError, UnknownNameError
from portwright.model.bench import Bench, Calibration, PlateCheck
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Casting
from portwright.model.job import Job, Shop
from portwright.model.run import Run

_BATCH = 500  # SQLite limits the number of values in one question


def shop(connection: Connection) -> Shop | None:
    """The shop's own facts, None while nobody has entered them."""
    row = connection.execute(select(tables.shop)).mappings().first()
    return rows.shop_from(row) if row else None


def jobs(connection: Connection) -> list[Job]:
    """Every job, newest first."""
    query = select(*rows.JOB_COLUMNS)
    query = query.order_by(tables.job.c.opened.desc(), tables.job.c.number.desc())
    return [rows.job_from(row) for row in connection.execute(query).all()]


def jobs_of_rows(connection: Connection, ids: Sequence[int]) -> dict[int, Job]:
    """Jobs by row id."""
    query = select(*rows.JOB_COLUMNS).where(tables.job.c.id.in_(ids))
    return {row[0]: rows.job_from(row) for row in connection.execute(query).all()}


def job_row(connection: Connection, number: str) -> RowMapping:
    """Row of a job.

    Raises
    ------
    UnknownNameError
    """
    table = tables.job
    row = connection.execute(select(table).where(table.c.number == number)).mappings().first()
    if row is None:
        newest = select(table.c.number).order_by(table.c.id.desc()).limit(2000)
        known = connection.execute(newest).scalars()
        raise UnknownNameError("job", number, known)
    return row


def castings(connection: Connection) -> list[Casting]:
    """Every casting in the order entered."""
    query = select(tables.casting).order_by(tables.casting.c.id)
    return [rows.casting_from(row) for row in connection.execute(query).mappings()]


def benches(connection: Connection) -> list[Bench]:
    """Every bench, by code."""
    query = select(tables.bench).order_by(tables.bench.c.code)
    return [rows.bench_from(row) for row in connection.execute(query).mappings()]


def calibrations(connection: Connection) -> list[Calibration]:
    """Every calibration version of every bench, oldest first."""
    table = tables.calibration
    query = select(table).order_by(table.c.bench, table.c.version)
    return [rows.calibration_from(row) for row in connection.execute(query).mappings()]


def plate_checks(connection: Connection) -> list[PlateCheck]:
    """Every plate check in the order entered."""
    query = select(tables.plate_check).order_by(tables.plate_check.c.id)
    return [rows.plate_check_from(row) for row in connection.execute(query).mappings()]


def run_ids(connection: Connection, job_id: int) -> dict[str, int]:
    """Run codes of a job and their row ids."""
    query = select(tables.run.c.code, tables.run.c.id).where(tables.run.c.job_id == job_id)
    return {row.code: row.id for row in connection.execute(query)}


def current_readings() -> Select[Any]:
    """Start of every question about readings that count: taken, and not replaced since."""
    table = tables.reading
    newer = table.alias("newer")
    return (
        select(*rows.READING_COLUMNS)
        .outerjoin(newer, newer.c.replaces == table.c.id)
        .where(newer.c.id.is_(None), table.c.state == ReadingState.TAKEN.value)
        .order_by(table.c.run_id, table.c.position)
    )


def first_readings() -> Select[Any]:
    """Start of every question about readings as they were first entered."""
    table = tables.reading
    return (
        select(*rows.READING_COLUMNS)
        .where(table.c.replaces.is_(None), table.c.state == ReadingState.TAKEN.value)
        .order_by(table.c.run_id, table.c.position)
    )


def _readings(connection: Connection, start: Select[Any], run_ids_: Sequence[int]) -> Readings:
    found: Readings = {}
    for chunk in _chunks(run_ids_):
        query = start.where(tables.reading.c.run_id.in_(chunk))
        found |= rows.readings_by_run(connection.execute(query).all())
    return found


def _chunks(values: Sequence[int]) -> Iterable[Sequence[int]]:
    return (values[i : i + _BATCH] for i in range(0, len(values), _BATCH))


def runs(
    connection: Connection,
    query: Select[Any],
    readings_query: Select[Any] | None = None,
    kept: KeptReadings | None = None,
) -> tuple[Run, ...]:
    """Runs chosen by a query over the run table joined with the job's number.

    ``kept`` spares reading current readings again that were read before.
    """
    found = list(connection.execute(query).mappings())
    ids = [row["id"] for row in found]
    start = current_readings() if readings_query is None else readings_query

    def read(wanted: Sequence[int]) -> Readings:
        return _readings(connection, start, wanted)

    readings = read(ids) if kept is None else kept.get(connection, ids, read)
    marks = _marks(connection, ids)
    return tuple(
        rows.run_from(row, row["job_number"], readings.get(row["id"], ()), marks.get(row["id"], ""))
        for row in found
    )


def runs_as_entered(connection: Connection, run_id: int) -> tuple[Run, Run]:
    """A run with its current readings, and with those first entered."""
    query = run_query().where(tables.run.c.id == run_id)
    return runs(connection, query)[0], runs(connection, query, first_readings())[0]


def run_query() -> Select[Any]:
    """Start of every question about runs."""
    return (
        select(tables.run, tables.job.c.number.label("job_number"))
        .join(tables.job, tables.job.c.id == tables.run.c.job_id)
        .order_by(tables.run.c.date, tables.run.c.time, tables.run.c.id)
    )


def find_run(connection: Connection, name: str) -> Run:
    """One run by its code, or by "job/code" where several jobs use the code.

    Raises
    ------
    UnknownNameError
        No such run.
    InputError
        Several jobs have a run of that code.
    """
    choice = [tables.run.c.code == name]
    for place in (i for i, letter in enumerate(name) if letter == "/"):
        number, code = name[:place], name[place + 1 :]
        choice.append(and_(tables.job.c.number == number, tables.run.c.code == code))
    found: tuple[Run, ...] = ()
    for condition in choice:
        found = found or runs(connection, run_query().where(condition))
    if not found:
        some = connection.execute(select(tables.run.c.code).limit(2000)).scalars()
        raise UnknownNameError("run", name, some)
    if len(found) > 1:
        jobs_ = ", ".join(f"{run.job}/{run.code}" for run in found)
        raise InputError(f"Several jobs have a run {found[0].code}.", f"Say which: {jobs_}.")
    return found[0]


def runs_of_bench(
    connection: Connection, bench: str, limit: int, kept: KeptReadings | None = None
) -> tuple[Run, ...]:
    """The newest runs on a bench, oldest of them first."""
    run = tables.run.c
    newest = (
        select(run.id)
        .where(run.bench == bench)
        .order_by(run.date.desc(), run.id.desc())
        .limit(limit)
    )
    return runs(connection, run_query().where(run.id.in_(newest)), kept=kept)


def states_on_both(connection: Connection, one: str, other: str) -> list[tuple[str, str, str]]:
    """Job number, port and stage of everything swept on both benches."""
    run, job = tables.run.c, tables.job.c
    query = (
        select(job.number, run.port, run.stage)
        .join(tables.run, run.job_id == job.id)
        .where(run.bench.in_([one, other]))
        .group_by(job.number, run.port, run.stage)
        .having(func.count(run.bench.distinct()) > 1)
        .order_by(job.number, run.port, run.stage)
    )
    return [(row[0], row[1], row[2]) for row in connection.execute(query)]


def bench_state(connection: Connection) -> str:
    """Newest rows that the relation of two benches can depend on."""
    found = [
        connection.execute(select(func.max(t.c.id))).scalar() or 0
        for t in (tables.run, tables.reading, tables.run_mark, tables.plate_check)
    ]
    return " ".join(str(n) for n in found)


def _marks(connection: Connection, run_ids_: Sequence[int]) -> dict[int, str]:
    table = tables.run_mark
    marks: dict[int, str] = {}
    for chunk in _chunks(run_ids_):
        newest = (
            select(func.max(table.c.id)).where(table.c.run_id.in_(chunk)).group_by(table.c.run_id)
        )
        query = select(table.c.run_id, table.c.left_out).where(table.c.id.in_(newest))
        marks.update({row.run_id: row.left_out for row in connection.execute(query)})
    return marks


def _all(connection: Connection, table: Table, job_id: int) -> Iterable[RowMapping]:
    query = select(table).where(table.c.job_id == job_id).order_by(table.c.id)
    return connection.execute(query).mappings()


def job_contents(
    connection: Connection, number: str, kept: KeptReadings | None = None
) -> JobContents:
    """One job with everything on it.

    Raises
    ------
    UnknownNameError
    """
    job = job_row(connection, number)
    job_id = int(job["id"])
    replaced = set(
        connection.execute(
            select(tables.measurement.c.replaces).where(tables.measurement.c.job_id == job_id)
        ).scalars()
    )
    return JobContents(
        job=rows.job_from([job[c.name] for c in rows.JOB_COLUMNS]),
        heads=tuple(rows.head_from(r) for r in _all(connection, tables.head, job_id)),
        ports=tuple(rows.port_from(r) for r in _all(connection, tables.port, job_id)),
        stages=tuple(rows.stage_from(r) for r in _all(connection, tables.stage, job_id)),
        measurements=tuple(
            rows.measurement_from(r)
            for r in _all(connection, tables.measurement, job_id)
            if r["id"] not in replaced
        ),
        cams=tuple(rows.cam_from(r) for r in _all(connection, tables.cam, job_id)),
        entries=tuple(rows.entry_from(r) for r in _all(connection, tables.job_entry, job_id)),
        engine_runs=tuple(
            rows.engine_run_from(r) for r in _all(connection, tables.engine_run, job_id)
        ),
        rows=tuple(rows.sheet_row_from(r) for r in _all(connection, tables.sheet_row, job_id)),
        notes=tuple(rows.note_from(r) for r in _all(connection, tables.note, job_id)),
        runs=runs(connection, run_query().where(tables.run.c.job_id == job_id), kept=kept),
    )


def contents(connection: Connection) -> ShopContents:
    """The whole shop."""
    numbers = connection.execute(select(tables.job.c.number).order_by(tables.job.c.id)).scalars()
    return ShopContents(
        shop=shop(connection),
        castings=tuple(castings(connection)),
        benches=tuple(benches(connection)),
        calibrations=tuple(calibrations(connection)),
        plate_checks=tuple(plate_checks(connection)),
        jobs=tuple(job_contents(connection, number) for number in numbers.all()),
    )
