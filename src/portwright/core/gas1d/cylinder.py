"""Cylinder: piston motion, burning, wall heat and gas state, as compiled functions.

One zone: fresh charge and burned gas share pressure and temperature.  Knock is not modelled.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d.compiled import exact

# Columns of the cylinder parameter table
BORE: Final = 0
STROKE: Final = 1
ROD: Final = 2
CLEARANCE: Final = 3  # volume at top dead centre
BURN_START: Final = 4  # crank angle after firing dead centre [deg]
BURN_LENGTH: Final = 5  # [deg]
WIEBE_A: Final = 6
WIEBE_M: Final = 7
HEAT_RELEASE: Final = 8  # energy per mass of fresh charge burned
WALL_PISTON: Final = 9
WALL_HEAD: Final = 10
WALL_LINER: Final = 11
INTAKE_CLOSES: Final = 12  # crank angle, 540..720 [deg]
EXHAUST_OPENS: Final = 13  # crank angle, 0..360 [deg]
WOSCHNI_FACTOR: Final = 14
WOSCHNI_EXPONENT: Final = 15
HEAD_AREA_RATIO: Final = 16
HEAT_FACTOR: Final = 17  # factor on the heat flow, 0: adiabatic
CYLINDER_PARAMETERS: Final = 18

# Columns of the table grid (burned gas: rows of pressure, columns of temperature)
GRID_T0: Final = 0
GRID_DT: Final = 1
GRID_P0: Final = 2  # ln(pressure)
GRID_DP: Final = 3

# Woschni, form printed by Heywood 1988, eqs. 12.19-12.20 (from memory): pressure in kPa
_GAS_EXCHANGE: Final = 6.18
_CLOSED: Final = 2.28
_COMBUSTION: Final = 3.24e-3
_MOTORED_EXPONENT: Final = 1.33


@exact
def within_cycle(angle: float) -> float:
    """Crank angle brought between 0 and 720. [deg]"""
    return float(angle - 720.0 * np.floor(angle / 720.0))


@exact
def piston_position(angle: float, stroke: float, rod: float) -> float:
    """Distance of the piston from top dead centre.

    Parameters
    ----------
    angle : float
        Crank angle after top dead centre. [deg]
    stroke, rod : float
        Stroke and connecting-rod length, pin in the middle. [m]

    Returns
    -------
    float
        Distance. [m]

    Notes
    -----
    ``s = r (1 - cos a) + l - sqrt(l**2 - r**2 sin(a)**2)``, plane geometry.
    """
    radius = 0.5 * stroke
    a = angle * np.pi / 180.0
    across = radius * np.sin(a)
    return float(radius * (1.0 - np.cos(a)) + rod - np.sqrt(rod * rod - across * across))


@exact
def cylinder_volume(angle: float, c: Array) -> float:
    """Volume above the piston. [m3]"""
    bore = c[BORE]
    area = 0.25 * np.pi * bore * bore
    return float(c[CLEARANCE] + area * piston_position(angle, c[STROKE], c[ROD]))


@exact
def burned_share(angle: float, start: float, length: float, a: float, m: float) -> float:
    """Share of the charge burned, Wiebe function scaled to end at one.

    Parameters
    ----------
    angle : float
        Crank angle after firing dead centre. [deg]
    start, length : float
        Start and length of burning. [deg]
    a, m : float
        Completeness and shape. [-]

    Returns
    -------
    float
        0 before the start, 1 after the end. [-]
    """
    y = (angle - start) / length
    if y <= 0.0:
        return 0.0
    if y >= 1.0:
        return 1.0
    return float((1.0 - np.exp(-a * y ** (m + 1.0))) / (1.0 - np.exp(-a)))


@exact
def wall_coefficient(
    bore: float, pressure: float, temperature: float, speed: float, factor: float, exponent: float
) -> float:
    """Heat transfer coefficient after Woschni.

    ``h = factor B^-0.2 p^0.8 T^exponent w^0.8`` with p in kPa; 3.26 and -0.55 is the variant
    printed by Heywood 1988 (from memory).

    Parameters
    ----------
    bore : float
        Bore. [m]
    pressure, temperature : float
        Gas state. [Pa, K]
    speed : float
        Characteristic gas speed. [m/s]
    factor, exponent : float
        Constants of the variant. [-]

    Returns
    -------
    float
        Heat transfer coefficient. [W/(m2 K)]
    """
    # B^-0.2 (p w)^0.8 = ((p w)^4 / B)^0.2: one logarithm for three powers.
    flow = 1e-3 * pressure * speed
    square = flow * flow
    return float(
        factor * np.exp(0.2 * np.log(square * square / bore) + exponent * np.log(temperature))
    )


@exact
def gas_state(
    mass: float,
    energy: float,
    fraction: float,
    volume: float,
    guess: float,
    fresh: Array,
    burned: Array,
    grid: Array,
) -> tuple[float, float, float, float]:
    """Pressure and temperature of a mixture of fresh and burned gas.

    Parameters
    ----------
    mass : float
        Mass. [kg]
    energy : float
        Internal energy, same datum as the tables. [J]
    fraction : float
        Burned mass fraction. [-]
    volume : float
        Volume. [m3]
    guess : float
        Temperature to start from. [K]
    fresh : ndarray, shape (nt, 2)
        Internal energy [J/kg] and gas constant [J/(kg K)] of the fresh charge.
    burned : ndarray, shape (np, nt, 2)
        The same of burned gas in equilibrium, by pressure and temperature.
    grid : ndarray, shape (4,)
        First temperature and its step, first ln(pressure) and its step.

    Returns
    -------
    tuple of float
        Pressure [Pa], temperature [K], gas constant [J/(kg K)], ratio of specific heats [-];
        a negative pressure says that no state was found.
    """
    target = energy / mass
    temperature = guess
    most = fresh.shape[0] - 2
    rows = burned.shape[0] - 2
    gas = fresh[0, 1] + (burned[0, 0, 1] - fresh[0, 1]) * fraction
    for _ in range(40):
        x = (temperature - grid[GRID_T0]) / grid[GRID_DT]
        j = min(max(int(x), 0), most)
        x -= j
        z = (np.log(mass * gas * temperature / volume) - grid[GRID_P0]) / grid[GRID_DP]
        i = min(max(int(z), 0), rows)
        z = min(max(z - i, 0.0), 1.0)
        u0 = burned[i, j, 0] + (burned[i + 1, j, 0] - burned[i, j, 0]) * z
        u1 = burned[i, j + 1, 0] + (burned[i + 1, j + 1, 0] - burned[i, j + 1, 0]) * z
        r0 = burned[i, j, 1] + (burned[i + 1, j, 1] - burned[i, j, 1]) * z
        r1 = burned[i, j + 1, 1] + (burned[i + 1, j + 1, 1] - burned[i, j + 1, 1]) * z
        low = fresh[j, 0] + (u0 - fresh[j, 0]) * fraction
        high = fresh[j + 1, 0] + (u1 - fresh[j + 1, 0]) * fraction
        rise = high - low
        gas = fresh[j, 1] + (r0 + (r1 - r0) * x - fresh[j, 1]) * fraction
        change = (target - low) / rise - x
        temperature += change * grid[GRID_DT]
        if not temperature > 0.5 * grid[GRID_T0]:
            return -1.0, temperature, gas, 1.4
        if abs(change) < 1e-9:
            heat = rise / grid[GRID_DT]
            return mass * gas * temperature / volume, temperature, gas, 1.0 + gas / heat
    return -1.0, temperature, gas, 1.4


@exact
def wall_heat(
    angle: float,
    c: Array,
    pressure: float,
    temperature: float,
    volume: float,
    piston_speed: float,
    closed: Array,
) -> float:
    """Heat flow from gas to walls.

    Parameters
    ----------
    angle : float
        Crank angle, 0..720 from firing dead centre. [deg]
    c : ndarray, shape (18,)
        Cylinder parameters.
    pressure, temperature, volume : float
        Gas state. [Pa, K, m3]
    piston_speed : float
        Mean piston speed. [m/s]
    closed : ndarray, shape (3,)
        Pressure, volume and temperature when the intake valve closed. [Pa, m3, K]

    Returns
    -------
    float
        Heat flow, positive when the gas cools. [W]
    """
    if c[HEAT_FACTOR] == 0.0:
        return 0.0
    bore = c[BORE]
    area = 0.25 * np.pi * bore * bore
    speed = _GAS_EXCHANGE * piston_speed
    if angle < c[EXHAUST_OPENS] or angle >= c[INTAKE_CLOSES]:
        speed = _CLOSED * piston_speed
        after = angle if angle < 360.0 else angle - 720.0
        if after >= c[BURN_START] and closed[0] > 0.0:
            motored = closed[0] * np.exp(_MOTORED_EXPONENT * np.log(closed[1] / volume))
            swept = area * c[STROKE]
            speed += (
                _COMBUSTION
                * swept
                * closed[2]
                / (closed[0] * closed[1])
                * max(pressure - motored, 0.0)
            )
    h = wall_coefficient(bore, pressure, temperature, speed, c[WOSCHNI_FACTOR], c[WOSCHNI_EXPONENT])
    liner = 4.0 * (volume - c[CLEARANCE]) / bore
    return float(
        c[HEAT_FACTOR]
        * h
        * (
            area * (temperature - c[WALL_PISTON])
            + c[HEAD_AREA_RATIO] * area * (temperature - c[WALL_HEAD])
            + liner * (temperature - c[WALL_LINER])
        )
    )
