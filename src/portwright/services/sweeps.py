"""Reduced runs with their conditions, as the checks and comparisons want them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.detection.sweeps import Side as CoreSide
from portwright.core.detection.sweeps import SweepRecord
from portwright.core.valve import curtain_area, minimum_area, net_throat_area
from portwright.errors import Where
from portwright.model.bench import Conditions
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.run import Run
from portwright.services.reduce import ReducedRun
from portwright.services.valves import assumed, valve_at

# What changes the flow on purpose; runs that differ here are not repeats of each other.
_CHANGES_FLOW = ("bore_adapter", "inlet_aid", "exhaust_stub", "plug", "configuration", "direction")


def configuration(conditions: Conditions) -> str:
    """Everything mounted that changes the flow, as one line."""
    parts = [getattr(conditions, name) for name in _CHANGES_FLOW]
    return "; ".join(p for p in parts if p and p != "forward")


def session_of(run: Run) -> str:
    """Session at the bench a run belongs to: its day, or its stage where no day is noted."""
    return run.date or f"{run.job} {run.stage}"


def missing_conditions(run: Run, side: Side | None) -> tuple[str, ...]:
    """Conditions the run's sheet does not state."""
    aid = "exhaust_stub" if side is Side.EXHAUST else "inlet_aid"
    names = ("bore_adapter", aid, "plug", "valve", "lift_reference")
    missing = [n.replace("_", " ") for n in names if not getattr(run.conditions, n)]
    if all(r.test_pressure is None for r in run.readings):
        missing.insert(0, "test pressure")
    return tuple(missing)


def port_named(contents: JobContents, code: str) -> Port | None:
    """Port of a job by code."""
    return next((p for p in contents.ports if p.code == code), None)


def where_of(run: Run) -> Where:
    """Place of a run in findings."""
    return Where(job=run.job, run=run.code, port=run.port, stage=run.stage, repeat=run.repeat)


def sweep_record(reduced: ReducedRun, contents: JobContents, order: float) -> SweepRecord | None:
    """One reduced run with its context, None where it has no usable curve."""
    curve, run = reduced.curve, reduced.run
    if curve is None:
        return None
    port = port_named(contents, run.port)
    side: CoreSide = "" if port is None else ("intake" if port.side is Side.INTAKE else "exhaust")
    shape = valve_at(contents, run.port, run.stage)
    curtain = throat = least = np.array(math.nan)
    if shape is not None:
        curtain = curtain_area(shape, curve.lift)
        if not {"throat diameter", "stem diameter"} & set(assumed(contents, run.port, run.stage)):
            throat = np.full(curve.lift.shape, float(net_throat_area(shape)))
            least = minimum_area(shape, curve.lift)
    return SweepRecord(
        curve=curve,
        where=where_of(run),
        side=side,
        port=run.port,
        stage=run.stage,
        bench=f"{run.bench} {run.calibration}",
        # siblings are repeats of one session; between sessions the bench itself shifts
        configuration=f"{configuration(run.conditions)}; {session_of(run)}",
        air_temperature=reduced.temperature,
        test_pressure=_recorded_pressure(reduced),
        day=run.date,
        order=order,
        valve_diameter=math.nan if shape is None else shape.head_diameter,
        curtain_area=curtain,
        net_throat_area=throat,
        minimum_area=least,
    )


def _recorded_pressure(reduced: ReducedRun) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    readings = [reduced.run.readings[i] for i in reduced.order]
    return np.array([r.test_pressure.si if r.test_pressure else math.nan for r in readings])


def sweep_records(reduced: Sequence[ReducedRun], contents: JobContents) -> list[SweepRecord]:
    """Records of all usable runs of a job, numbered in the order they were made."""
    ordered = sorted(reduced, key=lambda r: (r.run.date, r.run.time, r.run.code))
    records = (sweep_record(r, contents, float(i)) for i, r in enumerate(ordered))
    return [r for r in records if r is not None]


@dataclass(frozen=True, slots=True)
class RepeatKey:
    """What repeats of one port in one state on one bench share."""

    bench: str
    calibration: int
    port: str
    stage: str
    configuration: str

    @classmethod
    def of(cls, run: Run) -> RepeatKey:
        """Key of a run."""
        return cls(run.bench, run.calibration, run.port, run.stage, configuration(run.conditions))


def repeat_groups(reduced: Sequence[ReducedRun]) -> dict[RepeatKey, list[ReducedRun]]:
    """Usable runs by what they repeat, a person's exclusions left out."""
    groups: dict[RepeatKey, list[ReducedRun]] = {}
    for item in reduced:
        if item.curve is not None and not item.run.left_out:
            groups.setdefault(RepeatKey.of(item.run), []).append(item)
    return groups
