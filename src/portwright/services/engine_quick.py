"""Quick answers about a port on its engine, from first principles and with their ranges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.air import speed_of_sound
from portwright.core.curve import Array
from portwright.core.engine.breathing import (
    OpenPeriod,
    mach_index,
    mean_inlet_mach,
    open_period,
    speed_at_mach,
)
from portwright.core.engine.case import BenchedPort, Doubt, filled_duct
from portwright.core.engine.lift_use import LiftUse, lift_use
from portwright.core.engine.ram import inertance_length, ram_frequency, tuned_speed
from portwright.core.engine.section_share import SeriesFit, series_fit
from portwright.core.engine.velocities import (
    mean_velocity,
    peak_over_mean,
    smallest_section,
    speed_at_velocity,
)
from portwright.core.gas1d.ducts import Duct, join
from portwright.core.valve import minimum_area
from portwright.errors import Finding, InputError, Severity
from portwright.model.engine import EngineDescription
from portwright.model.head import Side
from portwright.services.compare import archive_pressure
from portwright.services.engine_cam import lift_curve
from portwright.services.engine_description import describe_engine
from portwright.services.engine_ports import (
    PortCurve,
    PortShape,
    engine_port,
    port_curve,
    port_shape,
)
from portwright.services.engine_runner import runner_duct
from portwright.services.findings import CheckedJob, check_job
from portwright.services.overview import developed_port, stages_of
from portwright.services.valves import valve_at

# Expected accuracy, from memory: speed of peak power from the mean inlet Mach number 5 to 8 %,
# speed of peak torque from tuning formulas 8 to 12 %.
PEAK_POWER_ACCURACY = 0.08
RAM_ACCURACY = 0.12
TO_RPM = 30.0 / np.pi


@dataclass(frozen=True, slots=True)
class Range:
    """A forecast with the ends of what may be expected, same unit."""

    value: float
    low: float
    high: float

    @classmethod
    def about(cls, value: float, share: float) -> Range:
        """Range of a share either side."""
        return cls(value, value * (1.0 - share), value * (1.0 + share))


@dataclass(frozen=True, slots=True, eq=False)
class SectionSpeed:
    """Air speed in one section.

    Parameters
    ----------
    name : str
    area : float
        All ports of a cylinder. [m2]
    velocity : ndarray, shape (n,)
        Mean over the intake stroke at each speed. [m/s]
    peak_mach : ndarray, shape (n,)
        Greatest local Mach number at each speed without waves. [-]
    limit_speed : float
        Crank speed at which the mean reaches the limit. [rev/min]
    """

    name: str
    area: float
    velocity: Array
    peak_mach: Array
    limit_speed: float


@dataclass(frozen=True, slots=True, eq=False)
class QuickAnswers:
    """Quick answers for one intake port at one stage.

    Parameters
    ----------
    engine : EngineDescription
    port, stage : str
    runs : tuple of str
        Sweeps behind the flow curve.
    section_source : str
    speed : ndarray, shape (n,)
        Crank speeds of the tables. [rev/min]
    mach, index : ndarray, shape (n,)
        Mean inlet Mach number and Mach index. [-]
    mean_area : float
        Mean effective area over the open period. [m2]
    open_angle : float
        [rad]
    peak_power : Range
        Speed of peak power by the mean inlet Mach number. [rev/min]
    sections : tuple of SectionSpeed
        In flow direction.
    velocity_limit : float
        [m/s]
    target_speed : float
        [rev/min]
    needed_section : float
        Smallest section for the target speed at the limit. [m2]
    ram : Range
        Speed the runner's tone suits, K from one end of its range to the other and 12 %. [rev/min]
    ram_frequency, ram_length : float
        Tone, and length of an even pipe of the runner's mean area. [Hz, m]
    ram_constants : tuple of float
    lift : LiftUse
    fit : SeriesFit or None
        Valve and port in series; None where the valve was not measured.
    findings : tuple of Finding
    """

    engine: EngineDescription
    port: str
    stage: str
    runs: tuple[str, ...]
    section_source: str
    speed: Array
    mach: Array
    index: Array
    mean_area: float
    open_angle: float
    peak_power: Range
    sections: tuple[SectionSpeed, ...]
    velocity_limit: float
    target_speed: float
    needed_section: float
    ram: Range
    ram_frequency: float
    ram_length: float
    ram_constants: tuple[float, float]
    lift: LiftUse
    fit: SeriesFit | None
    findings: tuple[Finding, ...]

    @property
    def smallest(self) -> SectionSpeed:
        """The section that is reached first."""
        return min(self.sections, key=lambda s: s.area)


def quick_answers(
    archive: Archive,
    job: str,
    *,
    port: str = "",
    stage: str = "",
    speeds: Sequence[float] = (),
    velocity_limit: float | None = None,
    target_speed: float | None = None,
) -> QuickAnswers:
    """Answer from bench curve, sections and cam, without waves.

    Parameters
    ----------
    port : str
        Intake port; "" takes the one developed most.
    stage : str
        "" takes its last stage with sweeps.
    speeds : sequence of float
        Crank speeds of the tables; the engine's own band where empty. [rev/min]
    velocity_limit : float, optional
        Instead of the one on the job sheet. [m/s]
    target_speed : float, optional
        Instead of the one on the job sheet. [rev/min]

    Raises
    ------
    UnknownNameError, InputError
    """
    checked = check_job(archive, job)
    return quick_answers_of(
        checked,
        archive_pressure(archive),
        port=port,
        stage=stage,
        speeds=speeds,
        velocity_limit=velocity_limit,
        target_speed=target_speed,
    )


def chosen_port(checked: CheckedJob, port: str) -> str:
    """The named intake port, or the one developed most."""
    code = port or developed_port(checked)
    return engine_port(checked.contents, code, Side.INTAKE).code


def last_stage(checked: CheckedJob, port: str) -> str:
    """Last stage of a port that has sweeps.

    Raises
    ------
    InputError
    """
    stages = stages_of(checked, port)
    if not stages:
        raise InputError(f"Port {port} has no sweeps.", "Sweep it, or name another port.")
    return stages[-1]


def quick_answers_of(
    checked: CheckedJob,
    pressure: float,
    *,
    port: str = "",
    stage: str = "",
    speeds: Sequence[float] = (),
    velocity_limit: float | None = None,
    target_speed: float | None = None,
) -> QuickAnswers:
    """As :func:`quick_answers` for a job already checked."""
    contents = checked.contents
    engine = describe_engine(contents)
    code = chosen_port(checked, port)
    stage = stage or last_stage(checked, code)
    curve = port_curve(checked, code, stage, pressure)
    shape = port_shape(contents, engine_port(contents, code, Side.INTAKE), stage)
    ports = _ports_of_cylinder(checked, code)
    lifts = lift_curve(engine, contents, Side.INTAKE)
    period = open_period(lifts, curve.lift, curve.area)
    period = OpenPeriod(period.integral * ports, period.angle)
    sound = float(speed_of_sound(engine.ambient_temperature.si))
    speed = np.array(speeds) if speeds else _speeds(engine)
    swept = 0.25 * np.pi * engine.bore.si**2 * engine.stroke.si
    filling = engine.volumetric_efficiency.si
    limit = engine.velocity_limit.si if velocity_limit is None else velocity_limit
    target = engine.target_speed.si * TO_RPM if target_speed is None else target_speed
    at_limit = speed_at_mach(period, swept, sound, engine.mach_limit.si, filling)
    use = lift_use(lifts, curve.lift, curve.area)
    runner = runner_duct(engine, shape.sections[0].area)
    whole = join("runner and port", runner, _whole(shape, curve))
    mean_area = whole.length / float(
        np.trapezoid(
            1.0 / whole.area_at(np.linspace(0.0, whole.length, 401)),
            np.linspace(0.0, whole.length, 401),
        )
    )
    length = inertance_length(whole, mean_area)
    tone = ram_frequency(mean_area, length, swept / ports, engine.compression.si, sound)
    constants = engine.ram_constant_low.si, engine.ram_constant_high.si
    valve = valve_at(contents, code, stage)
    fit = None
    if valve is not None:
        fit = series_fit(curve.area, minimum_area(valve, curve.lift), shape.smallest.area)
    return QuickAnswers(
        engine=engine,
        port=code,
        stage=stage,
        runs=curve.runs,
        section_source=shape.source,
        speed=speed,
        mach=mean_inlet_mach(period, swept, sound, speed, filling),
        index=mach_index(period, engine.bore.si, engine.stroke.si, sound, speed),
        mean_area=period.mean_area,
        open_angle=period.angle,
        peak_power=Range.about(at_limit, PEAK_POWER_ACCURACY),
        sections=_section_speeds(engine, shape, ports, speed, limit, sound),
        velocity_limit=limit,
        target_speed=target,
        needed_section=float(smallest_section(engine.bore.si, engine.stroke.si, target, limit)),
        ram=Range(
            tuned_speed(tone, 0.5 * sum(constants)),
            tuned_speed(tone, constants[1]) * (1.0 - RAM_ACCURACY),
            tuned_speed(tone, constants[0]) * (1.0 + RAM_ACCURACY),
        ),
        ram_frequency=tone,
        ram_length=length,
        ram_constants=constants,
        lift=use,
        fit=fit,
        findings=(*_assumed(engine), *curve.findings, *shape.findings, *_held(use)),
    )


def _whole(shape: PortShape, curve: PortCurve) -> Duct:
    """Port with all of its sections filled."""
    return filled_duct(BenchedPort(shape.duct, curve.lift, curve.area), Doubt())


def _ports_of_cylinder(checked: CheckedJob, code: str) -> int:
    ports = checked.contents.ports
    own = next(p for p in ports if p.code == code)
    if own.cylinder is None:
        return 1
    return sum(p.side is Side.INTAKE and p.cylinder == own.cylinder for p in ports)


def _speeds(engine: EngineDescription) -> Array:
    low, high = (v.si * TO_RPM for v in (engine.lowest_speed, engine.highest_speed))
    step = 500.0
    return np.arange(step * np.floor(low / step), high + step, step)


def _section_speeds(
    engine: EngineDescription,
    shape: PortShape,
    ports: int,
    speed: Array,
    limit: float,
    sound: float,
) -> tuple[SectionSpeed, ...]:
    bore, stroke = engine.bore.si, engine.stroke.si
    peak = peak_over_mean(stroke, engine.rod.si)
    smallest = shape.smallest
    found = []
    for section in shape.sections:
        if section.name.startswith("at ") and section is not smallest:
            continue  # sections between landmarks would only fill the table
        area = section.area * ports
        velocity = mean_velocity(area, bore, stroke, speed)
        at_limit = speed_at_velocity(area, bore, stroke, limit)
        found.append(SectionSpeed(section.name, area, velocity, velocity * peak / sound, at_limit))
    return tuple(found)


def _assumed(engine: EngineDescription) -> tuple[Finding, ...]:
    """One finding that names every assumed number that quick answers use."""
    used = ("runner_length", "runner_diameter", "compression", "rod", "volumetric_efficiency")
    values = engine.values()
    assumed = {n: values[n].value for n in used if n in engine.assumed()}
    said = [f"{n.replace('_', ' ')} {v.text if v.unit == '-' else v}" for n, v in assumed.items()]
    if not said:
        return ()
    return (
        Finding(
            "engine-assumed",
            Severity.NOTE,
            f"Assumed: {', '.join(said)}.",
            "Set what is known of this engine.",
        ),
    )


def _held(use: LiftUse) -> tuple[Finding, ...]:
    if use.most_lift <= use.tested_to + 1e-9:
        return ()
    return (
        Finding(
            "cam-above-tested-lift",
            Severity.WARNING,
            f"The cam lifts to {use.most_lift * 1e3:.2f} mm, tested up to "
            f"{use.tested_to * 1e3:.2f} mm; the area is held above.",
            "Test up to the cam's full lift.",
            size=use.held,
        ),
    )
