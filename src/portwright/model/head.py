"""Castings, heads, ports and valves."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from portwright.model.quantity import AsTyped

ONE_HEAD = "head"
"""Code of the head of a job that names none."""


class Side(StrEnum):
    """Which side of the head a port is on."""

    INTAKE = "intake"
    EXHAUST = "exhaust"


@dataclass(frozen=True, slots=True)
class Casting:
    """A casting type, the key by which the archive is searched.

    Parameters
    ----------
    number : str
        Casting number as cast, or the name the shop gives it.
    description : str
    architecture : str
        Cylinder layout and valve train in words.
    intake_valve_angle, exhaust_valve_angle : AsTyped or None
        Of the stem from the bore axis. [rad]
    intake_port_location, exhaust_port_location : str
        As the shop calls it: "down draft".
    """

    number: str
    description: str = ""
    architecture: str = ""
    intake_valve_angle: AsTyped | None = None
    exhaust_valve_angle: AsTyped | None = None
    intake_port_location: str = ""
    exhaust_port_location: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """One physical head.

    Parameters
    ----------
    code : str
        Name inside the job ("L", "R", "head").
    casting : str
        Casting number.
    serial : str
    intake_valve_angle, exhaust_valve_angle : AsTyped or None
        Where this head differs from its casting, as after angle milling. [rad]
    intake_port_location, exhaust_port_location : str
        Where this head differs from its casting.
    """

    code: str
    casting: str = ""
    serial: str = ""
    intake_valve_angle: AsTyped | None = None
    exhaust_valve_angle: AsTyped | None = None
    intake_port_location: str = ""
    exhaust_port_location: str = ""


@dataclass(frozen=True, slots=True)
class Port:
    """One port of a head.

    Parameters
    ----------
    code : str
        Name in the job, unique there ("I1", "E4", "REF-1 intake").
    side : Side
    head : str
        Head code.
    cylinder : int or None
    valve_count : int
        Valves this port feeds, 1 to 3.
    """

    code: str
    side: Side
    head: str = ""
    cylinder: int | None = None
    valve_count: int = 1


@dataclass(frozen=True, slots=True)
class CamPoint:
    """Lift of intake and exhaust valve at an angle from each lobe's centre."""

    angle: AsTyped
    intake_lift: AsTyped
    exhaust_lift: AsTyped


@dataclass(frozen=True, slots=True)
class Cam:
    """A camshaft as measured or ground.

    Parameters
    ----------
    card : str
        Card or grind name.
    intake_centre, exhaust_centre : AsTyped or None
        Crank angle of full lift after, and before, top dead centre of overlap. [rad]
    lash : AsTyped or None
        [m]
    rocker_ratio : float or None
        Already contained in the lift table; kept for the record. [-]
    points : tuple of CamPoint
    """

    card: str
    intake_centre: AsTyped | None = None
    exhaust_centre: AsTyped | None = None
    lash: AsTyped | None = None
    rocker_ratio: float | None = None
    points: tuple[CamPoint, ...] = ()
