"""Rows of a flow sheet to raw readings, grouped into sweeps."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from portwright.io.names import stage_named
from portwright.io.sheet import Row, Sheet
from portwright.model.bench import Conditions
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from portwright.units import Kind, typed


@dataclass(frozen=True, slots=True)
class SweepKey:
    """What tells one sweep from another on a sheet."""

    run: str
    job: str
    date: str
    bench: str
    port: str
    stage: str
    repeat: int
    configuration: str

    @property
    def code(self) -> str:
        """Run number of the sheet, or one made of date, bench, port, stage and repeat."""
        if self.run:
            return self.run
        parts = [self.date, self.bench, self.port, self.stage, str(self.repeat), self.configuration]
        return "-".join(re.sub(r"[^\w.]+", "-", part).strip("-") for part in parts if part)


@dataclass(frozen=True, slots=True)
class RawReading:
    """One row of a flow sheet with every number it has, before the metering is decided."""

    row: Row
    key: SweepKey
    shown: Reading
    full_scale: AsTyped | None = None


@dataclass(slots=True)
class Sweep:
    """Readings of one sweep in the order taken."""

    key: SweepKey
    readings: list[RawReading] = field(default_factory=list)

    @property
    def first(self) -> Row:
        """Row where the sweep begins."""
        return self.readings[0].row


def raw_reader(sheet: Sheet) -> Callable[[Row], tuple[RawReading, str]]:
    """Row reader for :meth:`Sheet.each` that also watches for rows that contradict others."""
    lifts: dict[SweepKey, dict[float, int]] = {}
    runs: dict[str, tuple[SweepKey, int]] = {}

    def read_row(row: Row) -> tuple[RawReading, str]:
        key = _key(sheet, row)
        _refuse_contradiction(runs, key, row)
        lift = row.required("lift")
        if lift.si < 0.0:
            raise row.refused("lift", "lift is below zero", "Check the zero of the lift dial.")
        shown = _shown(sheet, row, lift)
        if shown.flow is None and shown.percent is None and shown.meter_pressure is None:
            raise row.refused(_shown_field(sheet), "no flow was written down", "Fill it in.")
        earlier = lifts.setdefault(key, {}).setdefault(round(lift.si, 9), row.number)
        if earlier != row.number:
            raise row.refused(
                "lift",
                f"this lift is already in row {earlier} of the same sweep",
                "If the sweep was repeated, number the repeats in a column called repeat.",
            )
        runs.setdefault(key.run, (key, row.number))
        raw = RawReading(row, key, shown, row.number_of("range full scale"))
        return raw, f"reading of {key.code} at {lift}"

    return read_row


def sweeps(readings: list[RawReading]) -> list[Sweep]:
    """Readings grouped by sweep, both in the order of the sheet."""
    grouped: dict[SweepKey, Sweep] = {}
    for reading in readings:
        grouped.setdefault(reading.key, Sweep(reading.key)).readings.append(reading)
    return list(grouped.values())


def _shown(sheet: Sheet, row: Row, lift: AsTyped) -> Reading:
    return Reading(
        lift=lift,
        flow=not_negative(row, "flow"),
        percent=not_negative(row, "percent"),
        range_number=row.whole("range number"),
        meter_pressure=not_negative(row, "meter pressure"),
        test_pressure=_positive(row, "test pressure") or sheet.defaults.test_pressure,
        air_temperature=row.number_of("air temperature"),
        meter_temperature=row.number_of("meter temperature"),
        barometer=_positive(row, "barometer"),
        humidity=not_negative(row, "humidity"),
        leak=row.number_of("leak"),
        test_pressure_zero=row.number_of("test pressure zero"),
        meter_pressure_zero=row.number_of("meter pressure zero"),
        scatter=not_negative(row, "scatter"),
    )


def _shown_field(sheet: Sheet) -> str:
    return next((f for f in ("flow", "percent", "meter pressure") if sheet.has(f)), "flow")


def not_negative(row: Row, name: str) -> AsTyped | None:
    """Number of a field; one below zero refuses the row."""
    value = row.number_of(name)
    if value is not None and value.si < 0.0:
        raise row.refused(name, f"{name} is below zero", "Check the sign and the zero.")
    return value


def _positive(row: Row, name: str) -> AsTyped | None:
    value = row.number_of(name)
    if value is not None and value.si <= 0.0:
        raise row.refused(name, f"{name} is not above zero", "Type the drop without its sign.")
    return value


def _key(sheet: Sheet, row: Row) -> SweepKey:
    defaults = sheet.defaults
    needed = sheet.needed
    return SweepKey(
        run=row.text("run"),
        job=needed(row, "job", "job", defaults.job, "the sheet does not say which job it is for"),
        date=row.text("date", defaults.date),
        bench=needed(row, "bench", "bench", defaults.bench, "the sheet does not name the bench"),
        port=needed(row, "port", "port", defaults.port, "the sheet does not name the port"),
        stage=stage_named(sheet, row.text("stage", defaults.stage)),
        repeat=row.whole("repeat") or 1,
        configuration=row.text("configuration"),
    )


def _refuse_contradiction(runs: dict[str, tuple[SweepKey, int]], key: SweepKey, row: Row) -> None:
    """A run number belongs to one sweep; the same number on another port is a slip."""
    if not key.run or key.run not in runs:
        return
    known, number = runs[key.run]
    for name in ("bench", "port", "stage", "repeat", "date", "job"):
        mine, theirs = getattr(key, name), getattr(known, name)
        if mine != theirs:
            reason = f"run {key.run} has {name} {theirs} in row {number} and {mine} here"
            raise row.refused(name, reason, "Give each sweep its own run number.")


_CONDITIONS = (
    "bore adapter", "adapter length", "inlet aid", "exhaust stub", "plug", "valve",
    "lift reference", "configuration", "direction",
)  # fmt: skip


def conditions_on(row: Row) -> Conditions:
    """What a row says was mounted."""
    said = {name.replace(" ", "_"): _with_unit(row, name) for name in _CONDITIONS}
    return Conditions(**{name: text for name, text in said.items() if text})


def _with_unit(row: Row, name: str) -> str:
    column = row.column(name)
    text = row.text(name)
    if column is None or not text or not column.unit or not re.fullmatch(r"[\d.,/ ]+", text):
        return text
    return f"{text} {column.unit}"


def pressure_words(inches: str) -> AsTyped:
    """Test pressure that a heading states in inches of water ("flow_cfm_28")."""
    return typed(float(inches), "inH2O", Kind.PRESSURE)
