"""A flow sheet to effective area at once, without storing it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from portwright import units
from portwright.core.bench import PressureLaw, flow_from_area, isentropic_area
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.core.uncertainty import sweep_budget
from portwright.errors import Finding, InputError
from portwright.io.sheet import Refusal
from portwright.model.bench import Calibration
from portwright.model.quantity import AsTyped
from portwright.services.importing import ImportChoices, read_sheet, usual_calibrations
from portwright.services.reduce import ReducedRun, method_named, reduce_runs
from portwright.services.shop_file import default_path, is_there, open_shop
from portwright.units import Kind


@dataclass(frozen=True, slots=True)
class ReducedRow:
    """One lift of a reduced sweep, in SI.

    Parameters
    ----------
    lift : float
        [m]
    area : float
        Effective area at the test pressure of the reading. [m2]
    isentropic_area : float
        Area of a compressible nozzle of the same mass flow. [m2]
    flow, flow_square_root : float
        At the shown pressure, by the method's law and by the plain square root. [m3/s]
    relative_uncertainty : float
        Standard uncertainty of the area, bench calibration included. [-]
    """

    lift: float
    area: float
    isentropic_area: float
    flow: float
    flow_square_root: float
    relative_uncertainty: float


@dataclass(frozen=True, slots=True)
class ReducedSweep:
    """One run of the sheet."""

    code: str
    port: str
    stage: str
    rows: tuple[ReducedRow, ...]


@dataclass(frozen=True, slots=True)
class ReducedSheet:
    """A whole sheet."""

    method: str
    pressure: AsTyped
    runs: tuple[ReducedSweep, ...]
    refused: tuple[Refusal, ...]
    findings: tuple[Finding, ...]


def reduce_sheet(
    file: Path,
    choices: ImportChoices,
    *,
    method: str = "standard-1",
    show_at: str = "28 inH2O",
    shop: Path | None = None,
) -> ReducedSheet:
    """Read a flow sheet and reduce every run on it.

    Parameters
    ----------
    choices : ImportChoices
        What the sheet does not say itself.
    show_at : str
        Test pressure with unit at which flow is shown.
    shop : Path, optional
        Shop file whose bench calibrations apply; those on the sheet, else direct reading.

    Raises
    ------
    ImportFileError, InputError
    """
    chosen = method_named(method)
    pressure = units.read(show_at, Kind.PRESSURE, "inH2O")
    contents, refused, findings = read_sheet(file, choices)
    runs = [run for job in contents.jobs for run in job.runs]
    if not runs:
        raise InputError(
            f"{file.name} holds no sweep.", "A flow sheet needs a lift column and a flow column."
        )
    known: list[Calibration] = []
    if shop is not None or is_there(default_path()):
        with open_shop(shop) as archive:
            known = archive.calibrations()
    calibrations = usual_calibrations(contents, known)
    reduced = reduce_runs(runs, calibrations, method)
    law = PressureLaw(chosen.pressure_law)
    sweeps = tuple(_sweep(r, pressure.si, law) for r in reduced)
    noticed = (*findings, *(f for r in reduced for f in r.findings))
    return ReducedSheet(method, pressure, sweeps, refused, noticed)


def _sweep(item: ReducedRun, pressure: float, law: PressureLaw) -> ReducedSweep:
    run, curve = item.run, item.curve
    if curve is None:
        return ReducedSweep(run.code, run.port, run.stage, ())
    budget = sweep_budget(
        curve,
        SHOP_DEFAULT,
        sweep=run.code,
        bench=run.bench,
        calibration=item.calibration.key,
        calibration_uncertainty=item.calibration.relative_uncertainty,
    )
    deviation = np.asarray(budget.combined(), dtype=np.float64)
    flow = flow_from_area(curve.area, item.pressure, pressure, law=law)
    root = flow_from_area(curve.area, item.pressure, pressure, law=PressureLaw.SQUARE_ROOT)
    isentropic = isentropic_area(curve.area, item.pressure)
    return ReducedSweep(
        run.code,
        run.port,
        run.stage,
        tuple(
            ReducedRow(*(float(v) for v in row))
            for row in zip(curve.lift, curve.area, isentropic, flow, root, deviation, strict=True)
        ),
    )
