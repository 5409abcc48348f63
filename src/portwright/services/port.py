"""Everything about one port in one look: sections, air, metal, class limits, what to cut next."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.archive.archive import Archive
from portwright.core.port.limits import PortLimits
from portwright.errors import Finding, InputError, PortwrightError
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.services.class_rules import ClassLimit, class_limits
from portwright.services.compare import archive_pressure
from portwright.services.display import Display
from portwright.services.engine_description import describe_engine
from portwright.services.findings import CheckedJob, check_job
from portwright.services.metal import (
    Wall,
    earlier_thin_walls,
    metal_findings,
    walls,
    walls_of_port,
)
from portwright.services.next_cut import Advice, Evidence, next_cut
from portwright.services.overview import StageStory, developed_port, story_of
from portwright.services.port_air import (
    BenchFlow,
    Choke,
    EngineSpeed,
    StationAir,
    air_along,
    bench_flow,
    choke,
)
from portwright.services.port_limits import limits_of
from portwright.services.port_profile import (
    PortProfile,
    change_sentence,
    port_profile,
    profile_sentence,
    stages_measured,
)
from portwright.services.sweeps import port_named
from portwright.services.velocity_maps import VelocityMap, velocity_maps


@dataclass(frozen=True, slots=True)
class PortView:
    """One port at one stage.

    Parameters
    ----------
    job, port, stage : str
    profile : PortProfile
    first : PortProfile or None
        At the first measured stage, where that is an earlier one.
    walls : tuple of Wall
    rules : tuple of ClassLimit
    flow : BenchFlow or None
    air : tuple of StationAir
        At the stations, empty without a flow.
    engine : EngineSpeed or None
    choke : Choke or None
    maps : tuple of VelocityMap
    advice : Advice
    limits : PortLimits
    sentences : tuple of str
        What there is to say about the sections.
    findings : tuple of Finding
    """

    job: str
    port: str
    stage: str
    profile: PortProfile
    first: PortProfile | None
    walls: tuple[Wall, ...]
    rules: tuple[ClassLimit, ...]
    flow: BenchFlow | None
    air: tuple[StationAir, ...]
    engine: EngineSpeed | None
    choke: Choke | None
    maps: tuple[VelocityMap, ...]
    advice: Advice
    limits: PortLimits
    sentences: tuple[str, ...]
    findings: tuple[Finding, ...]


def look(
    archive: Archive,
    job: str,
    port: str = "",
    stage: str = "",
    *,
    lift: float | None = None,
    turning_speed: float | None = None,
    display: Display | None = None,
) -> PortView:
    """Look at a port as it was at a stage.

    Parameters
    ----------
    port : str
        "" takes the port with sweeps at most stages.
    stage : str
        "" takes the newest with sections.
    lift : float, optional
        Lift of the bench flow; None takes the highest swept. [m]
    turning_speed : float, optional
        None takes what the job aims at. [rad/s]

    Raises
    ------
    UnknownNameError, InputError
        No such job, port or stage, or no section measured by then.
    """
    checked = check_job(archive, job)
    chosen = port or developed_port(checked)
    shown = display or Display.of(archive.shop())
    contents, limits = checked.contents, limits_of(archive)
    profile = port_profile(contents, chosen, stage, limits)
    first = _first(contents, profile, limits)
    pressure = archive_pressure(archive)
    at = port_named(contents, chosen)
    # what the piston asks for is known on the intake side; exhaust gas is hot and leaves by itself
    intake = at is not None and at.side is Side.INTAKE
    engine = engine_speed(contents, turning_speed) if intake else None
    flow = bench_flow(checked, chosen, profile.stage, pressure, lift)
    air = air_along(profile, flow, engine) if flow else ()
    maps = velocity_maps(checked, profile, pressure, limits)
    of_port = walls_of_port(contents, at, walls(contents, limits, profile.stage)) if at else ()
    rules = tuple(r for r in class_limits(contents) if at is None or r.side in {None, at.side})
    evidence = Evidence(
        contents,
        profile,
        of_port,
        rules,
        maps,
        flow,
        air,
        engine,
        _story(checked, pressure, chosen),
    )
    said = [profile_sentence(profile, shown)]
    if first is not None:
        said.append(change_sentence(first, profile, shown))
    return PortView(
        job,
        chosen,
        profile.stage,
        profile,
        first,
        of_port,
        rules,
        flow,
        air,
        engine,
        choke(contents, profile, flow.lift, engine) if flow else None,
        maps,
        next_cut(evidence, limits, shown),
        limits,
        tuple(said),
        (
            *(f for f in metal_findings(contents, limits, shown) if f.where.port == chosen),
            *earlier_thin_walls(archive, contents, shown),
            *profile.findings,
            *(f for m in maps for f in m.findings),
        ),
    )


def _first(contents: JobContents, profile: PortProfile, limits: PortLimits) -> PortProfile | None:
    have = stages_measured(contents, profile.port)
    if have[0] == profile.stage:
        return None
    return port_profile(contents, profile.port, have[0], limits)


def engine_speed(contents: JobContents, turning_speed: float | None) -> EngineSpeed | None:
    """Cylinder and speed from the job, None where bore or stroke is not known."""
    try:
        engine = describe_engine(contents)
    except InputError:
        return None
    speed = engine.target_speed.si if turning_speed is None else turning_speed
    return EngineSpeed(engine.bore.si, engine.stroke.si, speed, engine.velocity_limit.si)


def _story(checked: CheckedJob, pressure: float, port: str) -> StageStory | None:
    try:
        return story_of(checked, pressure, Display(), port)
    except PortwrightError:
        return None
