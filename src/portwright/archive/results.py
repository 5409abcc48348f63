"""Results computed from runs, kept beside what they were computed from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, RowMapping, select
from sqlalchemy.dialects import postgresql, sqlite

from portwright.archive import tables
from portwright.archive.fetch import job_row, run_ids
from portwright.archive.live import run_id
from portwright.errors import CorruptArchiveError, ShapeError, UnknownNameError
from portwright.model.run import Reading

_FLOAT = np.dtype("<f8")  # little-endian on every computer, so the file can travel


@dataclass(frozen=True, slots=True, eq=False)
class RunResult:
    """Effective areas of one run by one method.

    Parameters
    ----------
    job, run : str
        Job number and run code.
    method : str
        Reduction method with its version ("standard-1").
    calibration : str
        Key of the calibration used ("B2 calibration 1").
    program : str
        Portwright version that computed it.
    readings_digest : str
        :func:`readings_digest` of the readings it was computed from.
    lift : ndarray, shape (n,)
        [m]
    area : ndarray, shape (n,)
        Effective area. [m2]
    uncertainty : ndarray, shape (n,)
        Standard uncertainty of the effective area. [m2]
    """

    job: str
    run: str
    method: str
    calibration: str
    program: str
    readings_digest: str
    lift: NDArray[np.float64]
    area: NDArray[np.float64]
    uncertainty: NDArray[np.float64]


def readings_digest(readings: Iterable[Reading]) -> str:
    """SHA-256 of readings' SI values: another digest means that results are out of date."""
    digest = hashlib.sha256()
    for reading in readings:
        for name in tables.CHANNELS:
            value = getattr(reading, name)
            digest.update(b"-" if value is None else value.si.hex().encode("ascii"))
            digest.update(b"|")
        digest.update(f"{reading.range_number}\n".encode("ascii"))
    return digest.hexdigest()


def save_results(connection: Connection, results: Iterable[RunResult]) -> int:
    """Store results, replacing those of the same run, method, calibration, readings and program.

    Raises
    ------
    ShapeError
        Lift, area and uncertainty differ in length.
    UnknownNameError
        No such job or run.
    """
    new = []
    known: dict[str, dict[str, int]] = {}
    for result in results:
        if result.job not in known:
            known[result.job] = run_ids(connection, int(job_row(connection, result.job)["id"]))
        if result.run not in known[result.job]:
            raise UnknownNameError("run", result.run, known[result.job])
        arrays = [np.asarray(a, _FLOAT) for a in (result.lift, result.area, result.uncertainty)]
        if any(a.ndim != 1 or a.shape != arrays[0].shape for a in arrays):
            raise ShapeError(
                f"Result of run {result.run}: lift, area and uncertainty differ in length.",
                "Give one value each per reading.",
            )
        lift, area, uncertainty = (a.tobytes() for a in arrays)
        new.append(
            {
                "run_id": known[result.job][result.run],
                "method": result.method,
                "calibration": result.calibration,
                "program": result.program,
                "readings_digest": result.readings_digest,
                "lift": lift,
                "area": area,
                "uncertainty": uncertainty,
            }
        )
    if new:
        server = connection.dialect.name == "postgresql"
        insert = postgresql.insert if server else sqlite.insert
        statement: Any = insert(tables.result)
        values = {name: statement.excluded[name] for name in ("lift", "area", "uncertainty")}
        key = ("run_id", "method", "calibration", "readings_digest", "program")
        connection.execute(statement.on_conflict_do_update(index_elements=key, set_=values), new)
    return len(new)


def results(connection: Connection, job: str, run: str | None = None) -> list[RunResult]:
    """Stored results of a job, or of one of its runs, in the order of the runs.

    Raises
    ------
    UnknownNameError
        No such job or run.
    CorruptArchiveError
        A stored array is cut off.
    """
    table = tables.result
    query = (
        select(table, tables.run.c.code)
        .join(tables.run, tables.run.c.id == table.c.run_id)
        .where(tables.run.c.job_id == job_row(connection, job)["id"])
        .order_by(tables.run.c.id, table.c.id)
    )
    if run is not None:
        query = query.where(tables.run.c.id == run_id(connection, job, run))
    return [_result(job, row) for row in connection.execute(query).mappings()]


def _result(job: str, row: RowMapping) -> RunResult:
    arrays = [_array(row[name]) for name in ("lift", "area", "uncertainty")]
    if any(a is None or arrays[0] is None or a.shape != arrays[0].shape for a in arrays):
        raise CorruptArchiveError(
            f"A stored result of run {row['code']} is damaged.", "Compute it again."
        )
    lift, area, uncertainty = (a for a in arrays if a is not None)
    return RunResult(
        job=job,
        run=row["code"],
        method=row["method"],
        calibration=row["calibration"],
        program=row["program"],
        readings_digest=row["readings_digest"],
        lift=lift,
        area=area,
        uncertainty=uncertainty,
    )


def _array(data: bytes) -> NDArray[np.float64] | None:
    if len(data) % _FLOAT.itemsize:
        return None
    return np.frombuffer(data, _FLOAT).astype(np.float64)
