"""What happens in runner and intake port over one cycle, against crank angle and distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.engine.sweep import Piece, run_piece
from portwright.core.gas1d.simulate import Settings
from portwright.core.gas1d.valves import ANGLES
from portwright.errors import NotConvergedError
from portwright.services.engine_case import HeadState, TwoHeads

_SETTINGS = Settings(tolerance=2e-4, record_step=2.0)


@dataclass(frozen=True, slots=True, eq=False)
class PortWaves:
    """One cycle in runner and intake port of one head.

    Parameters
    ----------
    stage : str
    speed : float
        [rev/min]
    angle : ndarray, shape (s,)
        Crank angle from firing dead centre, increasing. [deg]
    distance : ndarray, shape (c,)
        Cells from the port opening, those of the runner below zero. [m]
    first : int
        First cell of the port.
    pressure, mach : ndarray, shape (s, c)
        At each angle and cell; Mach number positive towards the valve. [Pa, -]
    section : str
        The smallest section.
    smallest : int
        Its cell.
    lift : ndarray, shape (s,)
        Of the intake valve. [m]
    """

    stage: str
    speed: float
    angle: Array
    distance: Array
    first: int
    pressure: Array
    mach: Array
    section: str
    smallest: int
    lift: Array


def port_waves(heads: TwoHeads, state: HeadState, speed: float) -> PortWaves:
    """Simulate one head at one speed and keep what happens in its intake port.

    Parameters
    ----------
    heads : TwoHeads
    state : HeadState
        ``heads.before`` or ``heads.after``.
    speed : float
        [rev/min]

    Raises
    ------
    NotConvergedError
        No answer at this speed.
    """
    piece = Piece((state.stage, 0), heads.case, state.head, (speed,), _SETTINGS, keep_pictures=True)
    (point,) = run_piece(piece).points
    if isinstance(point, str) or point.pictures is None:
        raise NotConvergedError(f"{state.stage}: no answer at {speed:.0f} rpm. {point}")
    pictures = point.pictures
    order = np.argsort(pictures.angle, kind="stable")
    gas = pictures.tubes["intake 1"][order].astype(np.float64)
    distance = pictures.positions["intake 1"] - heads.case.runner.length
    narrow = state.intake_shape.smallest
    angle = pictures.angle[order]
    return PortWaves(
        stage=state.stage,
        speed=speed,
        angle=angle,
        distance=distance,
        first=int(np.searchsorted(distance, 0.0)),
        pressure=gas[:, :, 0],
        mach=gas[:, :, 1] / gas[:, :, 2],
        section=narrow.name,
        smallest=int(np.argmin(np.abs(distance - narrow.position))),
        lift=np.interp(angle, ANGLES, heads.case.intake_lift),
    )


def wave_line(waves: PortWaves) -> str:
    """Pressure at the valve where it counts, in one sentence."""
    open_ = np.flatnonzero(waves.lift > 0.0)
    if open_.size == 0:
        return f"{waves.stage}: the intake valve stays shut."
    at_valve = 1e-3 * waves.pressure[:, -1]
    low = open_[int(np.argmin(at_valve[open_]))]
    first, last = open_[0], open_[-1]
    return (
        f"{waves.stage}: pressure in the port at the intake valve is {at_valve[first]:.0f} kPa as "
        f"it opens, at its lowest {at_valve[low]:.0f} kPa at {waves.angle[low]:.0f}°, and "
        f"{at_valve[last]:.0f} kPa as it closes."
    )
