from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.discharge import discharge_coefficients, flow_per_valve_area
from portwright.core.valve import (
    ValveShape,
    curtain_area,
    lift_over_diameter,
    minimum_area,
    net_throat_area,
    radial_seat_width,
    stage_limits,
    valve_disc_area,
)
from portwright.errors import RangeError

PLAIN = ValveShape(0.042, 0.008, math.radians(45), 0.0012, 0.0375)
PAIR = ValveShape(0.032, 0.0055, math.radians(45), 0.001, 0.028, count=2)


@pytest.mark.parametrize(
    ("sizes", "word"),
    [
        ((0.042, 0.008, 0.78, 0.0012, 0.043), "grow in this order"),
        ((0.042, 0.038, 0.78, 0.0012, 0.0375), "grow in this order"),
        ((0.042, -0.001, 0.78, 0.0012, 0.0375), "grow in this order"),
        ((0.042, 0.008, 45.0, 0.0012, 0.0375), "Seat angle of 2578"),
        ((0.042, 0.008, -0.1, 0.0012, 0.0375), "Seat angle"),
        ((0.042, 0.008, 0.78, 0.0, 0.0375), "Seat width"),
        ((0.042, 0.008, 0.78, 0.020, 0.0375), "Seat width"),
        ((math.nan, 0.008, 0.78, 0.0012, 0.0375), "number for every size"),
    ],
)
def test_sizes_that_are_no_valve_are_refused(
    sizes: tuple[float, float, float, float, float], word: str
) -> None:
    with pytest.raises(RangeError, match=word):
        ValveShape(*sizes)


def test_a_port_without_valve_is_refused() -> None:
    with pytest.raises(RangeError, match="at least one"):
        ValveShape(0.042, 0.008, 0.78, 0.0012, 0.0375, count=0)


def test_negative_lift_is_refused() -> None:
    with pytest.raises(RangeError, match="lift below zero"):
        minimum_area(PLAIN, np.array([0.001, -0.001]))
    with pytest.raises(RangeError, match="lift below zero"):
        discharge_coefficients(1e-4, -0.001, PLAIN)


def test_shut_valve_and_missing_lift() -> None:
    area = minimum_area(PLAIN, np.array([0.0, np.nan]))
    assert area[0] == 0.0
    assert np.isnan(area[1])
    found = discharge_coefficients(0.0, 0.0, PLAIN)
    assert np.isnan(found.curtain)
    assert np.isnan(found.minimum_area)
    assert found.net_throat == 0.0


def test_two_valves_are_twice_one() -> None:
    single = ValveShape(0.032, 0.0055, math.radians(45), 0.001, 0.028)
    lift = np.linspace(0.0, 0.012, 13)
    np.testing.assert_allclose(minimum_area(PAIR, lift), 2 * minimum_area(single, lift), rtol=1e-14)
    np.testing.assert_allclose(curtain_area(PAIR, lift), 2 * curtain_area(single, lift), rtol=1e-14)
    assert valve_disc_area(PAIR) == pytest.approx(2 * valve_disc_area(single), rel=1e-14)
    assert net_throat_area(PAIR) == pytest.approx(2 * net_throat_area(single), rel=1e-14)
    assert stage_limits(PAIR) == stage_limits(single)


def test_coefficients_name_their_area() -> None:
    lift = np.array([0.002, 0.010])
    area = np.array([1.5e-4, 6e-4])
    found = discharge_coefficients(area, lift, PLAIN)
    np.testing.assert_allclose(found.curtain * curtain_area(PLAIN, lift), area, rtol=1e-14)
    np.testing.assert_allclose(found.valve_disc * valve_disc_area(PLAIN), area, rtol=1e-14)
    np.testing.assert_allclose(found.net_throat * net_throat_area(PLAIN), area, rtol=1e-14)
    np.testing.assert_allclose(found.minimum_area * minimum_area(PLAIN, lift), area, rtol=1e-14)


def test_flat_seat_has_one_straight_stage() -> None:
    flat = ValveShape(0.042, 0.008, 0.0, 0.0012, 0.0375)
    limits = stage_limits(flat)
    assert limits.first == math.inf
    # pi Di L reaches the net throat at L2
    assert math.pi * flat.inner_seat_diameter * limits.second == pytest.approx(
        net_throat_area(flat), rel=1e-13
    )
    assert minimum_area(flat, 0.002) == pytest.approx(
        math.pi * flat.inner_seat_diameter * 0.002, rel=1e-14
    )


def test_tight_throat_takes_over_in_the_first_stage() -> None:
    tight = ValveShape(0.040, 0.010, math.radians(45), 0.005, 0.016)
    limits = stage_limits(tight)
    assert limits.second < limits.first
    just_below, just_above = limits.second * (1 - 1e-9), limits.second * (1 + 1e-9)
    assert minimum_area(tight, just_above) == net_throat_area(tight)
    assert net_throat_area(tight) * (1 - 1e-8) < minimum_area(tight, just_below)
    assert minimum_area(tight, just_below) < net_throat_area(tight)


def test_seat_width_along_the_face_is_longer_than_radial() -> None:
    assert radial_seat_width(0.0013, math.radians(45)) == pytest.approx(
        0.0013 / math.sqrt(2), rel=1e-14
    )
    assert radial_seat_width(0.0013, 0.0) == 0.0013


def test_small_views() -> None:
    assert lift_over_diameter(0.0105, 0.042) == pytest.approx(0.25, rel=1e-14)
    assert flow_per_valve_area(0.07, PAIR) == pytest.approx(
        0.07 / (2 * math.pi / 4 * 0.032**2), rel=1e-14
    )
    assert isinstance(minimum_area(PLAIN, 0.002), np.float64)
