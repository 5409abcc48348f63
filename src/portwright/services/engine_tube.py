"""The engine's gas solver on a plain tube, so that anyone can check it."""

from __future__ import annotations

from portwright.core.gas1d.tube import TubeSolution, TubeState, solve_tube
from portwright.errors import NumberError, ShapeError
from portwright.units import parse_number

# Name under which commands pass a solution around.
Solution = TubeSolution


def tube_state(text: str) -> TubeState:
    """Read "density,velocity,pressure" in kg/m3, m/s and Pa, points as decimal marks.

    Raises
    ------
    ShapeError, NumberError, RangeError
    """
    parts = text.split(",")
    if len(parts) != 3:
        raise ShapeError(
            f"'{text}' is not a tube state.", "Give density,velocity,pressure, like 1,0,1e5."
        )
    try:
        density, velocity, pressure = (parse_number(p) for p in parts)
    except NumberError as error:
        raise NumberError(f"Tube state '{text}': {error.message}", error.hint) from error
    return TubeState(density, velocity, pressure)


def run_tube(
    left: str, right: str, *, gamma: float, cells: int, time: float, length: float = 1.0
) -> TubeSolution:
    """Open a diaphragm in the middle of a tube and march to a time.

    Parameters
    ----------
    left, right : str
        States as in :func:`tube_state`.
    gamma : float
        Ratio of specific heats. [-]
    cells : int
    time : float
        [s]
    length : float
        [m]

    Raises
    ------
    InputError, SolverError
    """
    return solve_tube(
        tube_state(left),
        tube_state(right),
        gamma=gamma,
        cells=cells,
        time=time,
        length=length,
        diaphragm=0.5 * length,
    )
