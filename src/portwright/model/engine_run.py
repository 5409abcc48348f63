"""A simulated before and after that somebody chose to keep with the job."""

from __future__ import annotations

from dataclasses import dataclass, field

from portwright.model.engine import Source
from portwright.model.quantity import AsTyped


@dataclass(frozen=True, slots=True)
class EngineInput:
    """One number of the engine as it was when the run was made.

    Parameters
    ----------
    name : str
        Field of :class:`~portwright.model.engine.EngineDescription`.
    value : AsTyped
    source : Source
    note : str
    """

    name: str
    value: AsTyped
    source: Source
    note: str = ""


@dataclass(frozen=True, slots=True)
class EnginePoint:
    """One head at one crank speed; None where no answer was found.

    Parameters
    ----------
    stage : str
    speed : float
        [rev/min]
    torque, power : float or None
        At the crank. [N m, W]
    level : float or None
        Half width of the range of both at 95 %, relative. [-]
    volumetric_efficiency, residual, reversion : float or None
        Filling, burned share at intake closing, mass blown back over mass that came in. [-]
    mach : float or None
        Largest local Mach number in the intake port. [-]
    section : str
        Where that is.
    """

    stage: str
    speed: float
    torque: float | None
    power: float | None
    level: float | None
    volumetric_efficiency: float | None = None
    residual: float | None = None
    reversion: float | None = None
    mach: float | None = None
    section: str = ""


@dataclass(frozen=True, slots=True)
class EngineGain:
    """Change of torque from before to after at one crank speed; None where there is no answer.

    Parameters
    ----------
    speed : float
        [rev/min]
    gain, low, high : float or None
        Relative, with its range at 95 %. [-]
    """

    speed: float
    gain: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class KeptEngineRun:
    """A before and after on the engine, with everything it came from; never changed.

    Parameters
    ----------
    key : str
        Unique in the job.
    at : str
        When it was kept, UTC.
    author : str
    method : str
        Name and version of the calculation.
    program : str
        Portwright version that made it.
    port, exhaust_port : str
        Ports whose cylinder stands for all.
    before, after : str
        Stages.
    digest : str
        SHA-256 of the raw rows it came from; another one now means that they changed since.
    samples : int
        Pairs of guesses behind the ranges; 0 for none.
    factor : float or None
        Shop's own factor in torque and power, None for an uncalibrated level. [-]
    engines : int
        Engines on the dyno behind the factor.
    shift, shift_low, shift_high : float or None
        Shift of the speed of peak power with its range. [rev/min]
    facts : dict of str to str
        Choices, cam and sweeps it came from.
    inputs : tuple of EngineInput
    points : tuple of EnginePoint
    gains : tuple of EngineGain
    findings : tuple of str
        What was said against it.
    replaces : str
        Key of an older one that counts no more; without points it only takes that one back.
    """

    key: str
    at: str = ""
    author: str = ""
    method: str = ""
    program: str = ""
    port: str = ""
    exhaust_port: str = ""
    before: str = ""
    after: str = ""
    digest: str = ""
    samples: int = 0
    factor: float | None = None
    engines: int = 0
    shift: float | None = None
    shift_low: float | None = None
    shift_high: float | None = None
    facts: dict[str, str] = field(default_factory=dict)
    inputs: tuple[EngineInput, ...] = ()
    points: tuple[EnginePoint, ...] = ()
    gains: tuple[EngineGain, ...] = ()
    findings: tuple[str, ...] = ()
    replaces: str = ""
