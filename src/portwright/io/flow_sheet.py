"""Flow sheets to runs: which metering, which calibration, what is missing."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from portwright.errors import Severity, Where
from portwright.io.calibrations import Calibrations, direct_at, percent_of_range
from portwright.io.checks import check_areas, check_range_flows
from portwright.io.flow_rows import (
    Sweep,
    conditions_on,
    pressure_words,
    raw_reader,
    sweeps,
)  # fmt: skip
from portwright.io.merge import merge_stages, unique, unique_runs
from portwright.io.names import port_named, side_of
from portwright.io.sheet import Refusal, Sheet
from portwright.model.bench import Bench, Calibration, Conditions, Metering, MeterRange
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Head, Port, Side
from portwright.model.job import Job, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.units import Kind, show


def read_flow_sheet(sheet: Sheet) -> ShopContents:
    """Runs, ports, stages and stated calibrations of a flow sheet."""
    found = sweeps(sheet.each(raw_reader(sheet)))
    calibrations = Calibrations(sheet.defaults.benches)
    jobs: dict[str, list[JobContents]] = {}
    for sweep in found:
        calibration = _calibration(sheet, sweep, calibrations, found)
        if calibration is not None:
            jobs.setdefault(sweep.key.job, []).append(_job_with_run(sheet, sweep, calibration))
    check_areas(sheet)
    check_range_flows(sheet)
    _missing(sheet, [run for parts in jobs.values() for part in parts for run in part.runs])
    known = {bench.bench.code for bench in sheet.defaults.benches} | {""}
    benches = dict.fromkeys(s.key.bench for s in found if s.key.bench not in known)
    return ShopContents(
        benches=tuple(Bench(code) for code in benches),
        calibrations=tuple(calibrations.stated),
        jobs=tuple(_whole_job(parts) for parts in jobs.values()),
    )


def _whole_job(parts: list[JobContents]) -> JobContents:
    return JobContents(
        parts[0].job,
        heads=unique((h for part in parts for h in part.heads), lambda h: h.code),
        ports=unique((p for part in parts for p in part.ports), lambda p: p.code),
        stages=merge_stages((), [s for part in parts for s in part.stages]),
        runs=unique_runs(run for part in parts for run in part.runs),
    )


def _calibration(
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
    reads_at = None if sheet.defaults.flow_as_shown else _need_flow_at(sheet, "flow")
    if reads_at is None and not sheet.defaults.flow_as_shown:
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


def _job_with_run(sheet: Sheet, sweep: Sweep, calibration: Calibration) -> JobContents:
    key, first = sweep.key, sweep.first
    port = port_named(sheet, key.port, first.text("head")) if key.port else None
    readings = tuple(_reading(raw.shown, calibration.metering) for raw in sweep.readings)
    run = Run(
        code=key.code,
        job=key.job,
        port=key.port,
        stage=key.stage,
        bench=key.bench,
        calibration=calibration.version,
        method=sheet.defaults.method,
        repeat=key.repeat,
        date=key.date,
        time=first.text("time"),
        conditions=_conditions(sheet, sweep, port),
        readings=readings,
        note=first.text("note"),
    )
    _order_finding(sheet, run)
    return JobContents(
        Job(key.job, casting=sheet.defaults.casting),
        heads=(Head(port.head, sheet.defaults.casting),) if port and port.head else (),
        ports=(port,) if port else (),
        stages=(Stage(key.stage, first.text("stage note")),) if key.stage else (),
        runs=(run,),
    )


def _reading(shown: Reading, metering: Metering) -> Reading:
    """What the bench's metering shows; figures worked out from it are left behind."""
    by_range = metering is Metering.PERCENT_OF_RANGE
    direct = metering is Metering.DIRECT
    return replace(
        shown,
        flow=shown.flow if direct else None,
        percent=shown.percent if by_range else None,
        range_number=shown.range_number if by_range else None,
        meter_pressure=None if direct or by_range else shown.meter_pressure,
    )


def _conditions(sheet: Sheet, sweep: Sweep, port: Port | None) -> Conditions:
    said = conditions_on(sweep.first)
    benches = {b.bench.code: b.bench for b in sheet.defaults.benches}
    bench = benches.get(sweep.key.bench)
    if not sheet.defaults.conditions_from_bench or bench is None or port is None:
        return said
    intake = port.side is Side.INTAKE
    return replace(
        said,
        bore_adapter=said.bore_adapter or str(bench.bore_adapter or ""),
        adapter_length=said.adapter_length or str(bench.adapter_length or ""),
        inlet_aid=said.inlet_aid or (bench.inlet_aid if intake else "none"),
        exhaust_stub=said.exhaust_stub or ("none" if intake else bench.exhaust_stub),
    )


def _order_finding(sheet: Sheet, run: Run) -> None:
    lifts = [reading.lift.si for reading in run.readings]
    if lifts in (sorted(lifts), sorted(lifts, reverse=True)):
        return
    at = next(i for i in range(1, len(lifts)) if lifts[i] < lifts[i - 1])
    sheet.find(
        "lifts-out-of-order",
        f"{run.code}: after {show(lifts[at - 1], 'mm', Kind.LENGTH)} mm comes "
        f"{show(lifts[at], 'mm', Kind.LENGTH)} mm.",
        "Kept in the order taken; check that no lift was mistyped.",
        Severity.NOTE,
        Where(job=run.job, run=run.code, port=run.port, stage=run.stage, lift=lifts[at]),
    )


def _missing(sheet: Sheet, runs: list[Run]) -> None:
    """One finding for each condition that runs of this sheet do not state."""
    missing: Counter[str] = Counter()
    for run in runs:
        if not run.date:
            missing["date"] += 1
        if not run.stage:
            missing["stage"] += 1
        if any(reading.test_pressure is None for reading in run.readings):
            missing["test pressure"] += 1
        aid = "exhaust_stub" if side_of(run.port) is Side.EXHAUST else "inlet_aid"
        for name in ("bore_adapter", aid, "plug", "valve"):
            missing[name.replace("_", " ")] += not getattr(run.conditions, name)
    for name, count in missing.items():
        if count:
            sheet.find(
                "missing-condition",
                f"{name} is not recorded for {count} of {len(runs)} runs.",
                "Say it when importing, or add a column; unstated conditions weaken a comparison.",
                Severity.NOTE,
            )
