"""Closed cylinder against Cantera 3.x with NASA polynomials (COMPUTED in the test).

Compression of fresh charge at constant entropy; expansion of burned gas in equilibrium.
Asked for: motored pressure and temperature within 0.1 %, burned expansion within 1 %.
"""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.gas1d import cylinder as cy
from portwright.core.gas1d import march as ma
from portwright.core.gas1d.build import FIRST_CYLINDER, build_engine
from portwright.core.gas1d.ducts import plain_pipe
from portwright.core.gas1d.engine import CURVE_SIZE, Burning, Engine, Fuel, Mechanics, Walls
from portwright.core.gas1d.gas import fuel_gas
from portwright.core.gas1d.network import Network, march
from portwright.refdata.gas_properties.generate import AIR, FUELS, PRODUCTS

pytestmark = [pytest.mark.published, pytest.mark.slow]

SPEED = 3000.0


def _closed_cylinder(
    fuel: str, angle: float, pressure: float, temperature: float, fraction: float
) -> Network:
    """Cylinder with shut valves and adiabatic walls, filled at a crank angle."""
    shut = np.zeros(CURVE_SIZE)
    pipe = plain_pipe("pipe", 0.1, 0.04)
    engine = Engine(
        Mechanics(0.09, 0.075, 0.145, 11.2),
        (pipe,),
        (pipe,),
        shut,
        shut,
        burning=Burning(half_burned=150.0, efficiency=0.0),  # never reached
        walls=Walls(heat_factor=0.0),
        fuel=Fuel(fuel, 1.0, 0.0),
    )
    network = build_engine(engine, SPEED, 0.02).network
    network.clock[ma.CRANK] = angle
    space = cy.cylinder_volume(angle, network.cylinder)
    gas = fuel_gas(fuel, 1.0)
    content = network.content[FIRST_CYLINDER]
    # Mass for the wanted pressure: find the energy by the inverse of the state function.
    low, high, mass = -2e5, 8e6, 1e-3
    for _ in range(200):
        energy = 0.5 * (low + high)
        state = cy.gas_state(
            mass, energy * mass, fraction, space, temperature, gas.fresh, gas.burned, gas.grid
        )
        mass = pressure * space / (state[2] * temperature)
        low, high = (energy, high) if state[1] < temperature else (low, energy)
    content[ma.MASS], content[ma.ENERGY] = mass, mass * (energy + gas.tube[12])
    content[ma.BURNED], content[ma.SPACE] = mass * fraction, space
    content[ma.TEMPERATURE], content[ma.LAST_PRESSURE] = temperature, pressure
    content[ma.FRESH_AT_START] = 0.0
    return network


def _state(network: Network, angle: float) -> tuple[float, float, float]:
    content = network.content[FIRST_CYLINDER]
    space = cy.cylinder_volume(angle, network.cylinder)
    gas = network.gas
    mass = content[ma.MASS]
    pressure, temperature, _, _ = cy.gas_state(
        mass,
        content[ma.ENERGY] - gas.tube[12] * mass,
        content[ma.BURNED] / mass,
        space,
        content[ma.TEMPERATURE],
        gas.fresh,
        gas.burned,
        gas.grid,
    )
    return pressure, temperature, space


@pytest.mark.parametrize("fuel", sorted(FUELS))
def test_motored_compression(fuel: str) -> None:
    import cantera as ct

    names = set(FUELS[fuel]) | set(AIR)
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]
    gas = ct.Solution(thermo="ideal-gas", species=species)
    gas.set_equivalence_ratio(1.0, FUELS[fuel], AIR)
    gas.TP = 330.0, 1e5
    network = _closed_cylinder(fuel, 540.0, 1e5, 330.0, 0.0)
    first = _state(network, 540.0)
    assert first[0] == pytest.approx(1e5, rel=1e-6)
    march(network, 30.0 / SPEED, 0.9)
    assert network.clock[ma.CRANK] == pytest.approx(720.0)
    pressure, temperature, space = _state(network, 720.0)
    gas.SV = gas.entropy_mass, gas.volume_mass * space / first[2]
    assert temperature == pytest.approx(gas.T, rel=1e-3)
    assert pressure == pytest.approx(gas.P, rel=1e-3)


@pytest.mark.parametrize("start", [2400.0, 2800.0])
def test_burned_expansion(start: float) -> None:
    import cantera as ct

    names = set(PRODUCTS)
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in names]
    gas = ct.Solution(thermo="ideal-gas", species=species)
    fresh = ct.Solution(
        thermo="ideal-gas",
        species=[
            s
            for s in ct.Species.list_from_file("nasa_gas.yaml")
            if s.name in set(FUELS["petrol"]) | set(AIR)
        ],
    )
    fresh.set_equivalence_ratio(1.0, FUELS["petrol"], AIR)
    atoms = {e: fresh.elemental_mole_fraction(e) for e in ("C", "H", "O", "N", "Ar")}
    gas.TPX = (
        start,
        70e5,
        {
            "CO": atoms["C"],
            "H2": atoms["H"] / 2.0,
            "O2": (atoms["O"] - atoms["C"]) / 2.0,
            "N2": atoms["N"] / 2.0,
            "Ar": atoms["Ar"],
        },
    )
    gas.equilibrate("TP")
    network = _closed_cylinder("petrol", 0.0, 70e5, start, 1.0)
    first = _state(network, 0.0)
    assert first[:2] == pytest.approx((70e5, start), rel=1e-5)
    entropy, volume = gas.entropy_mass, gas.volume_mass
    for angle in (40.0, 90.0, 130.0):
        march(network, angle / 6.0 / SPEED, 0.9)
        pressure, temperature, space = _state(network, angle)
        gas.SV = entropy, volume * space / first[2]
        gas.equilibrate("SV")
        assert temperature == pytest.approx(gas.T, rel=1e-2)
        assert pressure == pytest.approx(gas.P, rel=1e-2)


def test_constant_volume_burning_energy() -> None:
    """Energy released per charge equals the difference of internal energies at 298.15 K."""
    import cantera as ct

    gas = fuel_gas("methanol", 1.0)
    species = [
        s
        for s in ct.Species.list_from_file("nasa_gas.yaml")
        if s.name in {"CH3OH", "O2", "N2", "Ar", "CO2", "H2O"}
    ]
    mix = ct.Solution(thermo="ideal-gas", species=species)
    mix.set_equivalence_ratio(1.0, {"CH3OH": 1.0}, AIR)
    mix.TP = 298.15, 1e5
    before = mix.int_energy_mass
    x = mix["CH3OH"].X[0]
    mix.TPX = (
        298.15,
        1e5,
        {"CO2": x, "H2O": 2 * x, "N2": mix["N2"].X[0], "Ar": mix["Ar"].X[0]},
    )
    whole = before - mix.int_energy_mass
    # Burned gas of the table is frozen at 1750 K: a little carbon monoxide is left.
    assert 0.985 * whole < gas.energy_released < whole
