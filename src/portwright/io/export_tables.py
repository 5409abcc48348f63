"""Everything a shop holds as plain tables for a spreadsheet: as typed, and in SI beside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

from portwright.errors import UnitError
from portwright.io.measurement_sheets import kind_of_unit
from portwright.model.contents import JobContents, ShopContents
from portwright.model.quantity import AsTyped
from portwright.units import Kind

SI_ENDING = {
    Kind.LENGTH: "m", Kind.AREA: "m2", Kind.VOLUME: "m3", Kind.FLOW: "m3_s",
    Kind.MASS_FLOW: "kg_s", Kind.PRESSURE: "Pa", Kind.TEMPERATURE: "K", Kind.ANGLE: "rad",
    Kind.MASS: "kg", Kind.FORCE: "N", Kind.STIFFNESS: "N_m", Kind.SPEED: "m_s", Kind.TIME: "s",
    Kind.TURNING_SPEED: "rad_s", Kind.TORQUE: "Nm", Kind.POWER: "W", Kind.HARDNESS: "HB",
    Kind.RATIO: "fraction",
}  # fmt: skip

# SI unit of every field that holds a number as typed; a test keeps this complete.
FIELD_SI = {
    "lift": "m", "flow": "m3_s", "percent": "fraction", "meter_pressure": "Pa",
    "test_pressure": "Pa", "air_temperature": "K", "meter_temperature": "K", "barometer": "Pa",
    "humidity": "fraction", "leak": "m3_s", "scatter": "fraction", "full_scale": "m3_s",
    "indicated": "Pa", "bore": "m", "pipe": "m", "bore_adapter": "m", "adapter_length": "m",
    "test_pressure_zero": "Pa", "meter_pressure_zero": "Pa",
    "certified": "m3_s", "measured": "m3_s", "reads_at": "Pa", "angle": "rad",
    "intake_lift": "m", "exhaust_lift": "m", "intake_centre": "rad", "exhaust_centre": "rad",
    "lash": "m", "report_pressure": "Pa",
    "intake_valve_angle": "rad", "exhaust_valve_angle": "rad",
}  # fmt: skip

Cells = dict[str, str]


@dataclass(frozen=True, slots=True)
class PlainTable:
    """One table: headings with units, and rows of text."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class _Tables:
    """Tables while they fill, each under its name."""

    def __init__(self) -> None:
        self.rows: dict[str, list[Cells]] = {}

    def add(self, name: str, things: Iterable[object], **key: str) -> None:
        """Rows of a table, each begun with the names of what it belongs to."""
        self.add_cells(name, ({**key, **flat(thing)} for thing in things))

    def add_cells(self, name: str, rows: Iterable[Cells]) -> None:
        """Rows of a table as they are."""
        self.rows.setdefault(name, []).extend(rows)


def plain_tables(contents: ShopContents) -> tuple[PlainTable, ...]:
    """Tables of everything in ``contents``; empty ones are left out."""
    tables = _Tables()
    tables.add("shop", [contents.shop] if contents.shop else [])
    tables.add("castings", contents.castings)
    tables.add("benches", contents.benches)
    tables.add("calibrations", contents.calibrations)
    for calibration in contents.calibrations:
        bench, version = calibration.bench, str(calibration.version)
        tables.add("calibration_ranges", calibration.ranges, bench=bench, version=version)
        tables.add("calibration_points", calibration.table, bench=bench, version=version)
    tables.add("plate_checks", contents.plate_checks)
    for job in contents.jobs:
        _add_job(tables, job)
    return tuple(_table(name, rows) for name, rows in tables.rows.items() if rows)


def _add_job(tables: _Tables, job: JobContents) -> None:
    number = job.job.number
    tables.add("jobs", [job.job])
    facts = ({"job": number, "field": name, "value": text} for name, text in job.job.facts.items())
    tables.add_cells("job_facts", facts)
    for name in (
        "heads",
        "ports",
        "stages",
        "measurements",
        "cams",
        "notes",
        "entries",
        "engine_runs",
    ):
        tables.add(name, getattr(job, name), job=number)
    for cam in job.cams:
        tables.add("cam_lift", cam.points, job=number, card=cam.card)
    for place, row in enumerate(job.rows, start=1):
        key = {"job": number, "kind": row.kind.value, "source": row.source, "subject": row.subject}
        cells = ({**key, "row": str(place), "heading": h, "cell": c} for h, c in row.cells.items())
        tables.add_cells("sheet_rows", cells)
    for entry in job.entries:
        cells = (
            {"job": number, "key": entry.key, "field": f, "value": v}
            for f, v in entry.cells.items()
        )
        tables.add_cells("job_entry_fields", cells)
    for kept in job.engine_runs:
        key = {"job": number, "key": kept.key}
        facts = ({**key, "field": f, "value": v} for f, v in kept.facts.items())
        tables.add_cells("engine_run_facts", facts)
        said = ({**key, "finding": text} for text in kept.findings)
        tables.add_cells("engine_run_findings", said)
        for name in ("inputs", "points", "gains"):
            tables.add(f"engine_run_{name}", getattr(kept, name), **key)
    tables.add("runs", job.runs)
    for run in job.runs:
        tables.add(
            "readings",
            run.readings,
            run=run.code,
            job=run.job,
            date=run.date,
            bench=run.bench,
            port=run.port,
            stage=run.stage,
            repeat=str(run.repeat),
        )


def flat(thing: Any, prefix: str = "") -> Cells:
    """Fields of a dataclass as cells; lists and dictionaries have tables of their own."""
    cells: Cells = {}
    for item in fields(thing):
        value = getattr(thing, item.name)
        heading = prefix + item.name
        if item.name == "value" and isinstance(value, AsTyped):
            cells |= _measured(value)
        elif item.name in FIELD_SI and (value is None or isinstance(value, AsTyped)):
            cells[heading] = "" if value is None else str(value)
            cells[f"{heading}_{FIELD_SI[item.name]}"] = "" if value is None else repr(value.si)
        elif is_dataclass(value):
            cells |= flat(value, f"{heading}_")
        elif isinstance(value, Enum):
            cells[heading] = str(value.value)
        elif not isinstance(value, tuple | dict):
            cells[heading] = "" if value is None else str(value)
    return cells


def _measured(value: AsTyped) -> Cells:
    try:
        ending = SI_ENDING[kind_of_unit(value.unit)]
    except UnitError:
        ending = ""
    return {"value": value.text, "unit": value.unit, "value_si": repr(value.si), "si_unit": ending}


def _table(name: str, rows: list[Cells]) -> PlainTable:
    headings = tuple(dict.fromkeys(heading for row in rows for heading in row))
    return PlainTable(
        name, headings, tuple(tuple(row.get(h, "") for h in headings) for row in rows)
    )
