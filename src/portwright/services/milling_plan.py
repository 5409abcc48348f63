"""What a milling plan holds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from portwright.core.chamber.moves import HeightSplit
from portwright.core.chamber.uniform import UniformPlan
from portwright.core.chamber.vface import LineUp, VFace
from portwright.errors import Finding
from portwright.services.milling_angle import AnglePlan
from portwright.services.plan_terms import Known, Origin
from portwright.units import Kind


class Aim(StrEnum):
    """What a plan is made for; chosen, never guessed from what is filled in."""

    CHAMBER = "chamber volume"
    RATIO = "compression ratio"
    DEPTH = "depth"


AIM_KINDS = {Aim.CHAMBER: Kind.VOLUME, Aim.RATIO: Kind.RATIO, Aim.DEPTH: Kind.LENGTH}


@dataclass(frozen=True, slots=True)
class Target:
    """What to reach, and who said so.

    Parameters
    ----------
    aim : Aim
    value : float
        [SI unit of its kind]
    origin : Origin
    note : str
    """

    aim: Aim
    value: float
    origin: Origin
    note: str = ""


@dataclass(frozen=True, slots=True)
class Result:
    """A number with its standard uncertainty and where most of that comes from. [SI]"""

    value: float
    uncertainty: float
    mostly: str = ""


@dataclass(frozen=True, slots=True)
class ApexHeight:
    """Short side to deck of one port.

    Parameters
    ----------
    port, first, last : str
        Port and the stages of its readings; ``last`` is "" where there is one reading only.
    before : float
        First reading. [m]
    expected : float
        What milling alone leaves of it. [m]
    split : HeightSplit or None
        Milling and grinding told apart, None with one reading.
    """

    port: str
    first: str
    last: str
    before: float
    expected: float
    split: HeightSplit | None


@dataclass(frozen=True, slots=True)
class Uniform:
    """Plan for chambers that are all alike, with the readings it starts from.

    Parameters
    ----------
    set_name : str
        State the chambers were filled in.
    volumes : dict of str to float
        [m3]
    plan : UniformPlan or None
    refused : str
        Why there is no plan, "" where there is one.
    """

    set_name: str
    volumes: dict[str, float]
    plan: UniformPlan | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class MillPlan:
    """Everything one deck cut does.

    Parameters
    ----------
    job : str
    target : Target
    known : dict of str to Known
        Numbers used.
    depth : Result
        Deck to take off. [m]
    chamber_before, chamber_after : Result
        [m3]
    ratio_before, ratio_after : Result or None
        None where a volume is not known. [-]
    ratio_per_tenth : float or None
        Change of the ratio by the next 0.1 mm. [-]
    per_depth : float
        Volume per depth at the final plane. [m2]
    deshroud : tuple of float or None
        What opening by 1 cc costs: change of ratio [-] and deeper cut to win it back [m].
    line_up : LineUp or None
        None where the engine is no V or the face was not measured.
    face : VFace or None
    face_cut, manifold_drop : Result or None
        [m]
    pushrod : float
        Change of length, a guide. [m]
    piston : float
        Change of the space between valves and pistons along the bore. [m]
    cam_retard : float or None
        In cam angle; None for a cam in the block. [rad]
    apexes : tuple of ApexHeight
    uniform : Uniform or None
    angles : tuple of AnglePlan
        The same volume by an angle cut; empty where sizes are missing or walls slope.
    findings : tuple of Finding
    """

    job: str
    target: Target
    known: dict[str, Known]
    depth: Result
    chamber_before: Result
    chamber_after: Result
    ratio_before: Result | None
    ratio_after: Result | None
    ratio_per_tenth: float | None
    per_depth: float
    deshroud: tuple[float, float] | None
    line_up: LineUp | None
    face: VFace | None
    face_cut: Result | None
    manifold_drop: Result | None
    pushrod: float
    piston: float
    cam_retard: float | None
    apexes: tuple[ApexHeight, ...]
    uniform: Uniform | None
    angles: tuple[AnglePlan, ...]
    findings: tuple[Finding, ...]
