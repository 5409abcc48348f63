"""Raw readings to effective area, by the run's own calibration and chosen method."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from portwright import units
from portwright.core.air import REFERENCE_AIR, dynamic_viscosity, moist_air_density
from portwright.core.bench import LeakTreatment, effective_area, leak_corrected
from portwright.core.curve import Array, FlowCurve, make_curve
from portwright.core.flow_element import (
    CalibrationTable,
    plate_corrected,
    table_flow,
    viscosity_factor,
)
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import (
    REFERENCE_DENSITY,
    FlowMeaning,
    RangeScale,
    direct_flow,
    orifice_flow,
    percent_of_range_flow,
    pipe_orifice_flow,
    temperature_factor,
)
from portwright.core.orifice import Taps
from portwright.errors import Finding, InputError, RangeError, Severity, UnknownNameError, Where
from portwright.model.bench import Calibration, Metering
from portwright.model.method import METHODS, ReductionMethod
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.units import Kind

_PRIMARY = {
    Metering.DIRECT: ("flow", Kind.FLOW),
    Metering.PERCENT_OF_RANGE: ("percent", Kind.RATIO),
    Metering.ORIFICE_PLATE: ("meter_pressure", Kind.PRESSURE),
    Metering.ORIFICE_ISO: ("meter_pressure", Kind.PRESSURE),
    Metering.FLOW_ELEMENT: ("meter_pressure", Kind.PRESSURE),
}
_FULL_STEP = 12.0**-0.5  # standard uncertainty of a value rounded to one step


@dataclass(frozen=True, slots=True, eq=False)
class ReducedRun:
    """One run as effective area.

    Parameters
    ----------
    run : Run
        Raw data it came from.
    curve : FlowCurve or None
        Lifts in rising order; None when fewer than two readings could be used.
    pressure : ndarray, shape (n,)
        Test pressure the areas belong to. [Pa]
    temperature : ndarray, shape (n,)
        Air at the head, NaN where not recorded. [K]
    order : ndarray of int, shape (n,)
        Place of each lift's reading in ``run.readings``. [-]
    calibration : Calibration
    method : ReductionMethod
    findings : tuple of Finding
        What the reduction itself noticed.
    """

    run: Run
    curve: FlowCurve | None
    pressure: Array
    temperature: Array
    order: NDArray[np.int64]
    calibration: Calibration
    method: ReductionMethod
    findings: tuple[Finding, ...] = ()


def method_named(name: str) -> ReductionMethod:
    """Method by its stored name.

    Raises
    ------
    UnknownNameError
    """
    for method in METHODS:
        if method.name == name:
            return method
    raise UnknownNameError("reduction method", name, (m.name for m in METHODS))


def reduce_runs(
    runs: Iterable[Run], calibrations: Iterable[Calibration], method: str | None = None
) -> list[ReducedRun]:
    """Reduce many runs at once, all readings of a calibration and method in one pass.

    Parameters
    ----------
    runs : iterable of Run
    calibrations : iterable of Calibration
        Must hold the version each run names.
    method : str, optional
        Use this method for all runs instead of the one stored with each.

    Returns
    -------
    list of ReducedRun
        In the order of ``runs``.

    Raises
    ------
    UnknownNameError
        A run names a calibration or method that does not exist.
    """
    known = {c.key: c for c in calibrations}
    ordered = list(runs)

    def key(run: Run) -> tuple[str, str]:
        return f"{run.bench} calibration {run.calibration}", method or run.method

    results: list[ReducedRun | None] = [None] * len(ordered)
    indexed = sorted(range(len(ordered)), key=lambda i: key(ordered[i]))
    for (calibration_key, method_name), group in groupby(indexed, key=lambda i: key(ordered[i])):
        if calibration_key not in known:
            raise UnknownNameError("calibration", calibration_key, known)
        members = list(group)
        reduced = _reduce_group(
            [ordered[i] for i in members], known[calibration_key], method_named(method_name)
        )
        for place, result in zip(members, reduced, strict=True):
            results[place] = result
    return [r for r in results if r is not None]


def _si(values: Sequence[AsTyped | None]) -> Array:
    return np.array([np.nan if v is None else v.si for v in values])


def _reduce_group(
    runs: Sequence[Run], calibration: Calibration, method: ReductionMethod
) -> list[ReducedRun]:
    readings = [reading for run in runs for reading in run.readings]
    name, kind = _PRIMARY[calibration.metering]
    shown = [getattr(r, name) for r in readings]
    primary = _si(shown)
    if name == "meter_pressure":
        primary -= np.nan_to_num(_si([r.meter_pressure_zero for r in readings]))
    pressure = _test_pressure(readings, calibration)
    temperature = _si([r.air_temperature for r in readings])
    usable = np.isfinite(primary) & np.isfinite(pressure) & (pressure > 0.0) & (primary >= 0.0)
    safe = np.where(usable, pressure, 1.0)
    flow = _flow(np.where(usable, primary, 0.0), readings, calibration, safe)
    if method.meter_air == "measured":
        meter = _si([r.meter_temperature for r in readings])
        both = np.isfinite(temperature) & np.isfinite(meter)
        factor = temperature_factor(np.where(both, temperature, 1.0), np.where(both, meter, 1.0))
        flow = flow * np.where(both, factor, 1.0)
    if method.meter_air == "viscosity" and calibration.metering is Metering.FLOW_ELEMENT:
        flow = flow * _laminar(readings, temperature)
    leak = _si([r.leak for r in readings]) / jet_velocity(REFERENCE_DENSITY, safe)
    area = effective_area(np.where(np.isfinite(flow), flow, 0.0), safe)
    if method.leak == "subtract":
        area = leak_corrected(area, np.nan_to_num(leak), LeakTreatment.SUBTRACT)
    usable &= np.isfinite(flow) & np.isfinite(area) & (area > 0.0)
    columns = _Columns(
        usable=usable,
        lift=_si([r.lift for r in readings]),
        area=area,
        resolution=_resolution(shown, primary, kind),
        scatter=_si([r.scatter for r in readings]),
        leak=leak,
        range_number=np.array([r.range_number or 0 for r in readings], dtype=np.int64),
        pressure=pressure,
        temperature=temperature,
    )
    out, start = [], 0
    for run in runs:
        stop = start + len(run.readings)
        out.append(_one(run, columns, slice(start, stop), calibration, method))
        start = stop
    return out


def _test_pressure(readings: Sequence[Reading], calibration: Calibration) -> Array:
    """Pressure the shown flow belongs to, less what the gauge shows with the air off.

    A bench that states its flow at a fixed pressure has converted it already, whatever the
    pressure in the plenum was.
    """
    zero = np.nan_to_num(_si([r.test_pressure_zero for r in readings]))
    recorded = _si([r.test_pressure for r in readings]) - zero
    if calibration.reads_at is None:
        return recorded
    stated = np.full(len(readings), calibration.reads_at.si)
    if calibration.metering is Metering.DIRECT:
        return stated
    return np.where(np.isfinite(recorded), recorded, stated)


def _flow(
    primary: Array, readings: Sequence[Reading], calibration: Calibration, pressure: Array
) -> Array:
    """Volume flow in reference air for the bench's own kind of metering. [m3/s]"""
    density = _head_air(readings).density
    match calibration.metering:
        case Metering.DIRECT:
            if calibration.table:
                primary = plate_corrected(primary, _table(calibration))
            return direct_flow(primary, FlowMeaning(calibration.flow_air), density)
        case Metering.PERCENT_OF_RANGE:
            scales = {r.number: r.full_scale.si for r in calibration.ranges}
            full = np.array([scales.get(r.range_number or 0, np.nan) for r in readings])
            reads_at = calibration.reads_at.si if calibration.reads_at else np.nan
            at = np.where(np.isfinite(pressure), reads_at, pressure)
            known = np.isfinite(full)
            flow = percent_of_range_flow(
                primary, np.where(known, full, 1.0), at, pressure, RangeScale.SQUARE_ROOT
            )
            return np.where(known, flow, np.nan)
        case Metering.FLOW_ELEMENT:
            flow = table_flow(primary, _table(calibration))
            return direct_flow(flow, FlowMeaning(calibration.flow_air), density)
        case Metering.ORIFICE_PLATE | Metering.ORIFICE_ISO:
            return _orifice(primary, readings, calibration, pressure)
    raise InputError(f"Unknown metering {calibration.metering}.")  # pragma: no cover


