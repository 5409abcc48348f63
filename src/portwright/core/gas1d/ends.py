"""What happens at the two ends of a tube.

Each end knows the state that the gas inside the tube brings to the end face (``trace``) and, if
it is connected, the state of a vessel: surroundings, plenum, collector or cylinder.  Along the
wave that leaves the tube, ``p - p_trace = Z (v - v_trace)`` with ``Z = rho c`` of the end cell and
``v`` positive into the tube; the other equation comes from the end:

closed        no velocity.
open          gas leaving meets the vessel's pressure, its motion is lost there; gas entering
              comes from rest in the vessel without loss.
valve         quasi-steady compressible flow through the effective area, both ways, choked or
              not; the jet's motion is not turned back into pressure.
pass-through  what comes to the end leaves it (used for plain tubes).

Every connected end is solved inside a bracket; direction follows from the pressure the closed
end would have.  Equations: Benson, The Thermodynamics and Gas Dynamics of Internal Combustion
Engines, vol. 1, chapter 7 (from memory), written with wave impedance instead of Riemann variables.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from portwright.core.curve import Array
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.compiled import exact

Ints = NDArray[np.int64]

# Kinds of end
PASS: Final = 0
CLOSED: Final = 1
OPEN: Final = 2
VALVE: Final = 3

# Columns of the end table
FACE: Final = 0
SIDE: Final = 1  # +1 left end (flow into the tube is positive), -1 right end
KIND: Final = 2
VESSEL: Final = 3
CURVE: Final = 4  # row of the valve area table, -1: constant
CYLINDER: Final = 5
END_COLUMNS: Final = 6

# Columns of the vessel state
V_PRESSURE: Final = 0
V_DENSITY: Final = 1
V_ENTHALPY: Final = 2
V_GAMMA: Final = 3
V_FRACTION: Final = 4
VESSEL_COLUMNS: Final = 5

# Above this share of the tube's own section a valve is an open end with a sharp edge.
MOST_OPENING: Final = 0.98
_LEAST_OPENING: Final = 1e-7
_SETTLED: Final = 1e-5
_MOST_STEPS: Final = 60


@exact
def orifice_flow(
    pressure: float, density: float, speed: float, gamma: float, back_pressure: float
) -> float:
    """Mass flow per effective area from a stream into a lower pressure.

    Isentropic from the stream to the throat; choked where the throat reaches sound speed
    (Heywood 1988, appendix C, from memory, with the approaching speed kept).

    Parameters
    ----------
    pressure : float
        Static pressure of the stream. [Pa]
    density : float
        Density of the stream. [kg/m3]
    speed : float
        Speed of the stream. [m/s]
    gamma : float
        Ratio of specific heats. [-]
    back_pressure : float
        Pressure behind the throat. [Pa]

    Returns
    -------
    float
        Mass flow per effective area. [kg/(s m2)]
    """
    sound2 = gamma * pressure / density
    k = gamma - 1.0
    ratio = back_pressure / pressure
    y = np.exp(k / gamma * np.log(ratio))
    throat2 = speed * speed + 2.0 * sound2 / k * (1.0 - y)
    if throat2 > sound2 * y:
        y = (1.0 + 0.5 * k * speed * speed / sound2) * 2.0 / (gamma + 1.0)
        return float(density * np.exp(np.log(y) / k) * np.sqrt(sound2 * y))
    return float(density * ratio / y * np.sqrt(max(throat2, 0.0)))


@exact
def _guess(share: float, impedance: float, density: float, difference: float) -> float:
    """Speed in the tube if the gas could not be compressed: where the search starts."""
    kappa = share * share / (1.0 - share * share)
    b = kappa * impedance / density
    return float(-b + np.sqrt(b * b + 2.0 * kappa * difference / density))


@exact
def valve_speed(  # noqa: PLR0912 - one search loop; splitting it would hide the bracket
    share: float,
    wall: float,
    impedance: float,
    p_in: float,
    rho_in: float,
    c2: float,
    gamma_in: float,
    p_vessel: float,
    rho_vessel: float,
    gamma_vessel: float,
    start: float,
) -> float:
    """Speed at a valve, positive into the tube.

    Parameters
    ----------
    share : float
        Effective valve area over the section of the tube. [-]
    wall : float
        Pressure the end would have with the valve closed. [Pa]
    impedance : float
        Density times sound speed of the end cell. [kg/(m2 s)]
    p_in, rho_in, c2, gamma_in : float
        State brought to the end: pressure [Pa], density [kg/m3], squared sound speed [m2/s2],
        ratio of specific heats [-].
    p_vessel, rho_vessel, gamma_vessel : float
        State at rest in the vessel. [Pa, kg/m3, -]
    start : float
        Speed to start the search from, that of the step before. [m/s]

    Returns
    -------
    float
        Speed, positive into the tube. [m/s]

    Notes
    -----
    Mass carried in the tube equals mass through the valve; Newton's method with an estimated
    first slope, then secants, kept inside a bracket.
    """
    share = min(share, MOST_OPENING)
    difference = abs(wall - p_vessel)
    if share < _LEAST_OPENING or difference == 0.0:
        return 0.0
    leaving = wall > p_vessel
    low = 0.0
    if leaving:
        high = min(difference / impedance, np.sqrt(c2))
        x = -start
    else:
        high = min(
            difference / impedance,
            np.sqrt(2.0 / (gamma_vessel + 1.0) * gamma_vessel * p_vessel / rho_vessel),
        )
        x = start
    if not 0.0 < x < high:
        x = min(_guess(share, impedance, rho_in if leaving else rho_vessel, difference), high)
    x_before = -1.0
    f_before = 0.0
    for _ in range(_MOST_STEPS):
        if leaving:
            p = max(wall - impedance * x, 0.1 * p_in)
            rho = max(rho_in + (p - p_in) / c2, 0.1 * rho_in)
            jet = share * orifice_flow(p, rho, x, gamma_in, p_vessel)
            drop = p - p_vessel
            slope = rho - impedance * x / c2
            slope += impedance * jet * (0.5 / drop if drop < 0.47 * p else 0.8 / p)
        else:
            p = wall + impedance * x
            rho = p / (p_vessel / rho_vessel - (gamma_vessel - 1.0) / gamma_vessel * 0.5 * x * x)
            drop = max(p_vessel - p, 0.0)
            jet = share * orifice_flow(p_vessel, rho_vessel, 0.0, gamma_vessel, p_vessel - drop)
            slope = rho * (1.0 + impedance * x / p)
            if 0.0 < drop < 0.47 * p_vessel:
                slope += impedance * jet * 0.5 / drop
        f = rho * x - jet
        if f > 0.0:
            high = x
        else:
            low = x
        if x_before >= 0.0 and x != x_before:
            secant = (f - f_before) / (x - x_before)
            slope = secant if secant > 0.0 else slope
        x_before, f_before = x, f
        x -= f / slope
        if abs(f) <= _SETTLED * rho * x_before:
            # The last correction is made without looking again: its error is of second order.
            x = min(max(x, low), high)
            break
        if not low < x < high:
            x = 0.5 * (low + high)
            if high - low <= 1e-12 * high:
                break
    return float(-x if leaving else x)


@exact
def entering_speed(
    wall: float,
    impedance: float,
    p_vessel: float,
    rho_vessel: float,
    gamma: float,
    start: float,
) -> float:
    """Speed of gas entering an open end from rest in a vessel.

    Solved for the speed, not the pressure: at rest the answer is exactly zero.

    Parameters
    ----------
    wall, impedance : float
        As in :func:`valve_speed`. [Pa, kg/(m2 s)]
    p_vessel, rho_vessel, gamma : float
        State at rest in the vessel. [Pa, kg/m3, -]
    start : float
        Speed to start the search from. [m/s]

    Returns
    -------
    float
        Speed into the tube. [m/s]
    """
    c2 = gamma * p_vessel / rho_vessel
    k = gamma - 1.0
    most = np.sqrt(2.0 * c2 / (gamma + 1.0))
    v = (p_vessel - wall) / impedance
    v = min(v / (1.0 + 0.5 * rho_vessel * v / impedance), most)
    if 0.8 * v < start < 1.2 * v:
        v = start
    for _ in range(20):
        x = 1.0 - 0.5 * k * v * v / c2
        p = p_vessel * np.exp(gamma / k * np.log(x))
        f = p - wall - impedance * v
        change = f / (rho_vessel * p / (p_vessel * x) * v + impedance)
        v = min(max(v + change, 0.0), most)
        # Newton doubles the digits: what is left after this change is about its square.
        if abs(change) <= 1e-5 * v:
            break
    return float(v)


@exact
def solve_end(  # noqa: PLR0915 - one case after the other, read top to bottom
    w: Array, ends: Ints, k: int, share: float, vessels: Array, faces: Array
) -> None:
    """Put the flux of one end into its face and into row ``k`` of ``faces``.

    Parameters
    ----------
    w : ndarray
        Work array.
    ends : ndarray of int, shape (n, 6)
        End table.
    k : int
        Row of the end.
    share : float
        Effective valve area over the section of the tube. [-]
    vessels : ndarray, shape (m, 5)
        Vessel states.
    faces : ndarray, shape (n, 8)
        In: the step before. Out: mass, momentum, energy, burned mass per area and time into the
        tube, then density, velocity along the tube, pressure and burned fraction of the face.
    """
    face = ends[k, FACE]
    side = float(ends[k, SIDE])
    vessel = ends[k, VESSEL]
    if side > 0.0:
        cell = face
        rho_in, u_in, p_in = w[r.R_DENSITY + face], w[r.R_VELOCITY + face], w[r.R_PRESSURE + face]
        internal, y_in = w[r.R_INTERNAL + face], w[r.R_FRACTION + face]
    else:
        cell = face - 1
        rho_in, u_in, p_in = w[r.L_DENSITY + face], w[r.L_VELOCITY + face], w[r.L_PRESSURE + face]
        internal, y_in = w[r.L_INTERNAL + face], w[r.L_FRACTION + face]
    kind = ends[k, KIND]
    v_in = side * u_in
    c = w[r.SOUND + cell]
    impedance = w[r.DENSITY + cell] * c
    wall = p_in - impedance * v_in
    leaving = True
    v = v_in
    if kind == CLOSED:
        v = 0.0
    elif kind == OPEN:
        back = vessels[vessel, V_PRESSURE]
        if back > wall:
            leaving = False
            v = entering_speed(
                wall,
                impedance,
                back,
                vessels[vessel, V_DENSITY],
                vessels[vessel, V_GAMMA],
                side * faces[k, 5],
            )
        elif -v_in < c:
            v = max((back - wall) / impedance, -c)
    elif kind == VALVE:
        v = valve_speed(
            share,
            wall,
            impedance,
            p_in,
            rho_in,
            c * c,
            1.0 + 1.0 / w[r.INV_SLOPE + cell],
            vessels[vessel, V_PRESSURE],
            vessels[vessel, V_DENSITY],
            vessels[vessel, V_GAMMA],
            side * faces[k, 5],
        )
        leaving = v <= 0.0
    if leaving:
        p = max(p_in + impedance * (v - v_in), 0.1 * p_in)
        rho = max(rho_in + (p - p_in) / (c * c), 0.1 * rho_in)
        g = p_in / rho_in
        internal_face = internal / rho_in * rho + (p - g * rho) * w[r.INV_SLOPE + cell]
        enthalpy = (internal_face + p) / rho + 0.5 * v * v
        y = y_in
    else:
        gamma = vessels[vessel, V_GAMMA]
        p = wall + impedance * v
        g = vessels[vessel, V_PRESSURE] / vessels[vessel, V_DENSITY]
        rho = p / (g - (gamma - 1.0) / gamma * 0.5 * v * v)
        enthalpy = vessels[vessel, V_ENTHALPY]
        y = vessels[vessel, V_FRACTION]
    mass = rho * v
    faces[k, 0] = mass
    faces[k, 1] = mass * v + p
    faces[k, 2] = mass * enthalpy
    faces[k, 3] = mass * y
    faces[k, 4] = rho
    faces[k, 5] = side * v
    faces[k, 6] = p
    faces[k, 7] = y
    w[r.FLUX_MASS + face] = side * mass
    w[r.FLUX_MOMENTUM + face] = mass * v + p
    w[r.FLUX_ENERGY + face] = side * mass * enthalpy
    w[r.FLUX_BURNED + face] = side * mass * y
    w[r.FACE_PRESSURE + face] = p


@exact
def fill_ghosts(w: Array, ends: Ints, faces: Array) -> None:
    """Continue each tube past its ends through the last face state.

    Parameters
    ----------
    w : ndarray
        Work array.
    ends : ndarray of int, shape (n, 6)
        End table.
    faces : ndarray, shape (n, 8)
        What :func:`solve_end` gave in the step before.
    """
    for k in range(ends.shape[0]):
        face = ends[k, FACE]
        side = ends[k, SIDE]
        first = face if side > 0 else face - 1
        for j in range(1, r.GHOSTS + 1):
            ghost = first - side * j
            inner = first + side * (j - 1)
            rho = max(2.0 * faces[k, 4] - w[r.DENSITY + inner], 0.1 * faces[k, 4])
            w[r.DENSITY + ghost] = rho
            # Conserved rows get some sensible gas: they are read, but never used.
            w[r.MOMENTUM + ghost] = 0.0
            w[r.ENERGY + ghost] = rho * w[r.INTERNAL + first]
            w[r.BURNED + ghost] = rho * w[r.FRACTION + first]
            w[r.VELOCITY + ghost] = 2.0 * faces[k, 5] - w[r.VELOCITY + inner]
            w[r.PRESSURE + ghost] = max(
                2.0 * faces[k, 6] - w[r.PRESSURE + inner], 0.1 * faces[k, 6]
            )
            w[r.FRACTION + ghost] = 2.0 * faces[k, 7] - w[r.FRACTION + inner]
            w[r.SOUND + ghost] = w[r.SOUND + first]
            w[r.INV_SOUND2 + ghost] = w[r.INV_SOUND2 + first]
            w[r.INV_SLOPE + ghost] = w[r.INV_SLOPE + first]
            w[r.INTERNAL + ghost] = w[r.INTERNAL + first]
