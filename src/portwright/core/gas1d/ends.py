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
_SETTLED: Final = 1e-9
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
    y = ratio ** (k / gamma)
    throat2 = speed * speed + 2.0 * sound2 / k * (1.0 - y)
    if throat2 > sound2 * y:
        y = (1.0 + 0.5 * k * speed * speed / sound2) * 2.0 / (gamma + 1.0)
        return float(density * y ** (1.0 / k) * np.sqrt(sound2 * y))
    return float(density * ratio / y * np.sqrt(max(throat2, 0.0)))


@exact
def _guess(share: float, impedance: float, density: float, difference: float) -> float:
    """Speed in the tube if the gas could not be compressed: where the search starts."""
    kappa = share * share / (1.0 - share * share)
    b = kappa * impedance / density
    return float(-b + np.sqrt(b * b + 2.0 * kappa * difference / density))


@exact
def _leaving_excess(
    q: float,
    wall: float,
    impedance: float,
    p_in: float,
    rho_in: float,
    c2: float,
    gamma: float,
    share: float,
    back: float,
) -> float:
    """Mass brought minus mass taken by the valve, gas leaving the tube at speed q."""
    p = wall - impedance * q
    rho = rho_in + (p - p_in) / c2
    return rho * q - share * orifice_flow(p, rho, q, gamma, back)


@exact
def _entering_excess(
    v: float, wall: float, impedance: float, p_v: float, rho_v: float, gamma: float, share: float
) -> float:
    """Mass carried off in the tube minus mass through the valve, gas entering at speed v."""
    p = wall + impedance * v
    g = p_v / rho_v - (gamma - 1.0) / gamma * 0.5 * v * v
    return p / g * v - share * orifice_flow(p_v, rho_v, 0.0, gamma, min(p, p_v))


@exact
def valve_speed(  # noqa: C901, PLR0912 - one search loop, splitting it hides the bracket
    share: float,
    wall: float,
    impedance: float,
    p_in: float,
    rho_in: float,
    c2: float,
    gamma_in: float,
    vessel: Array,
) -> float:
    """Speed at a valve, positive into the tube, by a bracketed secant search.

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
    vessel : ndarray, shape (5,)
        Vessel state.

    Returns
    -------
    float
        Speed, positive into the tube. [m/s]
    """
    back = vessel[V_PRESSURE]
    leaving = wall > back
    share = min(share, MOST_OPENING)
    difference = abs(wall - back)
    if share < _LEAST_OPENING or difference == 0.0:
        return 0.0
    rho_v, gamma_v = vessel[V_DENSITY], vessel[V_GAMMA]
    high = difference / impedance
    guess = _guess(share, impedance, rho_in if leaving else rho_v, difference)
    if not leaving:
        high = min(high, np.sqrt(2.0 / (gamma_v + 1.0) * gamma_v * back / rho_v))
    else:
        high = min(high, np.sqrt(c2))
    low = 0.0
    f_low = 0.0
    f_high = 0.0
    have_low = False
    have_high = False
    x = min(guess, 0.999 * high)
    scale = 0.0
    for _ in range(_MOST_STEPS):
        if leaving:
            f = _leaving_excess(x, wall, impedance, p_in, rho_in, c2, gamma_in, share, back)
        else:
            f = _entering_excess(x, wall, impedance, back, rho_v, gamma_v, share)
        scale = rho_in * x
        if abs(f) <= _SETTLED * scale:
            break
        if f > 0.0:
            if have_high and have_low:
                f_low *= 0.5
            high, f_high, have_high = x, f, True
        else:
            if have_low and have_high:
                f_high *= 0.5
            low, f_low, have_low = x, f, True
        if have_low and have_high:
            x = (low * f_high - high * f_low) / (f_high - f_low)
        elif have_low:
            if high - low <= 1e-12 * high:
                break
            x = min(1.3 * low, 0.5 * (low + high)) if low > 0.0 else 0.5 * high
            if low > 0.9 * high:
                x = high
        else:
            x = 0.7 * high
    return float(-x if leaving else x)