def _laminar(readings: Sequence[Reading], at_head: Array) -> Array:
    """What a laminar element passes in its air, over what its table says for reference air. [-]"""
    meter = _si([r.meter_temperature for r in readings])
    air = np.where(np.isfinite(meter), meter, at_head)
    usual = REFERENCE_AIR.temperature
    air = np.where(np.isfinite(air), air, usual)
    return viscosity_factor(dynamic_viscosity(usual), dynamic_viscosity(air))


def _table(calibration: Calibration) -> CalibrationTable:
    return CalibrationTable(
        np.array([p.indicated.si for p in calibration.table]),
        np.array([p.flow.si for p in calibration.table]),
    )


def _orifice(
    drop: Array, readings: Sequence[Reading], calibration: Calibration, pressure: Array
) -> Array:
    orifice = calibration.orifice
    if orifice is None:
        raise InputError(
            f"{calibration.key} meters with an orifice but has no bore.", "Enter its geometry."
        )
    head = _head_air(readings)
    measured = _si([r.meter_temperature for r in readings])
    # The plate sits behind the head, so it draws from the plenum.
    meter = _Air(
        head.pressure - pressure,
        np.where(np.isfinite(measured), measured, head.temperature),
        head.humidity,
    )
    if calibration.metering is Metering.ORIFICE_PLATE:
        return orifice_flow(
            drop,
            orifice.bore.si,
            orifice.coefficient or np.nan,
            meter_pressure=meter.pressure,
            meter_density=meter.density,
            head_density=head.density,
        )
    if orifice.pipe is None:
        raise InputError(f"{calibration.key} needs the pipe diameter.", "Enter its geometry.")
    return pipe_orifice_flow(
        drop,
        orifice.pipe.si,
        orifice.bore.si,
        Taps(orifice.taps),
        meter_pressure=meter.pressure,
        meter_density=meter.density,
        meter_viscosity=dynamic_viscosity(meter.temperature),
        head_density=head.density,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Air:
    """Air at one place for every reading: pressure [Pa], temperature [K], humidity [-]."""

    pressure: Array
    temperature: Array
    humidity: Array

    @property
    def density(self) -> Array:
        return moist_air_density(self.pressure, self.temperature, self.humidity)


def _head_air(readings: Sequence[Reading]) -> _Air:
    """Air at the head; reference air where it was not recorded."""

    def filled(values: Array, default: float) -> Array:
        return np.where(np.isfinite(values), values, default)

    return _Air(
        filled(_si([r.barometer for r in readings]), REFERENCE_AIR.pressure),
        filled(_si([r.air_temperature for r in readings]), REFERENCE_AIR.temperature),
        filled(_si([r.humidity for r in readings]), REFERENCE_AIR.relative_humidity),
    )


def _resolution(shown: Sequence[AsTyped | None], values: Array, kind: Kind) -> Array:
    """Relative standard uncertainty from the last digit typed. [-]"""
    steps = np.array(
        [
            np.nan if v is None else units.spread_to_si(units.last_digit(v.text), v.unit, kind)
            for v in shown
        ]
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        relative: Array = np.where(values > 0.0, steps / values, np.nan) * _FULL_STEP
    # flow goes with the root of a meter pressure
    return relative * 0.5 if kind is Kind.PRESSURE else relative


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """Readings of a whole group side by side."""

    usable: NDArray[np.bool_]
    lift: Array
    area: Array
    resolution: Array
    scatter: Array
    leak: Array
    range_number: NDArray[np.int64]
    pressure: Array
    temperature: Array


def _one(
    run: Run, columns: _Columns, rows: slice, calibration: Calibration, method: ReductionMethod
) -> ReducedRun:
    where = Where(job=run.job, run=run.code, port=run.port, stage=run.stage, repeat=run.repeat)
    findings: list[Finding] = []
    keep = np.flatnonzero(columns.usable[rows])
    lost = np.flatnonzero(~columns.usable[rows])
    if lost.size:
        lifts = ", ".join(str(run.readings[i].lift) for i in lost)
        findings.append(
            Finding(
                "reading-not-usable",
                Severity.WARNING,
                f"No flow can be worked out at {lifts}.",
                f"{calibration.key} is {calibration.metering.value}: check that the sheet has "
                "that reading and the test pressure.",
                where,
                size=float(lost.size),
            )
        )
    order = keep[np.argsort(columns.lift[rows][keep], kind="stable")]
    pick = order + rows.start
    curve = None
    if order.size >= 2:
        try:
            curve = make_curve(
                columns.lift[pick],
                columns.area[pick],
                resolution=columns.resolution[pick],
                scatter=columns.scatter[pick],
                leak=columns.leak[pick],
                range_number=columns.range_number[pick],
            )
        except RangeError as error:
            findings.append(Finding("sweep-not-usable", Severity.FAULT, error.message, "", where))
    else:
        findings.append(
            Finding(
                "sweep-too-short",
                Severity.WARNING,
                f"Only {order.size} reading can be used; a sweep needs two or more lifts.",
                "Finish the sweep.",
                where,
            )
        )
    return ReducedRun(
        run=run,
        curve=curve,
        pressure=columns.pressure[pick],
        temperature=columns.temperature[pick],
        order=order.astype(np.int64),
        calibration=calibration,
        method=method,
        findings=tuple(findings),
    )


def by_code(reduced: Iterable[ReducedRun]) -> Mapping[str, ReducedRun]:
    """Reduced runs by run code."""
    return {r.run.code: r for r in reduced}
