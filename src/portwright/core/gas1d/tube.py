"""A plain tube on its own: the shock tube by which anyone can check the solver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d import ends as en
from portwright.core.gas1d import march as ma
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, Tube, build_network, fill_tube, march
from portwright.errors import RangeError

COURANT = 0.9


@dataclass(frozen=True, slots=True)
class TubeState:
    """State of the gas on one side of a diaphragm.

    Parameters
    ----------
    density : float
        Density, above zero. [kg/m3]
    velocity : float
        Velocity. [m/s]
    pressure : float
        Pressure, above zero. [Pa]

    Raises
    ------
    RangeError
        Density or pressure not above zero, or something not finite.
    """

    density: float
    velocity: float
    pressure: float

    def __post_init__(self) -> None:
        values = (self.density, self.velocity, self.pressure)
        if not (np.all(np.isfinite(values)) and self.density > 0.0 and self.pressure > 0.0):
            raise RangeError(
                f"Tube state {values} is not physical.",
                "Density and pressure must be above zero, and all three numbers finite.",
            )


@dataclass(frozen=True, slots=True, eq=False)
class TubeSolution:
    """Gas in a tube at one time, cell averages.

    Parameters
    ----------
    x : ndarray, shape (cells,)
        Cell centres. [m]
    density, velocity, pressure : ndarray, shape (cells,)
        Gas state. [kg/m3, m/s, Pa]
    time : float
        Time reached. [s]
    steps : int
        Time steps taken. [-]
    """

    x: Array
    density: Array
    velocity: Array
    pressure: Array
    time: float
    steps: int


def solve_tube(
    left: TubeState,
    right: TubeState,
    *,
    gamma: float,
    cells: int,
    time: float,
    length: float = 1.0,
    diaphragm: float = 0.5,
    courant: float = COURANT,
) -> TubeSolution:
    """Open a diaphragm between two gas states and march to a time.

    The same compiled kernel as the engine, on a straight tube without friction; use it to
    compare with exact or other solutions.

    Parameters
    ----------
    left, right : TubeState
        States on both sides.
    gamma : float
        Ratio of specific heats. [-]
    cells : int
        Number of cells, 4 to about 20 000. [-]
    time : float
        Time to march to. [s]
    length : float
        Length of the tube. [m]
    diaphragm : float
        Position of the diaphragm from the left end. [m]
    courant : float
        Courant number. [-]

    Returns
    -------
    TubeSolution

    Raises
    ------
    RangeError
        A number outside what is possible.
    NonPhysicalStateError
        Pressure or density lost their sense.

    Examples
    --------
    >>> left, right = TubeState(1.0, 0.0, 1.0), TubeState(0.125, 0.0, 0.1)
    >>> sod = solve_tube(left, right, gamma=1.4, cells=200, time=0.25)
    >>> bool(abs(sod.pressure[130] - 0.3031) < 0.001)
    True
    """
    if not (np.isfinite(time) and time >= 0.0):
        raise RangeError(f"Time {time:g} s is not a time to march to.", "Give zero or more.")
    if not 4 <= cells <= r.MOST_CELLS - 2 * r.GHOSTS:
        raise RangeError(
            f"{cells} cells are not between 4 and {r.MOST_CELLS - 2 * r.GHOSTS}.",
            "200 is a good start.",
        )
    if not (length > 0.0 and 0.0 <= diaphragm <= length):
        raise RangeError("The diaphragm must be inside the tube.", "Check length and position.")
    tube = Tube("tube", length, np.ones(cells + 1), np.zeros(cells))
    network = build_network(perfect_gas(gamma), (tube,), ((End(en.PASS), End(en.PASS)),))
    x = tube.centres
    share = np.clip((diaphragm - (x - 0.5 * length / cells)) * cells / length, 0.0, 1.0)
    density = share * left.density + (1.0 - share) * right.density
    momentum = share * left.density * left.velocity + (1.0 - share) * right.density * right.velocity
    pressure = share * left.pressure + (1.0 - share) * right.pressure
    fill_tube(network, 0, density, momentum / density, pressure, 0.0)
    march(network, time, courant)
    return TubeSolution(
        x=x,
        density=network.part(r.DENSITY, 0).copy(),
        velocity=network.part(r.VELOCITY, 0).copy(),
        pressure=network.part(r.PRESSURE, 0).copy(),
        time=float(network.clock[ma.TIME]),
        steps=int(network.clock[ma.STEPS]),
    )
