"""Writing contents into the shop file: what is new goes in, what is there stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select

from portwright.archive import merge, rows, server, tables
from portwright.archive.fetch import run_ids, runs_as_entered
from portwright.errors import InputError
from portwright.model.bench import Calibration
from portwright.model.contents import JobContents, ShopContents
from portwright.model.job import Shop
from portwright.model.run import Run


@dataclass(slots=True)
class SaveReport:
    """What a save did.

    Parameters
    ----------
    added : dict of str to int
        New rows by table.
    already_there : dict of str to int
        Rows found and skipped, or only filled where they were empty.
    conflicts : list of str
        Things with the same name but other content; the stored ones were kept.
    """

    added: dict[str, int] = field(default_factory=dict)
    already_there: dict[str, int] = field(default_factory=dict)
    conflicts: list[str] = field(default_factory=list)

    def count(self, table: Table, *, new: bool, number: int = 1) -> None:
        """Count rows."""
        bucket = self.added if new else self.already_there
        bucket[table.name] = bucket.get(table.name, 0) + number


def save(connection: Connection, contents: ShopContents) -> SaveReport:
    """Store everything in ``contents`` that the shop file does not hold yet.

    Shop, castings, benches, calibrations, jobs, heads, ports, stages, cams and runs are known by
    name.  Fields that were left empty are filled; other content under a known name is a
    conflict, reported and not stored.  Everything else is known by all its columns.

    Raises
    ------
    InputError
        A run names a port that neither the contents nor the shop file have.
    """
    report = SaveReport()
    if contents.shop:
        _named(connection, tables.shop, {"id": 1}, contents.shop, report)
    for casting in contents.castings:
        _named(connection, tables.casting, {"number": casting.number}, casting, report)
    for bench in contents.benches:
        _named(connection, tables.bench, {"code": bench.code}, bench, report)
    for calibration in contents.calibrations:
        _calibration(connection, calibration, report)
    for code in sorted({check.bench for check in contents.plate_checks}):
        _bench_name(connection, code, report)
    checks = (rows.to_row(c, tables.plate_check) for c in contents.plate_checks)
    _append(connection, tables.plate_check, checks, {}, report)
    for job in contents.jobs:
        _save_job(connection, job, report)
    return report


def save_shop(connection: Connection, shop: Shop) -> None:
    """Write the shop's own facts over the older ones."""
    row = rows.to_row(shop, tables.shop)
    known = merge.find(connection, tables.shop, {"id": 1})
    if known is None:
        connection.execute(insert(tables.shop).values(id=1, **row))
    else:
        merge.change(connection, tables.shop, known, row)


def _named(
    connection: Connection, table: Table, key: dict[str, Any], item: Any, report: SaveReport
) -> int:
    """Add or fill a row known by its name, and give its row id."""
    known = merge.find(connection, table, key)
    row = _plain_row(item, table) | key
    if known is None:
        report.count(table, new=True)
        return merge.add(connection, table, row)
    changes, clashes = merge.compare(known, row, merge.defaults(item))
    if changes:
        merge.change(connection, table, known, changes)
    if clashes:
        name = " ".join(str(v) for k, v in key.items() if k not in {"job_id", "id"})
        report.conflicts.append(f"{table.name} {name}: kept as stored: {'; '.join(clashes)}.")
    else:
        report.count(table, new=False)
    return int(known["id"])


def _plain_row(item: Any, table: Table) -> dict[str, Any]:
    if table is tables.cam:
        return rows.cam_row(item)
    row = rows.to_row(item, table)
    return row | {"side": item.side.value} if table is tables.port else row


def _bench_name(connection: Connection, code: str, report: SaveReport) -> None:
    """A bench known by its code only, to be filled in later."""
    if merge.find(connection, tables.bench, {"code": code}) is None:
        merge.add(connection, tables.bench, {"code": code})
        report.count(tables.bench, new=True)


