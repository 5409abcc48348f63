"""Small parts of the gas-dynamics solver on their own."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.gas1d import ends as en
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.ducts import Duct, end_correction, join, plain_pipe, to_tube
from portwright.core.gas1d.engine import CURVE_SIZE, Engine, Fuel, Mechanics
from portwright.core.gas1d.friction import friction_factor, viscosity
from portwright.core.gas1d.gas import fuel_gas, perfect_gas
from portwright.core.gas1d.network import End, Tube, build_network, fill_tube, march
from portwright.core.gas1d.tube import TubeState, solve_tube
from portwright.core.gas1d.valves import (
    ANGLES,
    area_against_crank,
    lift_from_events,
    lift_from_table,
)
from portwright.core.gas1d.vessels import surroundings
from portwright.core.gasflow import isentropic_mass_flux
from portwright.errors import (
    NonPhysicalStateError,
    NotConvergedError,
    RangeError,
    ShapeError,
    UnknownNameError,
)


@pytest.mark.parametrize("back", [99e3, 80e3, 53e3, 40e3, 10e3])
def test_compiled_orifice_is_the_one_of_the_bench(back: float) -> None:
    density = 1e5 / (287.0 * 300.0)
    got = en.orifice_flow(1e5, density, 0.0, 1.4, back)
    want = isentropic_mass_flux(1e5, 300.0, back, 1.4, 287.0)
    assert got == pytest.approx(float(want), rel=1e-12)


def test_approaching_speed_adds_flow_and_choked_flow_forgets_what_is_behind() -> None:
    density = 1e5 / (287.0 * 300.0)
    assert en.orifice_flow(1e5, density, 80.0, 1.4, 9e4) > en.orifice_flow(
        1e5, density, 0.0, 1.4, 9e4
    )
    assert en.orifice_flow(1e5, density, 50.0, 1.4, 3e4) == pytest.approx(
        en.orifice_flow(1e5, density, 50.0, 1.4, 1e4), rel=1e-14
    )


@pytest.mark.parametrize("share", [1e-3, 0.1, 0.5, 0.9, 0.98])
@pytest.mark.parametrize("wall", [0.2e5, 0.9e5, 0.999e5, 1.001e5, 1.2e5, 4e5])
def test_valve_speed_balances_mass(share: float, wall: float) -> None:
    """The bracketed search ends where tube and valve carry the same mass.

    It stops at 1e-5 and then makes one last correction.
    """
    rho, c2, back = 1.2, 1.4 * 1e5 / 1.2, 1e5
    impedance = rho * np.sqrt(c2)
    v = en.valve_speed(share, wall, impedance, wall, rho, c2, 1.4, back, 1.1, 1.4, 0.0)
    if wall > back:
        assert v < 0.0
        p = max(wall + impedance * v, 0.1 * wall)
        inside = max(rho + (p - wall) / c2, 0.1 * rho)
        through = share * en.orifice_flow(p, inside, -v, 1.4, back)
        capped = -v >= 0.999 * np.sqrt(c2)
        assert capped or -v * inside == pytest.approx(through, rel=1e-5)
    else:
        assert v > 0.0
        p = wall + impedance * v
        inside = p / (back / 1.1 - 0.4 / 1.4 * 0.5 * v * v)
        through = share * en.orifice_flow(back, 1.1, 0.0, 1.4, min(p, back))
        capped = v >= 0.999 * np.sqrt(2.0 / 2.4 * 1.4 * back / 1.1)
        assert capped or v * inside == pytest.approx(through, rel=1e-5)


def test_nothing_moves_where_nothing_drives() -> None:
    assert en.valve_speed(0.5, 1e5, 400.0, 1e5, 1.2, 1.2e5, 1.4, 1e5, 1.2, 1.4, 0.0) == 0.0
    assert en.entering_speed(1e5, 400.0, 1e5, 1.2, 1.4, 0.0) == 0.0


def test_friction_factor_between_smooth_and_rough() -> None:
    # Fully rough limit of the correlation itself (definition), and its growth with roughness.
    assert friction_factor(1e9, 0.01) == pytest.approx(
        (-1.8 * np.log10((0.01 / 3.7) ** 1.11)) ** -2, rel=1e-3
    )
    assert friction_factor(1e5, 0.0) < friction_factor(1e5, 0.001) < friction_factor(1e5, 0.01)
    assert friction_factor(100.0, 0.001) == friction_factor(2300.0, 0.001)


def test_viscosity_of_air_at_room_temperature() -> None:
    # 18.2 uPa s at 293 K (from memory, common tables).
    assert viscosity(293.15) == pytest.approx(18.2e-6, rel=0.01)


def test_fuel_gas_polynomial_follows_its_tables() -> None:
    for name in ("petrol", "race-petrol", "e85", "methanol"):
        gas = fuel_gas(name, 0.88)
        # Temperature error in the tubes; 0.2 % was seen.
        assert gas.fit_error < 4e-3
        assert 1.3 < gas.gamma(gas.internal_energy(300.0)) < 1.41
        assert 1.2 < gas.gamma(gas.internal_energy(1200.0, 1.0), 1.0) < 1.32
    assert fuel_gas("methanol", 1.0).air_fuel_ratio == pytest.approx(6.47, abs=0.05)


def test_unknown_fuel_and_air_ratio_are_refused() -> None:
    with pytest.raises(UnknownNameError, match="methanol"):
        Fuel("methnol")
    with pytest.raises(RangeError, match="Air ratio"):
        fuel_gas("petrol", 1.5)


def test_lift_from_table_puts_the_lobe_where_it_belongs() -> None:
    offset = np.linspace(-120.0, 120.0, 49)
    lift = 10e-3 * np.cos(np.deg2rad(0.75 * offset)) ** 2
    curve = lift_from_table(offset, lift, 466.0, lash=0.2e-3)
    assert ANGLES[int(np.argmax(curve))] == 466.0
    assert curve.max() == pytest.approx(9.8e-3)
    assert curve[ANGLES < 340.0].max() == 0.0
    # A lobe across the end of the table goes on at its start.
    wrapped = lift_from_table(offset, lift, 700.0)
    assert wrapped[0] > 0.0


def test_lift_from_events_meets_the_card() -> None:
    curve = lift_from_events(330.0, 590.0, 1.27e-3, 11e-3)
    at = np.interp([330.0, 590.0], ANGLES, curve)
    assert at == pytest.approx([1.27e-3] * 2, rel=2e-3)  # a quarter degree of table step
    assert curve.max() == pytest.approx(11e-3)
    with pytest.raises(RangeError, match="cam card"):
        lift_from_events(590.0, 330.0, 1.27e-3, 11e-3)


def test_area_is_held_above_the_last_tested_lift() -> None:
    lift_curve = np.linspace(0.0, 15e-3, CURVE_SIZE)
    area = area_against_crank(lift_curve, np.array([2e-3, 10e-3]), np.array([1e-4, 4e-4]))
    assert area[0] == 0.0
    assert area[-1] == pytest.approx(4e-4)
    assert np.all(np.diff(area) >= 0.0)


def test_joined_duct_keeps_length_area_and_volume() -> None:
    first = plain_pipe("runner", 0.2, 0.04, end_diameter=0.036)
    second = Duct("port", np.array([0.0, 0.05, 0.1]), np.array([9e-4, 8e-4, 9.5e-4]))
    both = join("intake", first, second)
    assert both.length == pytest.approx(0.302)  # 2 mm for the step between them
    x = np.array([0.0, 0.1, 0.252, 0.302])
    assert both.area_at(x) == pytest.approx(
        [0.25 * np.pi * 0.04**2, 0.25 * np.pi * 0.038**2, 8e-4, 9.5e-4], rel=2e-3
    )
    assert both.smallest() == pytest.approx(8e-4, rel=1e-3)


def test_area_factor_narrows_the_smallest_section_only() -> None:
    x = np.array([0.0, 0.06, 0.12])
    plain = Duct("port", x, np.array([11e-4, 8e-4, 10e-4]))
    narrow = Duct("port", x, plain.area, area_factor=0.85)
    assert narrow.smallest() == pytest.approx(0.85 * 8e-4, rel=1e-3)
    assert narrow.area_at(x[[0, 2]]) == pytest.approx([11e-4, 10e-4])


def test_reversed_tube_mirrors_the_duct() -> None:
    duct = plain_pipe("pipe", 0.3, 0.03, end_diameter=0.04)
    there, back = to_tube(duct, 0.01), to_tube(duct, 0.01, reverse=True)
    assert there.area == pytest.approx(back.area[::-1])
    assert end_correction(0.02, flanged=True) == pytest.approx(0.016432)


def test_friction_slows_a_stream_and_walls_warm_it() -> None:
    """Steady subsonic flow through a rough warm pipe: less flow, hotter gas, books balanced."""

    def run(rough: bool) -> tuple[float, float]:
        tube = to_tube(
            plain_pipe("pipe", 1.0, 0.03, roughness=1e-4, wall_temperature=400.0),
            0.02,
            friction=rough,
        )
        network = build_network(
            perfect_gas(1.4), (tube,), ((End(en.OPEN, 0), End(en.OPEN, 1)),), vessels=2
        )
        surroundings(network, 0, pressure=1e5, temperature=300.0)
        surroundings(network, 1, pressure=0.9e5, temperature=300.0)
        p = np.linspace(1e5, 0.9e5, tube.cells)
        fill_tube(network, 0, p / (287.05 * 300.0), np.zeros(1), p, 0.0)
        march(network, 0.3, 0.9)
        end = network.part(r.PRESSURE, 0)[-1] / (287.05 * network.part(r.DENSITY, 0)[-1])
        u = network.part(r.VELOCITY, 0)[-1]
        return float(network.faces[0, 0] * tube.area[0]), float(end + u * u / 2.0 / 1004.7)

    smooth, rough = run(False), run(True)
    assert rough[0] < 0.9 * smooth[0]
    assert smooth[1] == pytest.approx(300.0, abs=0.1)
    # Reynolds analogy: f/8 Pr^(-2/3) 4L/D of the way to the wall temperature.
    speed = rough[0] / (0.25 * np.pi * 0.03**2)
    factor = friction_factor(speed * 0.03 / viscosity(310.0), 1e-4 / 0.03)
    reached = 1.0 - np.exp(-factor / 8.0 * 1.2565 * 4.0 / 0.03)
    # 8 %: gas properties are taken at one state here, and fast gas recovers less than its total.
    assert rough[1] - 300.0 == pytest.approx(100.0 * reached, rel=0.08)


def test_a_wrong_tube_is_explained() -> None:
    with pytest.raises(RangeError, match="Density and pressure"):
        TubeState(1.0, 0.0, -1.0)
    left = TubeState(1.0, 0.0, 1.0)
    for keywords in (
        {"gamma": 1.0, "cells": 50, "time": 0.1},
        {"gamma": 1.4, "cells": 2, "time": 0.1},
        {"gamma": 1.4, "cells": 50, "time": float("nan")},
        {"gamma": 1.4, "cells": 50, "time": 0.1, "courant": 1.5},
    ):
        with pytest.raises(RangeError):
            solve_tube(left, left, **keywords)  # type: ignore[arg-type]
    with pytest.raises(ShapeError, match="four cells"):
        Tube("short", 1.0, np.ones(3), np.zeros(2))


def test_lost_states_name_tube_place_and_time() -> None:
    tube = Tube("intake", 1.0, np.ones(51), np.zeros(50))
    network = build_network(
        perfect_gas(1.4), (tube,), ((End(en.CLOSED), End(en.CLOSED)),), vessels=0
    )
    fill_tube(network, 0, np.ones(1), np.zeros(1), np.ones(50), 0.0)
    network.work[r.ENERGY + network.starts[0] + 30] = -1.0
    with pytest.raises(NonPhysicalStateError, match=r"'intake', 610\.0 mm .* 0 ms"):
        march(network, 0.1, 0.9)
    network.work[r.ENERGY + network.starts[0] + 30] = float("nan")
    with pytest.raises(NonPhysicalStateError, match="intake"):
        march(network, 0.1, 0.9)


def test_step_limit_is_reported() -> None:
    tube = Tube("intake", 1.0, np.ones(51), np.zeros(50))
    network = build_network(perfect_gas(1.4), (tube,), ((End(en.CLOSED), End(en.CLOSED)),))
    fill_tube(network, 0, np.ones(1), np.zeros(1), np.ones(50), 0.0)
    with pytest.raises(NotConvergedError, match="more than 10 steps"):
        march(network, 1.0, 0.9, most_steps=10)


def test_engine_refuses_what_does_not_fit() -> None:
    pipe = plain_pipe("pipe", 0.3, 0.04)
    table = np.zeros(CURVE_SIZE)
    with pytest.raises(RangeError, match="rod"):
        Mechanics(0.09, 0.08, 0.03, 11.0)
    with pytest.raises(ShapeError, match="intake ducts"):
        Engine(
            Mechanics(0.09, 0.08, 0.14, 11.0, (0.0, 180.0, 360.0)),
            (pipe, pipe),
            (pipe,),
            table,
            table,
        )
    with pytest.raises(ShapeError, match="Valve area tables"):
        Engine(Mechanics(0.09, 0.08, 0.14, 11.0), (pipe,), (pipe,), table[:-1], table)
