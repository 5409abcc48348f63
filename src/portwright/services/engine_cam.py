"""Valve lift against crank angle from what the job knows of the cam."""

from __future__ import annotations

import math

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d.valves import lift_from_events, lift_from_table
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.engine import CamMethod, CamPlace, EngineDescription, EngineValue
from portwright.model.head import Side


def lift_curve(engine: EngineDescription, contents: JobContents, side: Side) -> Array:
    """Valve lift every quarter degree from firing dead centre, lash taken off. [m]

    Raises
    ------
    InputError
        Something about the cam is missing.
    """
    if engine.cam_method.value == CamMethod.EVENTS:
        return _from_events(engine, side)
    cam = next((c for c in contents.cams if c.card == engine.cam), None)
    if cam is None:
        raise InputError(
            f"Job {engine.job} has no lift table.",
            "Import one, or set cam_method to events and give the events.",
        )
    points = sorted(cam.points, key=lambda p: p.angle.si)
    offset = np.array([math.degrees(p.angle.si) for p in points])
    intake = side is Side.INTAKE
    lift = np.array([(p.intake_lift if intake else p.exhaust_lift).si for p in points])
    if engine.cam_place.value == CamPlace.LOBE:
        lift = lift * engine.rocker_ratio.si
    name = "intake_centre" if intake else "exhaust_centre"
    angle = math.degrees(_needed(engine, name))
    centre = 360.0 + angle if intake else 360.0 - angle
    return lift_from_table(offset, lift, centre, engine.lash.si)


def _needed(engine: EngineDescription, name: str) -> float:
    value: EngineValue | None = getattr(engine, name)
    if value is None:
        words = name.replace("_", " ")
        raise InputError(
            f"Job {engine.job} does not say the cam's {words}.",
            f"Set it: portwright engine set {engine.job} {name} VALUE.",
        )
    return value.si


def _from_events(engine: EngineDescription, side: Side) -> Array:
    """Smooth curve through the events; lift at the valve, lash already taken off."""
    opens = math.degrees(_needed(engine, f"{side}_opens"))
    closes = math.degrees(_needed(engine, f"{side}_closes"))
    if side is Side.INTAKE:
        opens, closes = 360.0 - opens, 540.0 + closes
    else:
        opens, closes = 180.0 - opens, 360.0 + closes
    return lift_from_events(opens, closes, engine.checking_lift.si, _needed(engine, f"{side}_lift"))