def _calibration(connection: Connection, item: Calibration, report: SaveReport) -> None:
    _bench_name(connection, item.bench, report)
    table = tables.calibration
    key = {"bench": item.bench, "version": item.version}
    row = rows.calibration_row(item)
    known = merge.find(connection, table, key)
    if known is None:
        merge.add(connection, table, row)
        report.count(table, new=True)
    elif all(known[name] == value for name, value in row.items()):
        report.count(table, new=False)
    elif known["reason"] == tables.STAND_IN:
        merge.change(connection, table, known, row)
        report.count(table, new=True)
    else:
        report.conflicts.append(
            f"{item.key} is stored with other content and kept; "
            "a changed bench needs a new version."
        )


def _append(
    connection: Connection,
    table: Table,
    new_rows: Iterable[dict[str, Any]],
    where: dict[str, Any],
    report: SaveReport,
) -> None:
    """Add rows that are not there yet; two equal rows in one sheet stay two."""
    wanted = list(new_rows)
    if not wanted:
        return
    columns = sorted(wanted[0])
    query = select(*(table.c[c] for c in columns))
    for name, value in where.items():
        query = query.where(table.c[name] == value)
    present = Counter(_fingerprint(row) for row in connection.execute(query).mappings())
    fresh = []
    for row in wanted:
        mark = _fingerprint(row)
        if present[mark] > 0:
            present[mark] -= 1
        else:
            fresh.append(row)
    if fresh:
        connection.execute(insert(table), fresh)
        report.count(table, new=True, number=len(fresh))
    if len(wanted) > len(fresh):
        report.count(table, new=False, number=len(wanted) - len(fresh))


def _fingerprint(row: Any) -> str:
    return repr(
        sorted(
            (name, sorted(value.items()) if isinstance(value, dict) else _signless(value))
            for name, value in row.items()
        )
    )


def _signless(value: Any) -> Any:
    """The database stores minus nothing as nothing."""
    return value + 0.0 if isinstance(value, float) else value


def _save_job(connection: Connection, contents: JobContents, report: SaveReport) -> None:
    number = {"number": contents.job.number}
    known = merge.find(connection, tables.job, number)
    job_id = _named(connection, tables.job, number, contents.job, report)
    job = {"job_id": job_id}
    heads = _heads(connection, job_id) if known is not None else None
    for head in contents.heads:
        _named(connection, tables.head, job | {"code": head.code}, head, report)
    if heads is not None and heads != _heads(connection, job_id):
        merge.touch_job(connection, job_id)  # what a head is counts for each of its ports
    for port in contents.ports:
        _named(connection, tables.port, job | {"code": port.code}, port, report)
    for stage in contents.stages:
        _named(connection, tables.stage, job | {"code": stage.code}, stage, report)
    for cam in contents.cams:
        _named(connection, tables.cam, job | {"card": cam.card}, cam, report)
    measured = (rows.measurement_row(m, job_id) for m in contents.measurements)
    _append(connection, tables.measurement, measured, job, report)
    sheet = (
        rows.to_row(r, tables.sheet_row, job_id=job_id) | {"kind": r.kind.value}
        for r in contents.rows
    )
    _append(connection, tables.sheet_row, sheet, job, report)
    notes = (rows.to_row(n, tables.note, job_id=job_id) for n in contents.notes)
    _append(connection, tables.note, notes, job, report)
    entries = (rows.entry_row(e, job_id) for e in contents.entries)
    _save_keyed(connection, tables.job_entry, entries, report)
    kept = (rows.engine_run_row(k, job_id) for k in contents.engine_runs)
    _save_keyed(connection, tables.engine_run, kept, report)
    _save_runs(connection, job_id, contents.runs, report)


def _heads(connection: Connection, job_id: int) -> list[Any]:
    table = tables.head
    return list(connection.execute(select(table).where(table.c.job_id == job_id)).mappings())


def _save_keyed(
    connection: Connection, table: Table, new_rows: Iterable[dict[str, Any]], report: SaveReport
) -> None:
    """Rows that are known by their key and never filled or changed."""
    for row in new_rows:
        key = {"job_id": row["job_id"], "key": row["key"]}
        known = merge.find(connection, table, key)
        if known is None:
            merge.add(connection, table, row)
        elif any(known[name] != value for name, value in row.items()):
            report.conflicts.append(
                f"{_NAMED[table.name]} {row['key']} is stored with other content and kept as "
                "stored."
            )
            continue
        report.count(table, new=known is None)


