"""Rows of the shop file to model values and back.

A model field of type :class:`AsTyped` goes into the row's ``typed`` column as ``[text, unit]`` with
its SI value in the column of its name, or as ``[text, unit, SI value]`` where there is none.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

from sqlalchemy import RowMapping, Table, Text, cast

from portwright.archive import tables
from portwright.errors import CorruptArchiveError, RangeError
from portwright.model.bench import (
    Bench,
    Calibration,
    CalibrationPoint,
    Conditions,
    Metering,
    MeterRange,
    OrificeMeter,
    PlateCheck,
)
from portwright.model.engine_run import KeptEngineRun
from portwright.model.entry import EntryKind, JobEntry
from portwright.model.head import Cam, CamPoint, Casting, Head, Port, Side
from portwright.model.job import Job, Measurement, Note, SheetKind, SheetRow, Shop, Stage
from portwright.model.plain import from_plain, to_plain
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run

T = TypeVar("T")
Row = Mapping[str, Any] | RowMapping


_COLUMNS = {name: frozenset(t.c.keys()) for name, t in tables.metadata.tables.items()}


def pack(value: AsTyped) -> list[object]:
    """A typed value as JSON.

    Raises
    ------
    RangeError
        The value is not a finite number.
    """
    return [value.text, value.unit, _finite(value)]


def _finite(value: AsTyped) -> float:
    if not math.isfinite(value.si):
        raise RangeError(
            f"'{value}' is not a finite number and cannot be stored.", "Leave it empty instead."
        )
    return value.si


def unpack(value: list[Any] | None) -> AsTyped | None:
    """A typed value back from JSON."""
    return None if value is None else _must(value)


def _must(value: list[Any]) -> AsTyped:
    text, unit, si = value
    return AsTyped(str(text), str(unit), float(si))


def to_row(item: Any, table: Table, **extra: object) -> dict[str, Any]:
    """Column values of a model value; ``extra`` fills columns the model does not have."""
    row: dict[str, Any] = {}
    typed: dict[str, list[object]] = {}
    columns = _COLUMNS[table.name]
    for name in item.__dataclass_fields__:
        value = getattr(item, name)
        if isinstance(value, AsTyped):
            typed[name] = [value.text, value.unit] if name in columns else pack(value)
            value = _finite(value)
        if name in columns:
            row[name] = value
    if "typed" in columns:
        row["typed"] = typed
    return row | extra


_TYPED_FIELDS: dict[object, frozenset[str]] = {}


def _typed_fields(cls: Any) -> frozenset[str]:
    if cls not in _TYPED_FIELDS:
        found = (f.name for f in dataclasses.fields(cls) if "AsTyped" in str(f.type))
        _TYPED_FIELDS[cls] = frozenset(found)
    return _TYPED_FIELDS[cls]


def from_row(cls: type[T], row: Row, **extra: object) -> T:
    """A model value from a row; ``extra`` fills fields that need more than a column."""
    typed = row.get("typed") or {}
    values: dict[str, Any] = {}
    typed_fields = _typed_fields(cls)
    known = set(row)  # asking a row of the database for each name takes most of the time here
    for name in cls.__dataclass_fields__:  # type: ignore[attr-defined]
        if name in extra:
            continue
        if name in typed_fields:
            values[name] = _typed_value(typed.get(name), row, name)
        elif name in known:
            values[name] = row[name]
    return cls(**values, **extra)


def _typed_value(entry: list[Any] | None, row: Row, name: str) -> AsTyped | None:
    if entry is None:
        return None
    if len(entry) == 2:  # the SI value has a column of its own
        return AsTyped(entry[0], entry[1], float(row[name]))
    return _must(entry)


def shop_from(row: Row) -> Shop:
    """The shop's own row."""
    return from_row(Shop, row)


def casting_from(row: Row) -> Casting:
    """A casting row."""
    return from_row(Casting, row)


def bench_from(row: Row) -> Bench:
    """A bench row."""
    return from_row(Bench, row)


def calibration_row(item: Calibration) -> dict[str, Any]:
    """A calibration version with its constants as JSON."""
    constants: dict[str, Any] = {
        "ranges": [[r.number, pack(r.full_scale)] for r in item.ranges],
        "table": [[pack(p.indicated), pack(p.flow)] for p in item.table],
    }
    if item.orifice:
        orifice = item.orifice
        constants["orifice"] = {
            "bore": pack(orifice.bore),
            "pipe": pack(orifice.pipe) if orifice.pipe else None,
            "coefficient": orifice.coefficient,
            "taps": orifice.taps,
        }
    row = to_row(item, tables.calibration, constants=constants)
    return row | {"metering": item.metering.value}


def calibration_from(row: Row) -> Calibration:
    """A calibration version."""
    constants = row["constants"]
    orifice = constants.get("orifice")
    return from_row(
        Calibration,
        row,
        metering=Metering(row["metering"]),
        ranges=tuple(MeterRange(n, _must(v)) for n, v in constants.get("ranges", [])),
        table=tuple(CalibrationPoint(_must(a), _must(b)) for a, b in constants.get("table", [])),
        orifice=OrificeMeter(
            _must(orifice["bore"]),
            unpack(orifice["pipe"]),
            orifice["coefficient"],
            orifice["taps"],
        )
        if orifice
        else None,
    )


