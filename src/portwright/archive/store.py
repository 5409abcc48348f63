"""Writing contents into the shop file: what is new goes in, what is there stays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Table, insert, select, update

from portwright.archive import rows, tables
from portwright.archive.fetch import readings_of, run_ids
from portwright.model.contents import JobContents, ShopContents
from portwright.model.job import Job, Shop
from portwright.model.run import Run


@dataclass(slots=True)
class SaveReport:
    """What a save did.

    Parameters
    ----------
    added : dict of str to int
        New rows by table.
    already_there : dict of str to int
        Rows found unchanged and skipped.
    conflicts : list of str
        Things with the same name but other content; the stored ones were kept.
    """

    added: dict[str, int] = field(default_factory=dict)
    already_there: dict[str, int] = field(default_factory=dict)
    conflicts: list[str] = field(default_factory=list)

    def count(self, table: Table, *, new: bool) -> None:
        """Count one row."""
        bucket = self.added if new else self.already_there
        bucket[table.name] = bucket.get(table.name, 0) + 1


def save(connection: Connection, contents: ShopContents) -> SaveReport:
    """Store everything in ``contents`` that the shop file does not hold yet.

    Runs, benches, calibrations and castings are known by name; a different one under a known name
    is a conflict, reported and not stored.  Job fields left empty before are filled in.
    """
    report = SaveReport()
    if contents.shop:
        save_shop(connection, contents.shop)
    for casting in contents.castings:
        _by_name(connection, tables.casting, {"number": casting.number}, casting, report)
    for bench in contents.benches:
        _bench(connection, bench.code, rows.to_row(bench, tables.bench), report)
    for calibration in contents.calibrations:
        _bench(connection, calibration.bench, None, report)
        key = {"bench": calibration.bench, "version": calibration.version}
        row = rows.calibration_row(calibration)
        _row_by_name(connection, tables.calibration, key, row, report)
    for check in contents.plate_checks:
        _bench(connection, check.bench, None, report)
    _append(
        connection,
        tables.plate_check,
        (rows.to_row(c, tables.plate_check) for c in contents.plate_checks),
        {},
        report,
    )
    for job in contents.jobs:
        _save_job(connection, job, report)
    return report


def save_shop(connection: Connection, shop: Shop) -> None:
    """Write the shop's own facts."""
    row = rows.to_row(shop, tables.shop)
    existing = connection.execute(select(tables.shop.c.id)).scalar()
    if existing is None:
        connection.execute(insert(tables.shop).values(id=1, **row))
    else:
        connection.execute(update(tables.shop).values(version=tables.shop.c.version + 1, **row))


def _bench(
    connection: Connection, code: str, row: dict[str, Any] | None, report: SaveReport
) -> None:
    """A bench; one known by its code only is stored as a name to be filled in later."""
    known = (
        connection.execute(select(tables.bench).where(tables.bench.c.code == code))
        .mappings()
        .first()
    )
    if known is None:
        connection.execute(insert(tables.bench).values(**(row or {"code": code})))
        report.count(tables.bench, new=True)
    elif row is not None and not known["name"] and not known["kind"]:
        connection.execute(update(tables.bench).where(tables.bench.c.code == code).values(**row))
        report.count(tables.bench, new=True)
    elif row is not None:
        same = all(known[name] == value for name, value in row.items())
        _seen(tables.bench, {"code": code}, report, same=same)


def _seen(table: Table, key: dict[str, Any], report: SaveReport, *, same: bool) -> None:
    if same:
        report.count(table, new=False)
    else:
        name = " ".join(str(v) for k, v in key.items() if k != "job_id")
        report.conflicts.append(f"{table.name} {name} is stored with other content; kept.")


def _row_by_name(
    connection: Connection,
    table: Table,
    key: dict[str, Any],
    row: dict[str, Any],
    report: SaveReport,
) -> None:
    query = select(table)
    for name, value in key.items():
        query = query.where(table.c[name] == value)
    known = connection.execute(query).mappings().first()
    if known is None:
        connection.execute(insert(table).values(**row))
        report.count(table, new=True)
    else:
        _seen(table, key, report, same=all(known[n] == v for n, v in row.items()))


def _by_name(
    connection: Connection, table: Table, key: dict[str, Any], item: object, report: SaveReport
) -> None:
    row = rows.to_row(item, table) | {k: v for k, v in key.items() if k == "job_id"}
    _row_by_name(connection, table, key, row, report)


def _append(
    connection: Connection,
    table: Table,
    new_rows: Iterable[dict[str, Any]],
    where: dict[str, Any],
    report: SaveReport,
) -> None:
    """Add rows that are not there yet; rows have no name, so all their columns identify them."""
    wanted = list(new_rows)
    if not wanted:
        return
    columns = sorted(wanted[0])
    query = select(*(table.c[c] for c in columns))
    for name, value in where.items():
        query = query.where(table.c[name] == value)
    present = [dict(row) for row in connection.execute(query).mappings()]
    known = {repr(sorted(row.items())) for row in present}
    fresh = []
    for row in wanted:
        if repr(sorted(row.items())) in known:
            report.count(table, new=False)
        else:
            fresh.append(row)
            report.count(table, new=True)
    if fresh:
        connection.execute(insert(table), fresh)


