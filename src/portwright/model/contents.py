"""Everything a sheet, an export or a whole shop file holds, in one value."""

from __future__ import annotations

from dataclasses import dataclass, field

from portwright.model.bench import Bench, Calibration, PlateCheck
from portwright.model.engine_run import KeptEngineRun
from portwright.model.entry import JobEntry
from portwright.model.head import Cam, Casting, Head, Port
from portwright.model.job import Job, Measurement, Note, SheetRow, Shop, Stage
from portwright.model.run import Run


@dataclass(frozen=True, slots=True)
class JobContents:
    """One job with all that hangs on it.

    Parameters
    ----------
    job : Job
    heads, ports, stages, measurements, cams, rows, notes, entries, engine_runs, runs : tuple
    """

    job: Job
    heads: tuple[Head, ...] = ()
    ports: tuple[Port, ...] = ()
    stages: tuple[Stage, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    cams: tuple[Cam, ...] = ()
    rows: tuple[SheetRow, ...] = ()
    notes: tuple[Note, ...] = ()
    entries: tuple[JobEntry, ...] = ()
    engine_runs: tuple[KeptEngineRun, ...] = ()
    runs: tuple[Run, ...] = ()


@dataclass(frozen=True, slots=True)
class ShopContents:
    """A shop, or the part of it that one file describes.

    Parameters
    ----------
    shop : Shop or None
        None where the file says nothing about the shop itself.
    castings, benches, calibrations, plate_checks, jobs : tuple
    """

    shop: Shop | None = None
    castings: tuple[Casting, ...] = ()
    benches: tuple[Bench, ...] = ()
    calibrations: tuple[Calibration, ...] = ()
    plate_checks: tuple[PlateCheck, ...] = ()
    jobs: tuple[JobContents, ...] = ()
    source: str = field(default="")
