"""What an engine does at one speed: results by cylinder, pictures over the cycle, the sum of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d import march as ma
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.build import EngineNetwork
from portwright.core.gas1d.engine import Engine

# Standard air of the volumetric efficiency: gas constant of dry air. [J/(kg K)]
_AIR = 287.05


@dataclass(frozen=True, slots=True)
class CylinderResult:
    """One cylinder over one cycle.

    Parameters
    ----------
    air_mass, trapped_mass : float
        Air that stayed after passing the intake valve; all gas at intake closing. [kg]
    volumetric_efficiency : float
        Air mass over swept volume at the density of the surroundings. [-]
    residual : float
        Burned share at intake closing. [-]
    reversion : float
        Mass that flowed back into the intake port over mass that came in. [-]
    lost_charge : float
        Fresh charge that left through the exhaust valve over charge that came in. [-]
    indicated, gas_exchange : float
        Mean effective pressure of the whole cycle and of its exhaust and intake strokes. [Pa]
    most_pressure, most_pressure_angle : float
        Peak pressure and its crank angle after firing dead centre. [Pa, deg]
    opening_pressure : float
        Cylinder pressure when the exhaust valve opens. [Pa]
    wall_heat, released : float
        Heat to the walls and energy released. [J]
    """

    air_mass: float
    trapped_mass: float
    volumetric_efficiency: float
    residual: float
    reversion: float
    lost_charge: float
    indicated: float
    gas_exchange: float
    most_pressure: float
    most_pressure_angle: float
    opening_pressure: float
    wall_heat: float
    released: float


@dataclass(frozen=True, slots=True, eq=False)
class Pictures:
    """Recorded cycle.

    Parameters
    ----------
    angle : ndarray, shape (s,)
        Crank angle of the first cylinder from its firing dead centre. [deg]
    cylinders : ndarray, shape (s, n, 4)
        Pressure [Pa], temperature [K], mass [kg] and burned mass [kg] of each cylinder.
    intake_valve, exhaust_valve : ndarray, shape (s, n, 4)
        At the port side of the valves: mass flow into the port [kg/s], pressure [Pa], velocity
        [m/s], density [kg/m3].
    tubes : dict of str to ndarray, shape (s, cells, 4)
        Pressure [Pa], velocity [m/s], sound speed [m/s], burned share by tube.
    positions : dict of str to ndarray, shape (cells,)
        Distance of the cells from the left end of the tube. [m]
    """

    angle: Array
    cylinders: Array
    intake_valve: Array
    exhaust_valve: Array
    tubes: dict[str, ma.Singles]
    positions: dict[str, Array]


@dataclass(frozen=True, slots=True, eq=False)
class OperatingPoint:
    """An engine at one speed.

    Parameters
    ----------
    speed : float
        Crank speed. [rev/min]
    torque, power : float
        At the crank, all cylinders. [N m, W]
    volumetric_efficiency : float
        Mean of the cylinders. [-]
    indicated, friction, brake : float
        Mean effective pressures, mean of the cylinders. [Pa]
    air_flow, fuel_flow : float
        All cylinders. [kg/s]
    charge_temperature : float
        Charge entering the runners. [K]
    cylinders : tuple of CylinderResult
    most_mach : dict of str to ndarray, shape (cells,)
        Largest Mach number each cell saw, by tube; empty unless recorded.
    cycles, steps : int
        Cycles until they repeated, time steps.
    cycle_change : float
        Relative change of trapped charge and work in the last cycle. [-]
    mass_imbalance, energy_imbalance : float
        What is missing in the books of the last cycle, relative to what flowed. [-]
    pictures : Pictures or None
    """

    speed: float
    torque: float
    power: float
    volumetric_efficiency: float
    indicated: float
    friction: float
    brake: float
    air_flow: float
    fuel_flow: float
    charge_temperature: float
    cylinders: tuple[CylinderResult, ...]
    most_mach: dict[str, Array]
    cycles: int
    steps: int
    cycle_change: float
    mass_imbalance: float
    energy_imbalance: float
    pictures: Pictures | None


def tube_label(built: EngineNetwork, tube: int) -> str:
    """Name of a tube with its cylinder or collector number, counted from one.

    Parameters
    ----------
    built : EngineNetwork
    tube : int
        Number of the tube.

    Returns
    -------
    str
    """
    if tube in built.tails:
        return f"tail {built.tails.index(tube) + 1}"
    kind = "intake" if tube in built.intake else "exhaust"
    return f"{kind} {tube // 2 + 1}"


def _cylinder(engine: Engine, built: EngineNetwork, k: int) -> CylinderResult:
    n = built.network
    total = n.totals[built.cylinders[k]]
    intake = n.end_totals[2 * built.intake[k] + 1]
    exhaust = n.end_totals[2 * built.exhaust[k]]
    afr = built.gas.air_fuel_ratio
    fresh_in = intake[ma.END_FRESH_OUT]
    air = (fresh_in - intake[ma.END_FRESH_IN]) * afr / (1.0 + afr)
    swept = engine.mechanics.swept
    outside = engine.air.pressure / (_AIR * engine.air.temperature)
    back = intake[ma.END_MASS] + intake[ma.END_MASS_BACK]
    lost = exhaust[ma.END_FRESH_IN] - exhaust[ma.END_FRESH_OUT]
    return CylinderResult(
        air_mass=float(air),
        trapped_mass=float(total[ma.TRAPPED_MASS]),
        volumetric_efficiency=float(air / (outside * swept)),
        residual=float(total[ma.TRAPPED_BURNED] / max(total[ma.TRAPPED_MASS], 1e-30)),
        reversion=float(back / max(intake[ma.END_MASS_BACK], 1e-30)),
        lost_charge=float(lost / max(fresh_in, 1e-30)),
        indicated=float(total[ma.WORK] / swept),
        gas_exchange=float(total[ma.GAS_EXCHANGE_WORK] / swept),
        most_pressure=float(total[ma.MOST_PRESSURE]),
        most_pressure_angle=float(total[ma.ANGLE_OF_MOST]),
        opening_pressure=float(total[ma.OPENING_PRESSURE]),
        wall_heat=float(total[ma.HEAT_LOST]),
        released=float(total[ma.HEAT_RELEASED]),
    )


def sum_up(
    engine: Engine,
    built: EngineNetwork,
    speed: float,
    cycles: int,
    change: float,
    missing: tuple[float, float],
    pictures: Pictures | None,
) -> OperatingPoint:
    """Sum up a cycle that repeats.

    Parameters
    ----------
    engine : Engine
    built : EngineNetwork
        As it stands after the cycle.
    speed : float
        Crank speed. [rev/min]
    cycles : int
    change : float
        What the last cycle changed, relative. [-]
    missing : tuple of float
        Mass and energy the books miss, relative. [-]
    pictures : Pictures or None

    Returns
    -------
    OperatingPoint
    """
    m = engine.mechanics
    cylinders = tuple(_cylinder(engine, built, k) for k in range(m.cylinders))
    per_second = speed / 120.0
    indicated = float(np.mean([c.indicated for c in cylinders]))
    peak = float(np.mean([c.most_pressure for c in cylinders]))
    friction = engine.rubbing.mean_pressure(peak, 2.0 * m.stroke * speed / 60.0)
    brake = indicated - friction
    power = brake * m.swept * m.cylinders * per_second
    air_flow = sum(c.air_mass for c in cylinders) * per_second
    n = built.network
    most_mach = {}
    if pictures is not None:
        most_mach = {
            tube_label(built, t): n.part(r.MOST_MACH, t).copy() for t in range(len(n.tubes))
        }
    return OperatingPoint(
        speed=speed,
        torque=power / (speed * np.pi / 30.0),
        power=power,
        volumetric_efficiency=float(np.mean([c.volumetric_efficiency for c in cylinders])),
        indicated=indicated,
        friction=friction,
        brake=brake,
        air_flow=air_flow,
        fuel_flow=air_flow / built.gas.air_fuel_ratio,
        charge_temperature=built.charge_temperature,
        cylinders=cylinders,
        most_mach=most_mach,
        cycles=cycles,
        steps=int(n.clock[ma.STEPS]),
        cycle_change=change,
        mass_imbalance=missing[0],
        energy_imbalance=missing[1],
        pictures=pictures,
    )
