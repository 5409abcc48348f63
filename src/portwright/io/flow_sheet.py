"""Flow sheets to runs: which metering, which calibration, what is missing."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from portwright.errors import Severity, Where
from portwright.io.calibrations import Calibrations
from portwright.io.checks import check_areas, check_range_flows
from portwright.io.flow_metering import sweep_calibration
from portwright.io.flow_rows import (
    Sweep,
    conditions_on,
    raw_reader,
    sweeps,
)  # fmt: skip
from portwright.io.merge import merge_stages, unique, unique_runs
from portwright.io.names import port_named, side_of
from portwright.io.sheet import Sheet
from portwright.model.bench import Bench, Calibration, Conditions, Metering
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Head, Port, Side
from portwright.model.job import Job, Measurement, Stage
from portwright.model.run import Reading, Run
from portwright.nomenclature import measurement_findings
from portwright.units import Kind, show


def read_flow_sheet(sheet: Sheet) -> ShopContents:
    """Runs, ports, stages and stated calibrations of a flow sheet."""
    found = sweeps(sheet.each(raw_reader(sheet)))
    calibrations = Calibrations(sheet.defaults.benches)
    jobs: dict[str, list[JobContents]] = {}
    for sweep in found:
        calibration = sweep_calibration(sheet, sweep, calibrations, found)
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
    _lift_findings(sheet, run)
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


def _lift_findings(sheet: Sheet, run: Run) -> None:
    """A lift no valve has is a slip of the unit or the decimal mark."""
    for reading in run.readings:
        lift = Measurement(run.port, "valve lift", reading.lift, stage=run.stage)
        sheet.findings += measurement_findings(lift)


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
