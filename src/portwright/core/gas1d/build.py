"""Lay an engine out as tubes and vessels for the main loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.gas1d import cylinder as cy
from portwright.core.gas1d import ends as en
from portwright.core.gas1d import march as ma
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.ducts import Duct, to_tube
from portwright.core.gas1d.engine import EVAPORATION_HEAT, Engine
from portwright.core.gas1d.gas import Gas, fuel_gas
from portwright.core.gas1d.network import End, Network, Tube, build_network, fill_tube
from portwright.core.gas1d.valves import ANGLES
from portwright.core.gas1d.vessels import surroundings, volume
from portwright.errors import RangeError

OUTSIDE, BEHIND = 0, 1  # vessels: intake surroundings, exhaust surroundings
FIRST_CYLINDER = 2

_HOT = 900.0  # exhaust gas to start from [K]


@dataclass(frozen=True, slots=True, eq=False)
class EngineNetwork:
    """A network and where the parts of the engine are in it.

    Parameters
    ----------
    network : Network
    gas : Gas
    intake, exhaust, tails : tuple of int
        Numbers of the tubes, intake and exhaust by cylinder, tails by collector.
    cylinders : tuple of int
        Numbers of the vessels.
    charge_temperature : float
        Temperature of the charge entering the runners, cooled by evaporating fuel. [K]
    """

    network: Network
    gas: Gas
    intake: tuple[int, ...]
    exhaust: tuple[int, ...]
    tails: tuple[int, ...]
    cylinders: tuple[int, ...]
    charge_temperature: float


def charge_temperature(engine: Engine, gas: Gas) -> float:
    """Temperature of the charge after part of the fuel evaporated in it.

    ``T - share * h / ((1 + air/fuel) cp)``: the heat comes from the charge alone.

    Parameters
    ----------
    engine : Engine
    gas : Gas
        Gas of the engine's fuel.

    Returns
    -------
    float
        Temperature. [K]

    Raises
    ------
    RangeError
        So cold that the model means nothing.
    """
    fuel, warm = engine.fuel, engine.air.temperature
    heat = fuel.evaporated * EVAPORATION_HEAT[fuel.name] / (1.0 + gas.air_fuel_ratio)
    gamma = gas.gamma(gas.internal_energy(warm))
    cooled = warm - heat * (gamma - 1.0) / (gamma * gas.gas_constant())
    if cooled < 220.0:
        raise RangeError(
            f"Evaporating {fuel.evaporated:.0%} of the fuel from charge heat alone would cool the "
            f"charge to {cooled:.0f} K.",
            "Lower the evaporated share: walls supply the rest of the heat.",
        )
    return cooled


def _pick(ducts: tuple[Duct, ...], k: int) -> Duct:
    return ducts[k] if len(ducts) > 1 else ducts[0]


def build_engine(
    engine: Engine, speed: float, cell: float, exhaust_cell: float | None = None
) -> EngineNetwork:
    """Build the network of an engine at a speed, filled to start from.

    Parameters
    ----------
    engine : Engine
    speed : float
        Crank speed. [rev/min]
    cell : float
        Cell length. [m]
    exhaust_cell : float, optional
        Cell length of the exhaust, where different. [m]

    Returns
    -------
    EngineNetwork
    """
    exhaust_cell = exhaust_cell or cell
    gas = fuel_gas(engine.fuel.name, engine.fuel.air_ratio)
    n = engine.mechanics.cylinders
    plenum = FIRST_CYLINDER + n if engine.plenum else OUTSIDE
    first_collector = FIRST_CYLINDER + n + (1 if engine.plenum else 0)
    vessels = first_collector + len(engine.collectors)
    collector_of = {
        k: first_collector + j for j, c in enumerate(engine.collectors) for k in c.cylinders
    }
    tubes: list[Tube] = []
    pairs: list[tuple[End, End]] = []
    for k in range(n):
        cylinder = FIRST_CYLINDER + k
        tubes.append(to_tube(_pick(engine.intake, k), cell))
        pairs.append((End(en.OPEN, plenum), End(en.VALVE, cylinder, curve=0)))
        tubes.append(to_tube(_pick(engine.exhaust, k), exhaust_cell))
        pairs.append((End(en.VALVE, cylinder, curve=1), End(en.OPEN, collector_of.get(k, BEHIND))))
    for j, collector in enumerate(engine.collectors):
        tubes.append(to_tube(collector.tail, exhaust_cell))
        pairs.append((End(en.OPEN, first_collector + j), End(en.OPEN, BEHIND)))
    links = ((OUTSIDE, plenum, engine.plenum.opening),) if engine.plenum else ()
    network = build_network(
        gas,
        tuple(tubes),
        tuple(pairs),
        vessels=vessels,
        curves=np.vstack((engine.intake_area, engine.exhaust_area)),
        links=links,
    )
    cold = charge_temperature(engine, gas)
    air = engine.air
    surroundings(network, OUTSIDE, pressure=air.pressure, temperature=cold)
    surroundings(network, BEHIND, pressure=air.exhaust_pressure, temperature=air.temperature)
    if engine.plenum:
        volume(network, plenum, size=engine.plenum.size, pressure=air.pressure, temperature=cold)
    for j, collector in enumerate(engine.collectors):
        volume(
            network,
            first_collector + j,
            size=collector.size,
            pressure=air.exhaust_pressure,
            temperature=_HOT,
            fraction=1.0,
        )
    for t, tube in enumerate(tubes):
        is_intake = t < 2 * n and t % 2 == 0
        ratio = gas.gas_constant(0.0) * cold if is_intake else gas.gas_constant(1.0) * _HOT
        p = np.full(tube.cells, air.pressure if is_intake else air.exhaust_pressure)
        fill_tube(network, t, p / ratio, np.zeros(1), p, 0.0 if is_intake else 1.0)
    network.degrees = 6.0 * speed
    network.cylinder = cylinder_parameters(engine, gas)
    _fill_cylinders(network, engine, gas)
    return EngineNetwork(
        network=network,
        gas=gas,
        intake=tuple(range(0, 2 * n, 2)),
        exhaust=tuple(range(1, 2 * n, 2)),
        tails=tuple(range(2 * n, len(tubes))),
        cylinders=tuple(range(FIRST_CYLINDER, FIRST_CYLINDER + n)),
        charge_temperature=cold,
    )


def carry_over(coarse: EngineNetwork, fine: EngineNetwork) -> None:
    """Start a network from the state of the same engine with longer cells.

    Parameters
    ----------
    coarse, fine : EngineNetwork
        Same engine and speed; ``fine`` is changed.
    """
    a, b = coarse.network, fine.network
    for t, (tube, old) in enumerate(zip(b.tubes, a.tubes, strict=True)):
        x, x_old = tube.centres, old.centres
        for row in (r.DENSITY, r.MOMENTUM, r.ENERGY, r.BURNED):
            b.part(row, t)[:] = np.interp(x, x_old, a.part(row, t))
    b.faces[:] = a.faces
    b.content[:] = a.content
    b.states[:] = a.states
    b.clock[ma.CRANK] = a.clock[ma.CRANK]


def cylinder_parameters(engine: Engine, gas: Gas) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Parameter table of the compiled cylinder."""
    m, b, w = engine.mechanics, engine.burning, engine.walls
    c = np.zeros(cy.CYLINDER_PARAMETERS)
    c[cy.BORE], c[cy.STROKE], c[cy.ROD] = m.bore, m.stroke, m.rod
    c[cy.CLEARANCE] = m.swept / (m.compression - 1.0)
    c[cy.BURN_START], c[cy.BURN_LENGTH] = b.start, b.length
    c[cy.WIEBE_A], c[cy.WIEBE_M] = b.completeness, b.shape
    c[cy.HEAT_RELEASE] = b.efficiency * gas.energy_released
    c[cy.WALL_PISTON], c[cy.WALL_HEAD], c[cy.WALL_LINER] = w.piston, w.head, w.liner
    c[cy.WOSCHNI_FACTOR], c[cy.WOSCHNI_EXPONENT] = w.factor, w.exponent
    c[cy.HEAD_AREA_RATIO], c[cy.HEAT_FACTOR] = w.head_ratio, w.heat_factor
    open_in = ANGLES[(engine.intake_area > 0.0) & (ANGLES > 360.0)]
    c[cy.INTAKE_CLOSES] = min(max(open_in.max() if open_in.size else 540.0, 500.0), 719.0)
    open_out = ANGLES[(engine.exhaust_area > 0.0) & (ANGLES < 360.0)]
    c[cy.EXHAUST_OPENS] = max(open_out.min() if open_out.size else 180.0, 1.0)
    return c


