"""Velocity, Mach number and pitot maps against what they must be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.air import REFERENCE_AIR
from portwright.core.constants import GAS_CONSTANT_AIR
from portwright.core.gasflow import area_ratio, mass_flow, pressure_ratio
from portwright.core.port.velocity import (
    Zone,
    ZoneLimits,
    engine_mean_velocity,
    mach_along,
    map_mean,
    mean_velocity,
    pitot_velocity,
    zones,
)
from portwright.errors import RangeError, ShapeError

LIMITS = ZoneLimits(crowded=1.25, lazy=0.6, fastest=97.5)


@pytest.mark.parametrize("mach", [0.05, 0.3, 0.7, 0.99])
def test_mach_number_of_a_known_nozzle(mach: float) -> None:
    p0, t0, area = 101325.0, 293.15, 9e-4
    passed = mass_flow(
        area, p0, t0, p0 * float(pressure_ratio(mach)), gamma=1.4, gas_constant=GAS_CONSTANT_AIR
    )
    # near Mach 1 the flow hardly depends on it: half the digits are lost
    assert float(mach_along(passed, area, p0, t0)) == pytest.approx(mach, rel=1e-7)


def test_a_section_too_small_for_the_flow_has_no_mach_number() -> None:
    sonic = mass_flow(1e-3, 101325.0, 293.15, 0.0, gamma=1.4, gas_constant=GAS_CONSTANT_AIR)
    found = mach_along(sonic, np.array([0.99e-3, 1e-3 * float(area_ratio(0.5))]), 101325.0, 293.15)
    assert math.isnan(found[0])
    assert found[1] == pytest.approx(0.5, rel=1e-9)


def test_trade_velocity_figure() -> None:
    # trade arithmetic: v [ft/s] = 2.4 cfm / A [in2], exact with 144/60
    flow, area = 150.0 * 0.3048**3 / 60.0, 1.5 * 0.0254**2
    assert float(mean_velocity(flow, area)) / 0.3048 == pytest.approx(2.4 * 150.0 / 1.5, rel=1e-12)


def test_engine_velocity_of_the_trade_example() -> None:
    # trade notes: 90 x 75 mm at 7000 rpm with 995 mm2 is 112 m/s; three digits
    speed = engine_mean_velocity(0.090, 0.075, 7000.0 * 2.0 * math.pi / 60.0, 995e-6)
    assert float(speed) == pytest.approx(112.0, abs=0.5)


def test_no_area_no_velocity() -> None:
    with pytest.raises(RangeError):
        mean_velocity(0.1, 0.0)
    with pytest.raises(RangeError):
        mach_along(0.1, 0.0, REFERENCE_AIR.pressure, 293.0)


def test_a_pitot_pressure_is_a_velocity_with_its_sign() -> None:
    # 28 inH2O in air of 1.204 kg/m3 is 107.6 m/s (trade arithmetic, four digits)
    drop = 28.0 * 249.08891
    found = pitot_velocity(np.array([drop, 0.0, -drop]), 1.204)
    assert found == pytest.approx([107.6, 0.0, -107.6], abs=0.05)
    with pytest.raises(RangeError):
        pitot_velocity(1.0, 0.0)


def test_mean_over_an_irregular_grid_is_weighted_by_area() -> None:
    found = map_mean(np.array([100.0, 40.0]), np.array([1.0, 3.0]))
    assert found.mean == pytest.approx(55.0, rel=1e-12)
    assert found.spread == pytest.approx(math.sqrt(0.25 * 45.0**2 + 0.75 * 15.0**2) / 55.0)


def test_unsteady_and_backward_marks() -> None:
    velocity = np.array([80.0, 60.0, -20.0, math.nan])
    found = map_mean(velocity, np.ones(4))
    assert found.mean == pytest.approx(40.0)
    assert found.unsteady == pytest.approx(0.25)
    assert (found.low, found.high) == pytest.approx((30.0, 40.0))
    assert zones(velocity, found.mean, LIMITS)[2:] == (Zone.BACKFLOW, Zone.UNSTEADY)


def test_zones_name_what_stands_out() -> None:
    seen = zones(np.array([98.0, 85.0, 60.0, 35.0]), 60.0, LIMITS)
    assert seen == (Zone.FAST, Zone.CROWDED, Zone.EVEN, Zone.LAZY)


def test_a_map_of_nothing_but_flutter_has_no_mean() -> None:
    with pytest.raises(ShapeError, match="steady"):
        map_mean(np.array([math.nan, math.nan]), np.ones(2))