def plate_check_from(row: Row) -> PlateCheck:
    """A plate check row."""
    return from_row(PlateCheck, row)


# A shop has thousands of jobs, so they are read by position: the row's id, then every field.
JOB_COLUMNS = (tables.job.c.id, *(tables.job.c[f.name] for f in dataclasses.fields(Job)))


def job_from(row: Sequence[Any]) -> Job:
    """A job from a row of :data:`JOB_COLUMNS`."""
    return Job(*row[1:])


def head_from(row: Row) -> Head:
    """A head row."""
    return from_row(Head, row)


def port_from(row: Row) -> Port:
    """A port row."""
    return from_row(Port, row, side=Side(row["side"]))


def stage_from(row: Row) -> Stage:
    """A stage row."""
    return from_row(Stage, row)


def measurement_row(item: Measurement, job_id: int) -> dict[str, Any]:
    """A measurement with its SI value."""
    return to_row(item, tables.measurement, job_id=job_id)


def measurement_from(row: Row) -> Measurement:
    """A measurement row."""
    return from_row(Measurement, row)


def cam_row(item: Cam) -> dict[str, Any]:
    """A cam with its lift table as JSON."""
    points = [[pack(p.angle), pack(p.intake_lift), pack(p.exhaust_lift)] for p in item.points]
    return to_row(item, tables.cam) | {"points": points}


def cam_from(row: Row) -> Cam:
    """A cam row."""
    points = tuple(CamPoint(_must(a), _must(i), _must(e)) for a, i, e in row["points"])
    return from_row(Cam, row, points=points)


def sheet_row_from(row: Row) -> SheetRow:
    """A row of one of the shop's other tables."""
    return from_row(SheetRow, row, kind=SheetKind(row["kind"]))


def entry_row(item: JobEntry, job_id: int) -> dict[str, Any]:
    """An entry of a job card."""
    return to_row(item, tables.job_entry, job_id=job_id) | {"kind": item.kind.value}


def entry_from(row: Row) -> JobEntry:
    """An entry row."""
    return from_row(JobEntry, row, kind=EntryKind(row["kind"]))


def engine_run_row(item: KeptEngineRun, job_id: int) -> dict[str, Any]:
    """A kept engine run; what has no column of its own is in ``content``."""
    plain = to_plain(item)
    columns = _COLUMNS[tables.engine_run.name]
    row = {name: plain.pop(name) for name in list(plain) if name in columns}
    return row | {"content": plain, "job_id": job_id}


def engine_run_from(row: Row) -> KeptEngineRun:
    """A kept engine run.

    Raises
    ------
    CorruptArchiveError
        Its content makes no sense.
    """
    own = {n: row[n] for n in KeptEngineRun.__dataclass_fields__ if n in row}
    try:
        return from_plain(KeptEngineRun, row["content"] | own)
    except (ValueError, TypeError) as error:
        raise CorruptArchiveError(
            f"The kept engine run {row['key']} is damaged: {error}.", "Keep a new one."
        ) from error


def note_from(row: Row) -> Note:
    """A note row."""
    return from_row(Note, row)


def run_row(item: Run, job_id: int) -> dict[str, Any]:
    """A run without its readings."""
    return to_row(item, tables.run, job_id=job_id) | {
        "conditions": dataclasses.asdict(item.conditions)
    }


def reading_rows(readings: Iterable[Reading], run_id: int, first: int = 1) -> list[dict[str, Any]]:
    """Readings of a run, numbered in the order taken."""
    return [
        to_row(reading, tables.reading, run_id=run_id, position=position)
        for position, reading in enumerate(readings, start=first)
    ]


def reading_from(row: Row) -> Reading:
    """A reading row."""
    return Reading(
        range_number=row["range_number"],
        **{name: AsTyped(entry[0], entry[1], row[name]) for name, entry in row["typed"].items()},
    )


# Jobs hold thousands of readings, so they are read by position and decoded all at once.
READING_COLUMNS = (
    tables.reading.c.run_id,
    tables.reading.c.range_number,
    cast(tables.reading.c.typed, Text).label("typed"),
    *(tables.reading.c[name] for name in tables.CHANNELS),
)
_PLACE = {name: place for place, name in enumerate(tables.CHANNELS, start=3)}


def readings_by_run(found: Sequence[Sequence[Any]]) -> dict[int, tuple[Reading, ...]]:
    """Readings from rows of :data:`READING_COLUMNS`, in their order, by run id."""
    same: dict[tuple[str, str, float], AsTyped] = {}  # most values of a sweep repeat
    by_run: dict[int, list[Reading]] = {}
    decoded = json.loads(f"[{','.join(row[2] for row in found)}]")
    for row, typed in zip(found, decoded, strict=True):
        values: dict[str, Any] = {}
        for name, (text, unit) in typed.items():
            key = (text, unit, row[_PLACE[name]])
            value = same.get(key)
            if value is None:
                value = same[key] = AsTyped(*key)
            values[name] = value
        by_run.setdefault(row[0], []).append(Reading(range_number=row[1], **values))
    return {run_id: tuple(readings) for run_id, readings in by_run.items()}


def run_from(row: Row, job: str, readings: tuple[Reading, ...], left_out: str) -> Run:
    """A run with its current readings and what was decided about it."""
    return from_row(
        Run,
        row,
        job=job,
        conditions=Conditions(**row["conditions"]),
        readings=readings,
        left_out=left_out,
    )