@exact
def entering_speed(wall: float, impedance: float, vessel: Array) -> float:
    """Speed of gas entering an open end from rest in a vessel.

    Solved for the speed, not the pressure: at rest the answer is exactly zero.
    """
    p_v = vessel[V_PRESSURE]
    gamma = vessel[V_GAMMA]
    c2 = gamma * p_v / vessel[V_DENSITY]
    k = gamma - 1.0
    most = np.sqrt(2.0 * c2 / (gamma + 1.0))
    v = (p_v - wall) / impedance
    v = min(v / (1.0 + 0.5 * vessel[V_DENSITY] * v / impedance), most)
    for _ in range(20):
        x = 1.0 - 0.5 * k * v * v / c2
        p = p_v * x ** (gamma / k)
        f = p - wall - impedance * v
        change = f / (vessel[V_DENSITY] * p / (p_v * x) * v + impedance)
        v = min(max(v + change, 0.0), most)
        if abs(change) <= 1e-10 * (1.0 + v):
            break
    return float(v)


@exact
def solve_end(  # noqa: PLR0915 - one case after the other, read top to bottom
    w: Array, end: Ints, share: float, vessels: Array, flux: Array
) -> None:
    """Put the flux of one end into the face and into ``flux`` (positive into the tube).

    Parameters
    ----------
    w : ndarray
        Work array.
    end : ndarray of int, shape (6,)
        One row of the end table.
    share : float
        Effective valve area over the section of the tube. [-]
    vessels : ndarray, shape (n, 5)
        Vessel states.
    flux : ndarray, shape (8,)
        Out: mass, momentum, energy, burned mass per area and time, then density, velocity
        (positive along the tube), pressure and burned fraction of the face.
    """
    face = end[FACE]
    side = float(end[SIDE])
    if end[SIDE] > 0:
        cell = face
        rho_in, u_in, p_in = w[r.R_DENSITY + face], w[r.R_VELOCITY + face], w[r.R_PRESSURE + face]
        internal, y_in = w[r.R_INTERNAL + face], w[r.R_FRACTION + face]
    else:
        cell = face - 1
        rho_in, u_in, p_in = w[r.L_DENSITY + face], w[r.L_VELOCITY + face], w[r.L_PRESSURE + face]
        internal, y_in = w[r.L_INTERNAL + face], w[r.L_FRACTION + face]
    kind = end[KIND]
    v_in = side * u_in
    c = w[r.SOUND + cell]
    impedance = w[r.DENSITY + cell] * c
    wall = p_in - impedance * v_in
    leaving = True
    v = v_in
    if kind == CLOSED:
        v = 0.0
    elif kind == OPEN:
        back = vessels[end[VESSEL], V_PRESSURE]
        if back > wall:
            leaving = False
            v = entering_speed(wall, impedance, vessels[end[VESSEL]])
        elif -v_in < c:
            v = max((back - wall) / impedance, -c)
    elif kind == VALVE:
        vessel = vessels[end[VESSEL]]
        gamma_in = 1.0 + 1.0 / w[r.INV_SLOPE + cell]
        v = valve_speed(share, wall, impedance, p_in, rho_in, c * c, gamma_in, vessel)
        leaving = v <= 0.0
    if leaving:
        p = p_in + impedance * (v - v_in)
        rho = rho_in + (p - p_in) / (c * c)
        g = p_in / rho_in
        internal_face = internal / rho_in * rho + (p - g * rho) * w[r.INV_SLOPE + cell]
        enthalpy = (internal_face + p) / rho + 0.5 * v * v
        y = y_in
    else:
        vessel = vessels[end[VESSEL]]
        gamma = vessel[V_GAMMA]
        p = wall + impedance * v
        g = vessel[V_PRESSURE] / vessel[V_DENSITY] - (gamma - 1.0) / gamma * 0.5 * v * v
        rho = p / g
        enthalpy = vessel[V_ENTHALPY]
        y = vessel[V_FRACTION]
    mass = rho * v
    flux[0] = mass
    flux[1] = mass * v + p
    flux[2] = mass * enthalpy
    flux[3] = mass * y
    flux[4] = rho
    flux[5] = side * v
    flux[6] = p
    flux[7] = y
    w[r.FLUX_MASS + face] = side * flux[0]
    w[r.FLUX_MOMENTUM + face] = flux[1]
    w[r.FLUX_ENERGY + face] = side * flux[2]
    w[r.FLUX_BURNED + face] = side * flux[3]
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
