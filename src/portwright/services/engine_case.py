"""The engine and both heads of a job as the simulation takes them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from portwright.core.air import REFERENCE_AIR
from portwright.core.comparison import Gain
from portwright.core.engine.case import BenchedPort, EngineCase, Head
from portwright.core.engine.section_share import least_filled_share, series_fit
from portwright.core.gas1d.bench import BenchCondition
from portwright.core.gas1d.ducts import Duct, plain_pipe
from portwright.core.gas1d.engine import Air, Collector, Fuel, Mechanics, Plenum
from portwright.core.valve import ValveShape, minimum_area
from portwright.errors import Finding, InputError, PortwrightError, Severity, Where
from portwright.model.contents import JobContents
from portwright.model.engine import EngineDescription, Grouping, Induction
from portwright.model.head import Port, Side
from portwright.services.compare import choose, compare_groups
from portwright.services.engine_cam import lift_curve
from portwright.services.engine_description import describe_engine
from portwright.services.engine_ports import (
    PortCurve,
    PortShape,
    engine_port,
    partner,
    port_curve,
    port_shape,
)
from portwright.services.engine_runner import runner_duct
from portwright.services.findings import CheckedJob
from portwright.services.overview import stages_of
from portwright.services.valves import valve_at

_PRIMARY_WALL = 650.0  # [K], from memory
_SINGLE_DEVIATION = 0.01  # of a gain that cannot be worked out


@dataclass(frozen=True, slots=True, eq=False)
class HeadState:
    """One stage of the head, ready to run.

    Parameters
    ----------
    stage, intake_port, exhaust_port : str
    head : Head
    intake_shape, exhaust_shape : PortShape
    exhaust_valve : ValveShape or None
    intake_runs, exhaust_runs : tuple of str
    bench_uncertainty : float
        Relative standard uncertainty of the bench. [-]
    """

    stage: str
    intake_port: str
    exhaust_port: str
    head: Head
    intake_shape: PortShape
    exhaust_shape: PortShape
    exhaust_valve: ValveShape | None
    intake_runs: tuple[str, ...]
    exhaust_runs: tuple[str, ...]
    bench_uncertainty: float


@dataclass(frozen=True, slots=True, eq=False)
class TwoHeads:
    """Both heads on one engine.

    Parameters
    ----------
    description : EngineDescription
    case : EngineCase
    before, after : HeadState
    intake_deviation, exhaust_deviation : float
        Standard uncertainty of the gain in flow from before to after. [-]
    findings : tuple of Finding
    """

    description: EngineDescription
    case: EngineCase
    before: HeadState
    after: HeadState
    intake_deviation: float
    exhaust_deviation: float
    findings: tuple[Finding, ...]


def two_heads(checked: CheckedJob, pressure: float, port: str, before: str, after: str) -> TwoHeads:
    """Gather engine and heads.

    Parameters
    ----------
    checked : CheckedJob
    pressure : float
        Test pressure to which the bench curves are moved. [Pa]
    port : str
        Intake port; its cylinder stands for all.
    before, after : str
        Stages.

    Raises
    ------
    UnknownNameError, InputError
    """
    contents = checked.contents
    description = describe_engine(contents)
    intake = engine_port(contents, port, Side.INTAKE)
    exhaust = partner(contents, intake)
    if exhaust is None:
        raise InputError(
            f"Job {contents.job.number} has no exhaust port of cylinder {intake.cylinder}.",
            "Give the ports their cylinders.",
        )
    findings: list[Finding] = []
    states = [
        _state(checked, pressure, intake, exhaust, stage, findings) for stage in (before, after)
    ]
    deviations = [
        _deviation(checked, pressure, code, before, after) for code in (intake.code, exhaust.code)
    ]
    case = engine_case(description, contents, states[1], pressure, intake)
    return TwoHeads(
        description, case, states[0], states[1], deviations[0], deviations[1], tuple(findings)
    )


def _state(
    checked: CheckedJob,
    pressure: float,
    intake: Port,
    exhaust: Port,
    stage: str,
    findings: list[Finding],
) -> HeadState:
    contents = checked.contents
    ins = port_curve(checked, intake.code, stage, pressure)
    used = _exhaust_stage(checked, exhaust.code, stage)
    outs = port_curve(checked, exhaust.code, used, pressure)
    if used != stage:
        findings.append(
            Finding(
                "exhaust-of-another-stage",
                Severity.WARNING,
                f"{exhaust.code} was not flowed at {stage}; its sweeps at {used} are used.",
                "Sweep the exhaust too, or the change of the exhaust is not in the answer.",
                Where(port=exhaust.code, stage=stage),
            )
        )
    shapes = [port_shape(contents, p, stage) for p in (intake, exhaust)]
    said = {f.message for f in findings}
    findings += [f for s in shapes for f in s.findings if f.message not in said]
    findings += [*ins.findings, *outs.findings]
    return HeadState(
        stage=stage,
        intake_port=intake.code,
        exhaust_port=exhaust.code,
        head=Head(
            _benched(contents, intake, stage, ins, shapes[0]),
            _benched(contents, exhaust, stage, outs, shapes[1]),
        ),
        intake_shape=shapes[0],
        exhaust_shape=shapes[1],
        exhaust_valve=valve_at(contents, exhaust.code, stage),
        intake_runs=ins.runs,
        exhaust_runs=outs.runs,
        bench_uncertainty=ins.bench_uncertainty,
    )


def _exhaust_stage(checked: CheckedJob, code: str, stage: str) -> str:
    """The stage itself, else the last one before it with sweeps, else the first after it."""
    known = stages_of(checked, code)
    if not known:
        raise InputError(f"Exhaust port {code} was never flowed.", "Sweep it at least once.")
    if stage in known:
        return stage
    order = [s.code for s in checked.contents.stages]
    place = order.index(stage) if stage in order else len(order)
    earlier = [s for s in known if order.index(s) < place]
    return earlier[-1] if earlier else known[0]


def _benched(
    contents: JobContents, port: Port, stage: str, curve: PortCurve, shape: PortShape
) -> BenchedPort:
    valve = valve_at(contents, port.code, stage)
    share = 1.0
    if valve is not None:
        fit = series_fit(curve.area, minimum_area(valve, curve.lift), shape.smallest.area)
        share = least_filled_share(fit)
    return BenchedPort(shape.duct, curve.lift, curve.area, share, curve.stub)


def _deviation(checked: CheckedJob, pressure: float, code: str, before: str, after: str) -> float:
    """Standard uncertainty of the gain over the cam, or the middle one of the lifts."""
    stages = stages_of(checked, code)
    if before not in stages or after not in stages or before == after:
        return 0.0 if before == after else _SINGLE_DEVIATION
    try:
        sides = [(checked, choose(checked, None, code, s)) for s in (before, after)]
        result = compare_groups(sides[0], sides[1], pressure).result
    except PortwrightError:
        return _SINGLE_DEVIATION
    gains: list[Gain] = [g.gain for g in result.lifts]
    if result.over_cam is not None:
        return result.over_cam.deviation
    return sorted(g.deviation for g in gains)[len(gains) // 2]


def engine_case(
    engine: EngineDescription,
    contents: JobContents,
    state: HeadState,
    pressure: float,
    port: Port,
) -> EngineCase:
    """Engine of a description, with as few cylinders as show the same waves.

    Cylinders that share a collector are simulated together, one group standing for the others;
    behind a plenum all are.  Firing is taken as even in a group.
    """
    count = round(engine.cylinders.si)
    group = _group(engine, contents, port, count)
    plenum = _plenum(engine)
    simulated = count if plenum is not None else group
    firing = tuple(720.0 * k / simulated for k in range(simulated))
    sections = state.intake_shape.sections
    runner = runner_duct(engine, sections[0].area)
    bore = engine.primary_diameter.si
    primary = plain_pipe("primary", engine.primary_length.si, bore, wall_temperature=_PRIMARY_WALL)
    collectors: tuple[Collector, ...] = ()
    if group > 1:
        collectors = tuple(
            Collector(members, engine.collector_volume.si, _tail(engine))
            for members in _groups(simulated, group)
        )
    return EngineCase(
        mechanics=Mechanics(
            engine.bore.si, engine.stroke.si, engine.rod.si, engine.compression.si, firing
        ),
        cylinders=count,
        intake_lift=lift_curve(engine, contents, Side.INTAKE),
        exhaust_lift=lift_curve(engine, contents, Side.EXHAUST),
        runner=runner,
        primary=primary,
        plenum=plenum,
        collectors=collectors,
        condition=BenchCondition(REFERENCE_AIR.pressure, REFERENCE_AIR.temperature, pressure),
        air=Air(
            engine.ambient_pressure.si + engine.boost.si,
            engine.ambient_temperature.si,
            engine.ambient_pressure.si,
        ),
        fuel=Fuel(engine.fuel.value, engine.air_ratio.si, engine.evaporated.si),
    )


def _group(engine: EngineDescription, contents: JobContents, port: Port, count: int) -> int:
    """Cylinders that share a collector."""
    if engine.grouping.value == Grouping.SEPARATE:
        return 1
    if engine.grouping.value == Grouping.ONE:
        return count
    own = sum(p.side is Side.INTAKE and p.head == port.head for p in contents.ports)
    return own if own and count % own == 0 else count


def _groups(simulated: int, group: int) -> list[tuple[int, ...]]:
    """Every how-manyth cylinder in firing order shares a collector: even intervals in each."""
    collectors = max(1, simulated // group)
    return [tuple(range(k, simulated, collectors)) for k in range(collectors)]


def _plenum(engine: EngineDescription) -> Plenum | None:
    if engine.induction.value == Induction.INDIVIDUAL:
        return None
    # a sharp throttle passes about what a nozzle of 0.9 of its bore area does (from memory)
    opening = 0.9 * 0.25 * math.pi * engine.throttle_diameter.si**2
    return Plenum(engine.plenum_volume.si, opening)


def _tail(engine: EngineDescription) -> Duct:
    return plain_pipe(
        "tail pipe",
        engine.tail_length.si,
        engine.tail_diameter.si,
        wall_temperature=_PRIMARY_WALL,
    )
