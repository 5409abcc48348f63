"""What the air does along a port, at bench and engine flow."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.air import REFERENCE_AIR
from portwright.core.bench import PressureLaw
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.port.velocity import (
    engine_mean_velocity,
    mach_along,
    mean_velocity,
)
from portwright.core.valve import minimum_area, net_throat_area
from portwright.model.contents import JobContents
from portwright.services.compare import at_pressure, choose
from portwright.services.findings import CheckedJob
from portwright.services.port_profile import PortProfile
from portwright.services.reduce import method_named
from portwright.services.valves import valve_at


@dataclass(frozen=True, slots=True)
class BenchFlow:
    """Flow of a port at one lift.

    Parameters
    ----------
    stage : str
        Stage the sweeps were made at.
    lift : float
        [m]
    area : float
        Effective area, geometric mean of the sound sweeps. [m2]
    pressure : float
        Test pressure of the figures. [Pa]
    runs : tuple of str
    """

    stage: str
    lift: float
    area: float
    pressure: float
    runs: tuple[str, ...]

    @property
    def flow(self) -> float:
        """Volume flow in reference air. [m3/s]"""
        return self.area * float(jet_velocity(REFERENCE_DENSITY, self.pressure))


@dataclass(frozen=True, slots=True)
class StationAir:
    """Air at one station.

    Parameters
    ----------
    mean : float
        Flow over area at the bench. [m/s]
    mach : float
        From the same mass flow, NaN where the station cannot pass it. [-]
    engine_mean, engine_mach : float
        What the piston asks at the engine speed looked at, mean over its stroke, NaN without one.
        [m/s, -]
    """

    mean: float
    mach: float
    engine_mean: float
    engine_mach: float


@dataclass(frozen=True, slots=True)
class EngineSpeed:
    """Cylinder and speed the air is wanted for.

    Parameters
    ----------
    bore, stroke : float
        [m]
    turning_speed : float
        [rad/s]
    velocity_limit : float
        Mean velocity in the port not to exceed. [m/s]
    """

    bore: float
    stroke: float
    turning_speed: float
    velocity_limit: float


def bench_flow(
    checked: CheckedJob, port: str, stage: str, pressure: float, lift: float | None = None
) -> BenchFlow | None:
    """Flow of a port from its sound sweeps at a stage, or the newest stage with sweeps before it.

    Parameters
    ----------
    lift : float, optional
        None takes the highest lift every sweep reached. [m]

    Returns
    -------
    BenchFlow or None
        None where no sound sweep reaches the lift.
    """
    order = [s.code for s in checked.contents.stages]
    until = order.index(stage) if stage in order else len(order)
    usable = [
        r
        for r in checked.sound()
        if r.run.port == port
        and r.run.stage in order
        and order.index(r.run.stage) <= until
        and r.run.conditions.configuration in {"", "bare port"}
        and r.run.conditions.direction == "forward"
    ]
    if not usable:
        return None
    newest = max(usable, key=lambda r: order.index(r.run.stage)).run.stage
    sound = {r.run.code for r in usable}
    same = [r for r in choose(checked, None, port, newest) if r.run.code in sound]
    if not same:
        return None
    law = PressureLaw(method_named(same[0].run.method).pressure_law)
    curves = [(r, at_pressure(r, r.curve, pressure, law)[0]) for r in same if r.curve is not None]
    at = lift if lift is not None else min(float(c.lift[-1]) for _, c in curves)
    read = [(r.run.code, float(c.at(np.array([at]))[0])) for r, c in curves]
    known = [(code, area) for code, area in read if math.isfinite(area)]
    if not known:
        return None
    mean = math.exp(sum(math.log(area) for _, area in known) / len(known))
    return BenchFlow(newest, at, mean, pressure, tuple(code for code, _ in known))


def air_along(
    profile: PortProfile, flow: BenchFlow, engine: EngineSpeed | None = None
) -> tuple[StationAir, ...]:
    """Mean velocity and Mach number at every station."""
    area = np.array([s.area for s in profile.stations])
    mean = np.atleast_1d(mean_velocity(flow.flow, area))
    mach = np.atleast_1d(
        mach_along(
            flow.flow * REFERENCE_DENSITY, area, REFERENCE_AIR.pressure, REFERENCE_AIR.temperature
        )
    )
    asked, asked_mach = np.full((2, *area.shape), math.nan)
    if engine is not None:
        asked = np.atleast_1d(
            engine_mean_velocity(engine.bore, engine.stroke, engine.turning_speed, area)
        )
        asked_mach = np.atleast_1d(
            mach_along(
                asked * area * REFERENCE_DENSITY,
                area,
                REFERENCE_AIR.pressure,
                REFERENCE_AIR.temperature,
            )
        )
    return tuple(
        StationAir(float(v), float(m), float(e), float(em))
        for v, m, e, em in zip(mean, mach, asked, asked_mach, strict=True)
    )


@dataclass(frozen=True, slots=True)
class Choke:
    """Which passage of the port is smallest, valve gap included.

    Parameters
    ----------
    place : str
        Landmark, "valve gap" or "throat".
    area : float
        Its area. [m2]
    above : float or None
        Lift above which a section of the port is smaller than the valve gap, None where it never
        is. [m]
    engine_speed : float
        Speed at which the mean velocity in the smallest section reaches the engine's limit, NaN
        where bore and stroke are not known. [rad/s]
    """

    place: str
    area: float
    above: float | None
    engine_speed: float


def choke(
    contents: JobContents,
    profile: PortProfile,
    lift: float,
    engine: EngineSpeed | None = None,
) -> Choke:
    """Find the smallest passage at a lift: a station, the throat or the valve gap."""
    least = profile.smallest_station
    place, area, above = least.landmark or "section", least.area, None
    shape = valve_at(contents, profile.port, profile.stage)
    if shape is not None:
        lifts = np.linspace(0.0, shape.head_diameter, 4001)  # a hundredth of a millimetre
        gap = minimum_area(shape, lifts)
        wider = np.flatnonzero(gap > least.area)
        above = float(lifts[wider[0]]) if wider.size else None
        at_lift = float(minimum_area(shape, lift))
        if at_lift < area:
            throat = at_lift >= float(net_throat_area(shape)) * (1.0 - 1e-9)
            place, area = ("throat" if throat else "valve gap"), at_lift
    speed = math.nan
    if engine is not None:
        unit = float(engine_mean_velocity(engine.bore, engine.stroke, 1.0, least.area))
        speed = engine.velocity_limit / unit
    return Choke(place, area, above, speed)
