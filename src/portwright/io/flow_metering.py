"""Which calibration reads a sweep: stated by the sheet, known to the shop, or chosen."""

from __future__ import annotations

from portwright.errors import Severity, Where
from portwright.io.calibrations import Calibrations, direct_at, percent_of_range
from portwright.io.flow_rows import Sweep, pressure_words
from portwright.io.sheet import Refusal, Sheet
from portwright.model.bench import Calibration, Metering, MeterRange
from portwright.model.quantity import AsTyped


def sweep_calibration(
    sheet: Sheet, sweep: Sweep, known: Calibrations, found: list[Sweep]
) -> Calibration | None:
    """Calibration for a sweep; None when the sweep was refused or something is needed."""
    key, wanted = sweep.key, sheet.defaults.metering
    if wanted is Metering.PERCENT_OF_RANGE or (wanted is None and _all(sweep, "percent")):
        by_range = _range_calibration(sheet, sweep, known, found)
        if by_range is not None:
            return by_range
        if not _all(sweep, "flow"):
            _refuse(
                sheet,
                sweep,
                "percent",
                "the full scale of its range is not known",
                "Import the bench's range constants first, or add a full-scale column.",
            )
            return None
        sheet.find(
            "range-constants-unknown",
            f"{key.bench}: the full scale of its ranges is not known, so the flow written beside "
            "the percent was taken.",
            "Import the bench's range constants first.",
            Severity.NOTE,
            Where(job=key.job, run=key.code, port=key.port, stage=key.stage),
        )
    if wanted in {Metering.FLOW_ELEMENT, Metering.ORIFICE_PLATE, Metering.ORIFICE_ISO}:
        return _known_only(sheet, sweep, known, wanted)
    if _all(sweep, "flow"):
        return _direct(sheet, sweep, known)
    if _all(sweep, "meter_pressure"):
        sheet.need("metering", "the sheet has meter pressures: say how the bench meters")
        return None
    _refuse(
        sheet,
        sweep,
        "lift",
        "some rows of this sweep show flow and others something else",
        "Write every row of a sweep in the same way.",
    )
    return None


def _all(sweep: Sweep, name: str) -> bool:
    return all(getattr(raw.shown, name) is not None for raw in sweep.readings)


def _refuse(sheet: Sheet, sweep: Sweep, name: str, reason: str, hint: str) -> None:
    refusals = []
    for reading in sweep.readings:
        column = reading.row.column(name)
        text = reading.row.text(name)
        heading = column.heading if column else ""
        refusals.append(Refusal(reading.row.number, heading, text, reason, hint))
    sheet.withdraw(refusals)


def _range_calibration(
    sheet: Sheet, sweep: Sweep, known: Calibrations, found: list[Sweep]
) -> Calibration | None:
    key = sweep.key
    stated = all(raw.full_scale is not None for raw in sweep.readings)
    if stated and _all(sweep, "range_number"):
        pressure = _range_pressure(sheet, sweep)
        if pressure is None:
            return None
        same_day = [s for s in found if (s.key.bench, s.key.date) == (key.bench, key.date)]
        ranges = {
            raw.shown.range_number: MeterRange(raw.shown.range_number, raw.full_scale)
            for s in same_day
            for raw in s.readings
            if raw.shown.range_number is not None and raw.full_scale is not None
        }
        source = sheet.table.source
        return known.state(
            percent_of_range(key.bench, key.date, pressure, tuple(ranges.values()), source)
        )
    calibration = known.in_force(key.bench, key.date, Metering.PERCENT_OF_RANGE)
    numbers = {raw.shown.range_number for raw in sweep.readings}
    if calibration and numbers <= {r.number for r in calibration.ranges}:
        return calibration
    return None


def _range_pressure(sheet: Sheet, sweep: Sweep) -> AsTyped | None:
    column = sweep.first.column("range full scale")
    if column and column.flow_at:
        return pressure_words(column.flow_at)
    return sweep.readings[0].shown.test_pressure or _need_flow_at(sheet, "range full scale")


def _need_flow_at(sheet: Sheet, name: str) -> AsTyped | None:
    if sheet.defaults.flow_at is None:
        sheet.need("flow_at", f"the sheet does not say at which pressure its {name} holds")
    return sheet.defaults.flow_at


def _known_only(
    sheet: Sheet, sweep: Sweep, known: Calibrations, metering: Metering
) -> Calibration | None:
    calibration = known.in_force(sweep.key.bench, sweep.key.date, metering)
    if calibration is None:
        _refuse(
            sheet,
            sweep,
            "meter pressure",
            f"bench {sweep.key.bench} has no {metering} calibration",
            "Record the bench's calibration first.",
        )
    return calibration


def _direct(sheet: Sheet, sweep: Sweep, known: Calibrations) -> Calibration | None:
    key, source = sweep.key, sheet.table.source
    column = sweep.first.column("flow")
    if column and column.flow_at:
        stated = direct_at(key.bench, key.date, pressure_words(column.flow_at), source)
        return known.state(stated)
    calibration = known.in_force(key.bench, key.date, Metering.DIRECT)
    if calibration is not None:
        return calibration if _has_pressure(sheet, sweep, calibration) else None
    as_shown = sheet.defaults.flow_as_shown
    if not as_shown and sheet.defaults.flow_at is None and _all(sweep, "test_pressure"):
        as_shown = True
        sheet.find(
            "flow-as-shown",
            f"{key.bench}: flow is taken as shown at the test pressure beside it.",
            "If the bench had converted it to another pressure, name that pressure in the heading "
            "(flow_cfm_28) or with the option flow_at.",
            Severity.NOTE,
        )
    reads_at = None if as_shown else _need_flow_at(sheet, "flow")
    if reads_at is None and not as_shown:
        return None
    stated = direct_at(key.bench, key.date, reads_at, source)
    return known.state(stated) if _has_pressure(sheet, sweep, stated) else None


def _has_pressure(sheet: Sheet, sweep: Sweep, calibration: Calibration) -> bool:
    """Flow as shown means nothing without the pressure it was shown at."""
    if calibration.reads_at is not None or _all(sweep, "test_pressure"):
        return True
    if not sheet.has("test pressure"):
        sheet.need("test_pressure", "neither the sheet nor the bench states the test pressure")
        return False
    _refuse(
        sheet,
        sweep,
        "test pressure",
        "the test pressure is missing",
        "Fill it in: flow as shown means nothing without it.",
    )
    return False
