"""Dyno sheets against the forecast."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.engine.learning import Agreement, agreement
from portwright.core.engine.power_correction import (
    CorrectionStandard,
    correction_standard,
    correction_standards,
)
from portwright.errors import Finding, InputError, NumberError, Severity, UnitError
from portwright.model.contents import JobContents
from portwright.model.job import SheetKind, SheetRow
from portwright.services.engine_factors import KeptFactor, is_invented, keep_factor
from portwright.services.engine_pool import Progress
from portwright.services.engine_run import EngineRun, run_engine
from portwright.services.jobs import today
from portwright.units import Kind, parse_number, to_si, unit

_COLUMN = re.compile(r"(torque|power)(?:_(before|after))?_(\w+)", re.IGNORECASE)
_RUN_STEP = 500.0
INVENTED = (
    "This dyno sheet belongs to a fictional job: its curves were drawn by hand and validate "
    "nothing. Where the forecast misses them, the drawing is as likely to be wrong. They are "
    "compared to show how it is done, and never count towards the shop's factor."
)


@dataclass(frozen=True, slots=True, eq=False)
class DynoCurves:
    """Torque off a dyno sheet.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        [rev/min]
    before, after : ndarray, shape (n,)
        NaN where the sheet has none. [N m]
    source : str
    """

    speed: Array
    before: Array
    after: Array
    source: str


@dataclass(frozen=True, slots=True)
class DynoAir:
    """Air of the dyno run, when its figures are as measured.

    Parameters
    ----------
    pressure, temperature : float
        Barometer and intake air. [Pa, K]
    humidity : float
        [-]
    """

    pressure: float
    temperature: float
    humidity: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class DynoComparison:
    """Dyno sheet against forecast, both corrected to the same air.

    Parameters
    ----------
    curves : DynoCurves
        Corrected.
    run : EngineRun
        The forecast, as calculated.
    standard : CorrectionStandard
    sheet_factor, forecast_factor : float
        Factors applied to sheet and forecast. [-]
    before, after, gain : Agreement or None
        Of torque with each head, and of the ratio after over before.
    invented : bool
    findings : tuple of Finding
    """

    curves: DynoCurves
    run: EngineRun
    standard: CorrectionStandard
    sheet_factor: float
    forecast_factor: float
    before: Agreement | None
    after: Agreement | None
    gain: Agreement | None
    invented: bool
    findings: tuple[Finding, ...]

    @property
    def factor(self) -> float:
        """Measured over forecast, both heads together. [-]"""
        known = [a for a in (self.before, self.after) if a is not None]
        weights = [a.points for a in known]
        return float(np.exp(np.average([np.log(a.factor) for a in known], weights=weights)))


def has_dyno_sheet(contents: JobContents) -> bool:
    """Whether a dyno sheet was read into a job."""
    return any(r.kind is SheetKind.DYNO for r in contents.rows)


def standards() -> list[str]:
    """Names of the standards of correction."""
    return [s.name for s in correction_standards()]


def dyno_curves(rows: Iterable[SheetRow]) -> DynoCurves:
    """Read torque over speed from the dyno rows of a job.

    A torque column counts; where there is only power, torque follows from it.

    Raises
    ------
    InputError
        No dyno rows, or columns that say neither torque nor power.
    """
    sheet = [r for r in rows if r.kind is SheetKind.DYNO]
    if not sheet:
        raise InputError("The job has no dyno sheet.", "Import one with rpm and torque columns.")
    found: dict[float, dict[str, float]] = {}
    for row in sheet:
        try:
            speed = parse_number(row.cells.get("rpm", ""))
        except NumberError:
            continue
        found.setdefault(speed, {}).update(_torques(row.cells, speed))
    if not any(found.values()):
        raise InputError(
            "The dyno sheet has no torque or power column with a unit.",
            "Name them like torque_before_Nm or power_after_kW.",
        )
    speeds = np.array(sorted(found))

    def curve(side: str) -> Array:
        return np.array([found[s].get(side, np.nan) for s in sorted(found)])

    return DynoCurves(speeds, curve("before"), curve("after"), sheet[0].source)


def _torques(cells: dict[str, str], speed: float) -> dict[str, float]:
    torque: dict[str, float] = {}
    from_power: dict[str, float] = {}
    for heading, text in cells.items():
        match = _COLUMN.fullmatch(heading)
        if match is None or not text.strip():
            continue
        kind = Kind.TORQUE if match[1].lower() == "torque" else Kind.POWER
        side = (match[2] or "after").lower()
        try:
            name = unit(match[3].replace("_", " "), kind).name
            value = to_si(parse_number(text), name, kind)
        except (UnitError, NumberError):
            continue
        if kind is Kind.TORQUE:
            torque[side] = value
        else:
            from_power[side] = value / (speed * np.pi / 30.0)
    return from_power | torque


def compare_dyno(
    archive: Archive,
    job: str,
    *,
    standard: str,
    air: DynoAir | None = None,
    before: str = "",
    after: str = "",
    port: str = "",
    samples: int = 12,
    workers: int | None = None,
    progress: Progress | None = None,
) -> DynoComparison:
    """Compare a job's dyno sheet with the forecast for its engine.

    Parameters
    ----------
    standard : str
        Correction standard; both sides are brought to its reference air.
    air : DynoAir, optional
        Air of the dyno run when the sheet is as measured; without it the sheet is taken as
        corrected by ``standard`` already.
    before, after, port, samples, workers, progress
        As in :func:`~portwright.services.engine_run.run_engine`.

    Raises
    ------
    InputError
        No usable dyno sheet.
    """
    chosen = correction_standard(standard)
    contents = archive.job(job)
    raw = dyno_curves(contents.rows)
    first = _RUN_STEP * np.floor(raw.speed[0] / _RUN_STEP)
    speeds = [float(v) for v in np.arange(first, raw.speed[-1] + _RUN_STEP, _RUN_STEP)]
    run = run_engine(
        archive,
        job,
        before=before,
        after=after,
        port=port,
        speeds=speeds,
        samples=samples,
        workers=workers,
        progress=progress,
        use_factor=False,
    )
    return compare_with(run, raw, chosen, air, invented=is_invented(contents))


def compare_with(
    run: EngineRun,
    raw: DynoCurves,
    standard: CorrectionStandard,
    air: DynoAir | None,
    *,
    invented: bool,
) -> DynoComparison:
    """Compare a dyno sheet with a forecast already made."""
    on_sheet = 1.0 if air is None else standard.factor(air.pressure, air.temperature, air.humidity)
    engine = run.heads.case.air
    ours = standard.factor(engine.exhaust_pressure, engine.temperature)
    curves = DynoCurves(raw.speed, raw.before * on_sheet, raw.after * on_sheet, raw.source)

    def at(values: Array) -> Array:
        return np.interp(raw.speed, run.speed, values, left=np.nan, right=np.nan)

    agreements = []
    for measured, head in ((curves.before, run.before), (curves.after, run.after)):
        middle, level = at(head.torque) * ours, at(head.level)
        agreements.append(
            agreement(measured, middle, middle * (1.0 - level), middle * (1.0 + level))
        )
    d = run.difference
    gain = agreement(
        curves.after / curves.before, 1.0 + at(d.gain), 1.0 + at(d.low), 1.0 + at(d.high)
    )
    if agreements[0] is None and agreements[1] is None:
        raise InputError("Dyno sheet and forecast share no speed.", "Check the rpm column.")
    return DynoComparison(
        curves=curves,
        run=run,
        standard=standard,
        sheet_factor=on_sheet,
        forecast_factor=ours,
        before=agreements[0],
        after=agreements[1],
        gain=gain,
        invented=invented,
        findings=(*_notes(standard, air, on_sheet, invented=invented), *run.findings),
    )


def _notes(
    standard: CorrectionStandard, air: DynoAir | None, factor: float, *, invented: bool
) -> list[Finding]:
    notes = list(standard.findings(factor)) if air is not None else []
    if invented:
        notes.append(Finding("invented-dyno-sheet", Severity.WARNING, INVENTED))
    if air is None:
        notes.append(
            Finding(
                "correction-not-stated",
                Severity.WARNING,
                f"The sheet does not say its air; it is taken as corrected by {standard.name}.",
                "Give barometer, temperature and humidity if the figures are as measured.",
            )
        )
    return notes


def keep(archive: Archive, found: DynoComparison) -> KeptFactor:
    """Keep what a comparison taught; invented data are kept but never count."""
    level = [a for a in (found.before, found.after) if a is not None]
    kept = KeptFactor(
        job=found.run.heads.description.job,
        date=today(),
        standard=found.standard.name,
        factor=found.factor,
        points=sum(a.points for a in level),
        hits=sum(a.hits for a in level),
        gain_points=found.gain.points if found.gain else 0,
        gain_hits=found.gain.hits if found.gain else 0,
        counts=not found.invented,
    )
    keep_factor(archive, kept)
    return kept
