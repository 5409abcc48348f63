"""Did that cut do anything: any runs of a shop against each other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.bench import PressureLaw, flow_from_area
from portwright.core.cam import LiftTable
from portwright.core.comparison import Comparison, Sweep, compare
from portwright.core.curve import FlowCurve, make_curve
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.errors import Finding, InputError, Severity, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.head import Cam, Side
from portwright.model.run import Run
from portwright.services.findings import CheckedJob, check_job
from portwright.services.reduce import ReducedRun, method_named
from portwright.services.sweeps import RepeatKey, missing_conditions, port_named, session_of
from portwright.services.valves import valve_at
from portwright.units import Kind, to_si

_USUAL_PRESSURE = to_si(28.0, "inH2O", Kind.PRESSURE)
# Moving a flow between test pressures: standard uncertainty, common practice says 1.5 % at 95 %.
_MOVED_PRESSURE = 0.0075
_SAME_PRESSURE = 0.02


@dataclass(frozen=True, slots=True)
class RunGroup:
    """One side of a comparison.

    Parameters
    ----------
    label : str
        How people call it: "I1 S0".
    job, port, stage, bench : str
    side : Side or None
    runs : tuple of str
        Run codes used.
    left_out : dict of str to str
        Run codes not used, with the cause.
    conditions : dict of str to str
        What was mounted, as recorded.
    """

    label: str
    job: str
    port: str
    stage: str
    bench: str
    side: Side | None
    runs: tuple[str, ...]
    left_out: dict[str, str]
    conditions: dict[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class RunComparison:
    """A comparison with what it compared.

    Parameters
    ----------
    before, after : RunGroup
    result : Comparison
    pressure : float
        Test pressure at which flow is shown. [Pa]
    law : PressureLaw
        How flow is moved there.
    cam : str
        Card of the cam behind the time-at-lift mean, "" for none.
    findings : tuple of Finding
    """

    before: RunGroup
    after: RunGroup
    result: Comparison
    pressure: float
    law: PressureLaw
    cam: str
    findings: tuple[Finding, ...]

    @property
    def translated(self) -> bool:
        """Whether the earlier side is shown as the bench of the later would read it."""
        return any(f.code == "translated" for f in self.findings)

    def flow(self, area: float) -> float:
        """Flow an area of this comparison means at its pressure. [m3/s]"""
        return area * float(jet_velocity(REFERENCE_DENSITY, self.pressure))


def find_group(archive: Archive, name: str, job: str = "") -> tuple[str, Run | None, str, str]:
    """Understand a name: a run code, "JOB/RUN", or "PORT:STAGE" of a job.

    Returns
    -------
    tuple
        Job number, the named run or None, port, stage.
    """
    if ":" in name:
        place, _, stage = name.rpartition(":")
        named_job, _, port = place.rpartition("/")
        number = named_job or job
        if not number:
            raise InputError(f"'{name}' needs a job.", "Add --job NUMBER or write JOB/PORT:STAGE.")
        return number, None, port, stage
    run = archive.run(name if "/" in name or not job else f"{job}/{name}")
    return run.job, run, run.port, run.stage


def compare_names(
    archive: Archive,
    before: str,
    after: str,
    *,
    job: str = "",
    single: bool = False,
    cam: str | None = None,
) -> RunComparison:
    """Compare two runs or stages by name; see :func:`find_group`.

    A run stands for all repeats of its port and stage on its bench unless ``single`` is set or
    both runs are repeats of each other.

    Parameters
    ----------
    cam : str, optional
        Card of the job's cam; None takes the job's only cam if it has one, "" none.

    Raises
    ------
    UnknownNameError, InputError
    """
    sides = [find_group(archive, name, job) for name in (before, after)]
    checked = {number: check_job(archive, number) for number in {s[0] for s in sides}}
    runs = [s[1] for s in sides]
    if runs[0] and runs[1] and runs[0].job == runs[1].job:
        single = single or RepeatKey.of(runs[0]) == RepeatKey.of(runs[1])
    chosen = [
        choose(checked[number], run, port, stage, single=single)
        for number, run, port, stage in sides
    ]
    pressure = archive_pressure(archive)
    return compare_groups(
        (checked[sides[0][0]], chosen[0]), (checked[sides[1][0]], chosen[1]), pressure, cam
    )


def archive_pressure(archive: Archive) -> float:
    """Test pressure at which the shop shows flow. [Pa]"""
    shop = archive.shop()
    return shop.report_pressure.si if shop and shop.report_pressure else _USUAL_PRESSURE


def choose(
    checked: CheckedJob, run: Run | None, port: str, stage: str, *, single: bool = False
) -> list[ReducedRun]:
    """Runs that stand for a run or a stage: one, or all repeats, the faulty ones included.

    Raises
    ------
    UnknownNameError, InputError
    """
    if run is not None:
        key = RepeatKey.of(run)
        found = [
            r
            for r in checked.reduced
            if (r.run.code == run.code if single else RepeatKey.of(r.run) == key)
        ]
    else:
        found = [r for r in checked.reduced if (r.run.port, r.run.stage) == (port, stage)]
        if not found:
            names = {f"{r.run.port}:{r.run.stage}" for r in checked.reduced}
            raise UnknownNameError("port and stage with runs", f"{port}:{stage}", names)
        keys = {RepeatKey.of(r.run) for r in found}
        if len(keys) > 1:
            # the set-up with most sweeps is the one the stage was developed with
            sizes = {k: sum(RepeatKey.of(r.run) == k for r in found) for k in keys}
            best = max(keys, key=lambda k: (sizes[k], k.bench, k.configuration))
            found = [r for r in found if RepeatKey.of(r.run) == best]
    return found


def compare_groups(
    before: tuple[CheckedJob, Sequence[ReducedRun]],
    after: tuple[CheckedJob, Sequence[ReducedRun]],
    pressure: float,
    cam: str | None = None,
) -> RunComparison:
    """Compare chosen runs, leaving out the faulty ones and saying so.

    Raises
    ------
    InputError
        No sound run on a side, or an intake against an exhaust port.
    """
    law = pressure_law(before[1][0])
    groups, sweeps = [], []
    findings: list[Finding] = []
    for checked, runs in (before, after):
        sound, left_out = _sound(checked, runs)
        group = _group(checked.contents, runs, sound, left_out)
        groups.append(group)
        findings += _left_out_findings(group)
        if not sound:
            causes = "; ".join(f"{code}: {why}" for code, why in left_out.items())
            raise InputError(
                f"No sound sweep of {group.label} is left to compare. {causes}",
                "Sweep again, or compare single runs with --single.",
            )
        sweeps.append([_sweep(checked, r, pressure, law) for r in sound])
    findings += _difference_findings(groups[0], groups[1], before, after, pressure)
    shape = valve_at(after[0].contents, groups[1].port, groups[1].stage) or valve_at(
        before[0].contents, groups[0].port, groups[0].stage
    )
    table, card = _lift_table(after[0].contents.cams, groups[1].side, cam)
    result = compare(
        sweeps[0],
        sweeps[1],
        valve_diameter=shape.head_diameter if shape else None,
        cam=table,
    )
    if shape is None:
        findings.append(
            Finding(
                "valve-not-measured",
                Severity.NOTE,
                f"The valve of {groups[1].port} was not measured, so there are no lift bands.",
                "Enter the valve head diameter.",
            )
        )
    return RunComparison(
        groups[0], groups[1], result, pressure, law, card, (*findings, *result.findings)
    )


def _sound(
    checked: CheckedJob, runs: Sequence[ReducedRun]
) -> tuple[list[ReducedRun], dict[str, str]]:
    faulty = checked.faulty
    sound, left_out = [], {}
    for item in runs:
        code = item.run.code
        if item.run.left_out:
            left_out[code] = item.run.left_out
        elif item.curve is None:
            left_out[code] = "too few usable readings"
        elif code in faulty and len(runs) > 1:
            left_out[code] = faulty[code].message
        else:
            sound.append(item)
    return sound, left_out


def describe_group(checked: CheckedJob, runs: Sequence[ReducedRun]) -> RunGroup:
    """What a side of a comparison consists of, faulty sweeps named."""
    return _group(checked.contents, runs, *_sound(checked, runs))


def sweeps_of_group(
    checked: CheckedJob, runs: Sequence[ReducedRun], pressure: float
) -> list[Sweep]:
    """Sound sweeps of a side as the comparison takes them, at a test pressure [Pa]."""
    sound, _ = _sound(checked, runs)
    return [_sweep(checked, r, pressure, pressure_law(r)) for r in sound]


def pressure_law(item: ReducedRun) -> PressureLaw:
    """How the method of a sweep moves flow between test pressures."""
    return PressureLaw(method_named(item.run.method).pressure_law)


def _group(
    contents: JobContents,
    runs: Sequence[ReducedRun],
    sound: Sequence[ReducedRun],
    left_out: dict[str, str],
) -> RunGroup:
    run = (sound or runs)[0].run
    port = port_named(contents, run.port)
    c = run.conditions
    shown = {
        "bench": run.bench,
        "configuration": c.configuration,
        "bore adapter": c.bore_adapter,
        "inlet aid": c.inlet_aid,
        "exhaust stub": c.exhaust_stub,
        "plug": c.plug,
        "valve": c.valve,
        "lift reference": c.lift_reference,
        "direction": c.direction,
    }
    return RunGroup(
        label=f"{run.port} {run.stage}",
        job=run.job,
        port=run.port,
        stage=run.stage,
        bench=run.bench,
        side=port.side if port else None,
        runs=tuple(r.run.code for r in sound),
        left_out=left_out,
        conditions={k: v for k, v in shown.items() if v},
    )


def left_out_line(code: str, why: str) -> str:
    """Say why a run is not used, naming the run once."""
    return why if code in why else f"Run {code}: {why}"


def _left_out_findings(group: RunGroup) -> list[Finding]:
    return [
        Finding(
            "run-left-out",
            Severity.WARNING,
            f"Left out: {left_out_line(code, why)}",
            "Look at the run; take it back in if the cause does not apply.",
        )
        for code, why in group.left_out.items()
    ]


def _sweep(checked: CheckedJob, item: ReducedRun, pressure: float, law: PressureLaw) -> Sweep:
    if item.curve is None:  # pragma: no cover - callers pass sound runs
        raise InputError(f"Run {item.run.code} has no usable sweep.")
    curve, moved = at_pressure(item, item.curve, pressure, law)
    return Sweep(
        curve=curve,
        repeatability=checked.repeatability[item.run.bench],
        calibration=item.calibration.key,
        calibration_uncertainty=item.calibration.relative_uncertainty,
        session=session_of(item.run),
        air_uncertainty=_MOVED_PRESSURE if moved else 0.0,
    )


def at_pressure(
    item: ReducedRun, curve: FlowCurve, pressure: float, law: PressureLaw
) -> tuple[FlowCurve, bool]:
    """Curve as it would read at another test pressure, and whether it had to be moved."""
    if np.all(np.abs(item.pressure / pressure - 1.0) < 1e-9):
        return curve, False
    flow = flow_from_area(curve.area, item.pressure, pressure, law=law)
    area = flow / jet_velocity(REFERENCE_DENSITY, pressure)
    moved = make_curve(
        curve.lift,
        area,
        resolution=curve.resolution,
        scatter=curve.scatter,
        leak=curve.leak,
        range_number=curve.range_number,
    )
    return moved, bool(np.any(np.abs(item.pressure / pressure - 1.0) > _SAME_PRESSURE))


def _difference_findings(
    first: RunGroup,
    second: RunGroup,
    before: tuple[CheckedJob, Sequence[ReducedRun]],
    after: tuple[CheckedJob, Sequence[ReducedRun]],
    pressure: float,
) -> list[Finding]:
    if first.side and second.side and first.side is not second.side:
        raise InputError(
            f"{first.label} is an {first.side} port and {second.label} an {second.side} port.",
            "Compare ports of one side.",
        )
    found = []
    names = dict.fromkeys((*first.conditions, *second.conditions))
    for name in names:
        a, b = first.conditions.get(name, ""), second.conditions.get(name, "")
        if a != b and name != "bench":
            found.append(
                Finding(
                    "conditions-differ",
                    Severity.WARNING,
                    f"{name.capitalize()} differs: '{a or 'not recorded'}' before, "
                    f"'{b or 'not recorded'}' after.",
                    "Part of the difference may come from the set-up, not from the port.",
                )
            )
    missing = {
        name
        for group, (_, runs) in ((first, before), (second, after))
        for r in runs
        for name in missing_conditions(r.run, group.side)
    }
    if missing:
        found.append(
            Finding(
                "missing-condition",
                Severity.NOTE,
                f"Not recorded: {', '.join(sorted(missing))}.",
                "The comparison assumes they were the same both times.",
            )
        )
    pressures = {float(p) for _, runs in (before, after) for r in runs for p in r.pressure}
    if any(abs(p / pressure - 1.0) > _SAME_PRESSURE for p in pressures):
        found.append(
            Finding(
                "pressure-moved",
                Severity.NOTE,
                "Readings taken at another test pressure were moved to the shown one.",
                "Flow that separates at one pressure and not at the other is not covered.",
                size=_MOVED_PRESSURE,
            )
        )
    return found


def _lift_table(
    cams: Iterable[Cam], side: Side | None, wanted: str | None
) -> tuple[LiftTable | None, str]:
    usable = [c for c in cams if c.points]
    if wanted == "" or side is None or (wanted is None and len(usable) != 1):
        return None, ""
    cam = usable[0] if wanted is None else next((c for c in usable if c.card == wanted), None)
    if cam is None:
        raise UnknownNameError("cam", wanted or "", (c.card for c in usable))
    points = sorted(cam.points, key=lambda p: p.angle.si)
    lift = [p.intake_lift.si if side is Side.INTAKE else p.exhaust_lift.si for p in points]
    return LiftTable(np.array([p.angle.si for p in points]), np.array(lift)), cam.card
