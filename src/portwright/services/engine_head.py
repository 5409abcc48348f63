"""What the simulation says of one head over crank speed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.engine.sweep import Seen
from portwright.core.gas1d.operating import OperatingPoint
from portwright.services.engine_case import HeadState, TwoHeads

CHOKED = 0.95
"""Local Mach number from which a section counts as choked: a one-dimensional cell of some
millimetres does not show the last few percent. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class HeadCurve:
    """One head over crank speed, shape (n,) throughout; NaN where no answer was found.

    Parameters
    ----------
    stage : str
    torque, power : ndarray
        At the crank. [N m, W]
    level : ndarray
        Half width of the range of both at 95 %, relative. [-]
    volumetric_efficiency, residual, reversion : ndarray
        Filling, burned share at intake closing, mass blown back over mass that came in. [-]
    overlap_back : ndarray
        Mass blown back while both valves are open over mass that came in.
    valve_force : ndarray
        Gas force on the exhaust valve when it opens; NaN where the valve was not measured. [N]
    most_pressure : ndarray
        Peak cylinder pressure. [Pa]
    mach : ndarray
        Largest local Mach number in the intake port. [-]
    section : tuple of str
        Where that is.
    valve_mach : ndarray
        Mean Mach number at which the charge passes the intake valve. [-]
    """

    stage: str
    torque: Array
    power: Array
    level: Array
    volumetric_efficiency: Array
    residual: Array
    reversion: Array
    overlap_back: Array
    valve_force: Array
    most_pressure: Array
    mach: Array
    section: tuple[str, ...]
    valve_mach: Array

    @property
    def choking(self) -> str:
        """Section with the largest Mach number of all speeds."""
        return self.section[int(np.nanargmax(self.mach))]

    def chokes_from(self, speed: Array) -> float:
        """Lowest speed at which a section is choked, NaN where none is. [rev/min]"""
        choked = self.mach >= CHOKED
        return float(speed[int(np.argmax(choked))]) if np.any(choked) else float("nan")


def head_curve(
    heads: TwoHeads,
    state: HeadState,
    points: Sequence[OperatingPoint | str],
    seen: Sequence[Seen],
    level: Array,
    factor: float = 1.0,
) -> HeadCurve:
    """Gather the answers of one head, torque and power times the shop's factor."""

    def row(pick: Callable[[OperatingPoint], float]) -> Array:
        return np.array([np.nan if isinstance(p, str) else pick(p) for p in points])

    def mean(name: str) -> Array:
        return row(lambda p: float(np.mean([getattr(c, name) for c in p.cylinders])))

    choked = [_narrowest(heads, state, p) for p in points]
    return HeadCurve(
        stage=state.stage,
        torque=row(lambda p: factor * p.torque),
        power=row(lambda p: factor * p.power),
        level=level,
        volumetric_efficiency=row(lambda p: p.volumetric_efficiency),
        residual=mean("residual"),
        reversion=mean("reversion"),
        overlap_back=np.array([s.overlap_back for s in seen]),
        valve_force=_valve_force(heads, state, mean("opening_pressure")),
        most_pressure=mean("most_pressure"),
        mach=np.array([mach for mach, _ in choked]),
        section=tuple(name for _, name in choked),
        valve_mach=np.array([s.valve_mach for s in seen]),
    )


def _valve_force(heads: TwoHeads, state: HeadState, opening: Array) -> Array:
    """Pressure in the cylinder less that behind the engine, on the valve head."""
    if state.exhaust_valve is None:
        return np.full(opening.shape, np.nan)
    disc = 0.25 * np.pi * state.exhaust_valve.head_diameter**2
    force: Array = (opening - heads.case.air.exhaust_pressure) * disc
    return force


def _narrowest(heads: TwoHeads, state: HeadState, point: OperatingPoint | str) -> tuple[float, str]:
    """Largest Mach number in the intake port and the named section nearest to it."""
    if isinstance(point, str) or "intake 1" not in point.most_mach:
        return float("nan"), ""
    machs = point.most_mach["intake 1"]
    runner, port = heads.case.runner.length, state.head.intake.duct.length
    length = runner + port
    centre = (np.arange(machs.size) + 0.5) / machs.size * length - runner
    inside = centre >= 0.0
    k = int(np.argmax(np.where(inside, machs, -1.0)))
    named = [s for s in state.intake_shape.sections if not s.name.startswith("at ")]
    sections = named or list(state.intake_shape.sections)
    nearest = min(sections, key=lambda s: abs(s.position - centre[k]))
    return float(machs[k]), nearest.name