def _fill_cylinders(network: Network, engine: Engine, gas: Gas) -> None:
    """Start each cylinder near what it will have at its crank angle."""
    c = network.cylinder
    largest = c[cy.CLEARANCE] + engine.mechanics.swept
    for k, firing in enumerate(engine.mechanics.firing):
        vessel = FIRST_CYLINDER + k
        angle = (720.0 - firing) % 720.0
        space = cy.cylinder_volume(angle, c)
        squeezed = angle < 180.0 or angle > 540.0
        ratio = largest / space if squeezed else 1.0
        pressure = engine.air.pressure * ratio**1.3
        temperature = (350.0 if angle > 360.0 else 1000.0) * ratio**0.3
        fraction = 0.1 if angle > 360.0 else 1.0
        constant = gas.gas_constant(fraction)
        mass = pressure * space / (constant * temperature)
        t = gas.grid[0] + gas.grid[1] * np.arange(gas.fresh.shape[0])
        row = gas.burned[gas.burned.shape[0] // 2]
        energy = gas.tube[12] + np.interp(
            temperature, t, gas.fresh[:, 0] * (1.0 - fraction) + row[:, 0] * fraction
        )
        network.kinds[vessel] = ma.CYLINDER
        network.phases[vessel] = angle
        content = network.content[vessel]
        content[ma.MASS], content[ma.ENERGY] = mass, mass * energy
        content[ma.BURNED], content[ma.SPACE] = mass * fraction, space
        content[ma.TEMPERATURE], content[ma.LAST_PRESSURE] = temperature, pressure
        content[ma.CLOSED_PRESSURE] = engine.air.pressure
        content[ma.CLOSED_SPACE], content[ma.CLOSED_TEMPERATURE] = largest, 350.0
        content[ma.FRESH_AT_START] = mass * (1.0 - fraction)