def _save_job(connection: Connection, contents: JobContents, report: SaveReport) -> None:
    job_id = _job_id(connection, contents.job, report)
    for head in contents.heads:
        key = {"job_id": job_id, "code": head.code}
        _by_name(connection, tables.head, key, head, report)
    for port in contents.ports:
        key = {"job_id": job_id, "code": port.code}
        row = rows.to_row(port, tables.port, job_id=job_id) | {"side": port.side.value}
        _fill(connection, tables.port, key, row, report)
    for stage in contents.stages:
        key = {"job_id": job_id, "code": stage.code}
        row = rows.to_row(stage, tables.stage, job_id=job_id)
        _fill(connection, tables.stage, key, row, report)
    where = {"job_id": job_id}
    measured = (rows.measurement_row(m, job_id) for m in contents.measurements)
    _append(connection, tables.measurement, measured, where, report)
    for cam in contents.cams:
        _fill(
            connection,
            tables.cam,
            {"job_id": job_id, "card": cam.card},
            rows.cam_row(cam, job_id),
            report,
        )
    sheet = (
        rows.to_row(r, tables.sheet_row, job_id=job_id) | {"kind": r.kind.value}
        for r in contents.rows
    )
    _append(connection, tables.sheet_row, sheet, where, report)
    notes = (rows.to_row(n, tables.note, job_id=job_id) for n in contents.notes)
    _append(connection, tables.note, notes, where, report)
    _save_runs(connection, job_id, contents.runs, report)


_EMPTY: tuple[object, ...] = ("", None, {}, [])


def _fill(
    connection: Connection,
    table: Table,
    key: dict[str, Any],
    row: dict[str, Any],
    report: SaveReport,
) -> None:
    """Add a named row, or fill what was left empty in the one that is there."""
    query = select(table)
    for name, value in key.items():
        query = query.where(table.c[name] == value)
    known = connection.execute(query).mappings().first()
    if known is None:
        connection.execute(insert(table).values(**row))
        report.count(table, new=True)
        return
    missing = {
        n: v for n, v in row.items() if known[n] in _EMPTY and v not in _EMPTY and n not in key
    }
    if "typed" in row:
        merged = row["typed"] | known["typed"]
        if merged != known["typed"]:
            missing["typed"] = merged
    if missing:
        connection.execute(update(table).where(table.c.id == known["id"]).values(**missing))
    same = all(known[n] == v or v in _EMPTY or n in missing for n, v in row.items())
    _seen(table, key, report, same=same or table is tables.port)


def _job_id(connection: Connection, job: Job, report: SaveReport) -> int:
    table = tables.job
    known = connection.execute(select(table).where(table.c.number == job.number)).mappings().first()
    row = rows.to_row(job, table)
    if known is None:
        result = connection.execute(insert(table).values(**row))
        report.count(table, new=True)
        key = result.inserted_primary_key
        return int(key[0]) if key else 0
    missing = {n: v for n, v in row.items() if known[n] in _EMPTY and v not in _EMPTY}
    facts = job.facts | known["facts"]
    if facts != known["facts"]:
        missing["facts"] = facts
    if missing:
        values = missing | {"version": known["version"] + 1}
        connection.execute(update(table).where(table.c.id == known["id"]).values(**values))
    report.count(table, new=False)
    return int(known["id"])


def _save_runs(
    connection: Connection, job_id: int, runs: Iterable[Run], report: SaveReport
) -> None:
    known = run_ids(connection, job_id)
    ready: set[tuple[str, int]] = set()
    for run in runs:
        if run.code in known:
            stored = readings_of(connection, [known[run.code]]).get(known[run.code], ())
            same = stored == run.readings
            _seen(tables.run, {"code": run.code}, report, same=same)
            continue
        if (run.bench, run.calibration) not in ready:
            _ensure_calibration(connection, run, report)
            ready.add((run.bench, run.calibration))
        result = connection.execute(insert(tables.run).values(**rows.run_row(run, job_id)))
        key = result.inserted_primary_key
        run_id = int(key[0]) if key else 0
        known[run.code] = run_id
        report.count(tables.run, new=True)
        if run.readings:
            connection.execute(insert(tables.reading), rows.reading_rows(run.readings, run_id))
        if run.left_out:
            mark = {"run_id": run_id, "left_out": run.left_out}
            connection.execute(insert(tables.run_mark).values(**mark))


def _ensure_calibration(connection: Connection, run: Run, report: SaveReport) -> None:
    """A run needs its bench's calibration; a bench seen first on a flow sheet reads directly."""
    _bench(connection, run.bench, None, report)
    table = tables.calibration
    known = connection.execute(
        select(table.c.id).where(table.c.bench == run.bench, table.c.version == run.calibration)
    ).scalar()
    if known is None:
        connection.execute(
            insert(table).values(
                bench=run.bench,
                version=run.calibration,
                metering="direct",
                flow_air="reference-air",
                relative_uncertainty=0.01,
                reason="made with the first run on this bench; not checked yet",
            )
        )
        report.count(table, new=True)