_NAMED = {"job_entry": "entry", "engine_run": "engine run"}


def _save_runs(
    connection: Connection, job_id: int, runs: Iterable[Run], report: SaveReport
) -> None:
    known = run_ids(connection, job_id)
    new: dict[str, Run] = {}
    for run in runs:
        if run.code in known:
            _compare_run(run, runs_as_entered(connection, known[run.code]), report)
        elif run.code in new:
            _compare_run(run, (new[run.code],), report)
        else:
            new[run.code] = run
    if new:
        add_runs(connection, job_id, tuple(new.values()), report)


def _compare_run(run: Run, versions: Sequence[Run], report: SaveReport) -> None:
    """A known run agrees with the sheet as first entered or as corrected since."""
    if any(_evidence(run) == _evidence(version) for version in versions):
        report.count(tables.run, new=False)
        return
    stored, offered = len(versions[0].readings), len(run.readings)
    report.conflicts.append(
        f"run {run.code} is stored with other content and kept "
        f"({stored} readings stored, {offered} offered)."
    )


def _evidence(run: Run) -> dict[str, Any]:
    """What a sheet says of a run; the job and what was decided later are not on it."""
    return {
        name: getattr(run, name)
        for name in Run.__dataclass_fields__
        if name not in {"job", "left_out"}
    }


def add_runs(connection: Connection, job_id: int, runs: Sequence[Run], report: SaveReport) -> None:
    """Store runs that are not there yet.

    Raises
    ------
    InputError
        The port of one is not known.
    """
    _refuse_unknown_ports(connection, job_id, runs)
    _add_stages(connection, job_id, runs, report)
    _add_calibrations(connection, runs, report)
    # The file is locked for this transaction, so the ids that follow are free.
    first = int(connection.execute(select(func.max(tables.run.c.id))).scalar() or 0) + 1
    numbered = list(enumerate(runs, start=first))
    connection.execute(
        insert(tables.run), [rows.run_row(run, job_id) | {"id": i} for i, run in numbered]
    )
    server.renumber(connection)
    report.count(tables.run, new=True, number=len(runs))
    readings = [row for i, run in numbered for row in rows.reading_rows(run.readings, i)]
    if readings:
        connection.execute(insert(tables.reading), readings)
    marks = [{"run_id": i, "left_out": run.left_out} for i, run in numbered if run.left_out]
    if marks:
        connection.execute(insert(tables.run_mark), marks)


def _codes(connection: Connection, table: Table, job_id: int) -> set[str]:
    return set(connection.execute(select(table.c.code).where(table.c.job_id == job_id)).scalars())


def _refuse_unknown_ports(connection: Connection, job_id: int, runs: Iterable[Run]) -> None:
    known = _codes(connection, tables.port, job_id)
    for run in runs:
        if run.port not in known:
            raise InputError(
                f"Run {run.code} is on port '{run.port}', which job {run.job} does not have.",
                "Add the port with its side first; nothing was stored.",
            )


def _add_stages(
    connection: Connection, job_id: int, runs: Iterable[Run], report: SaveReport
) -> None:
    """A run brings the stage it names."""
    known = _codes(connection, tables.stage, job_id)
    for code in dict.fromkeys(run.stage for run in runs):
        if code not in known:
            merge.add(connection, tables.stage, {"job_id": job_id, "code": code})
            report.count(tables.stage, new=True)


def _add_calibrations(connection: Connection, runs: Iterable[Run], report: SaveReport) -> None:
    """A run needs its bench's calibration; a bench seen first on a flow sheet reads directly."""
    for bench, version in dict.fromkeys((run.bench, run.calibration) for run in runs):
        key = {"bench": bench, "version": version}
        if merge.find(connection, tables.calibration, key) is None:
            _bench_name(connection, bench, report)
            stand_in = {
                "metering": "direct",
                "flow_air": "reference-air",
                "relative_uncertainty": 0.01,
                "reason": tables.STAND_IN,
            }
            merge.add(connection, tables.calibration, key | stand_in)
            report.count(tables.calibration, new=True)
