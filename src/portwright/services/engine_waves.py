"""What happens in the intake port over one cycle: pressure and Mach number against crank angle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.engine.sweep import Piece, run_piece
from portwright.core.gas1d.simulate import Settings
from portwright.errors import NotConvergedError
from portwright.services.engine_case import HeadState, TwoHeads

_SETTINGS = Settings(tolerance=2e-4, record_step=2.0)


@dataclass(frozen=True, slots=True, eq=False)
class PortWaves:
    """One cycle in the intake port of one head.

    Parameters
    ----------
    stage : str
    speed : float
        [rev/min]
    angle : ndarray, shape (s,)
        Crank angle from firing dead centre, increasing. [deg]
    distance : ndarray, shape (c,)
        Cells of the port, from its opening. [m]
    pressure, mach : ndarray, shape (s, c)
        At each angle and cell; Mach number positive towards the valve. [Pa, -]
    section : str
        The smallest section.
    smallest : int
        Its cell.
    """

    stage: str
    speed: float
    angle: Array
    distance: Array
    pressure: Array
    mach: Array
    section: str
    smallest: int


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
    inside = distance >= 0.0
    narrow = state.intake_shape.smallest
    return PortWaves(
        stage=state.stage,
        speed=speed,
        angle=pictures.angle[order],
        distance=distance[inside],
        pressure=gas[:, inside, 0],
        mach=gas[:, inside, 1] / gas[:, inside, 2],
        section=narrow.name,
        smallest=int(np.argmin(np.abs(distance[inside] - narrow.position))),
    )
