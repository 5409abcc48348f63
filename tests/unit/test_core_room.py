"""Valves in a bore: worked by hand, and against a plain search over solids."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from portwright.core.seat.room import (
    ValvePlace,
    largest_pair,
    piston_depth,
    piston_gap,
    shrouded_share,
    valves_gap,
    wall_gap,
)
from portwright.errors import RangeError

MM, DEG = 1e-3, math.pi / 180.0
ROUND = np.linspace(0.0, 2.0 * math.pi, 360, endpoint=False)
INTAKE = ValvePlace(42 * MM, -20 * MM, 0.0)
EXHAUST = ValvePlace(35 * MM, 20.5 * MM, 0.0)


def test_upright_valves_side_by_side() -> None:
    """40.5 mm between centres less 21 and 17.5 is 2 mm; 45 less 20 and 21 leaves 4 mm of wall."""
    assert valves_gap(INTAKE, 0.0, EXHAUST, 0.0) == pytest.approx(2 * MM, rel=1e-6)
    gap = wall_gap(INTAKE, 90 * MM, np.array([0.0, 10 * MM]), ROUND)
    assert gap.min() == pytest.approx(4 * MM)
    assert gap.max() == pytest.approx(math.hypot(45, 0) * MM - 1 * MM)  # the side near the middle
    np.testing.assert_allclose(gap[0], gap[1])


def test_lifting_one_of_two_upright_valves_clears_the_other() -> None:
    """3 mm of lift past a 1 mm margin: hypotenuse of 2 mm and 2 mm."""
    thick = ValvePlace(42 * MM, -20 * MM, 0.0, margin=1 * MM)
    other = ValvePlace(35 * MM, 20.5 * MM, 0.0, margin=1 * MM)
    assert valves_gap(thick, 3 * MM, other, 0.0) == pytest.approx(math.hypot(2, 2) * MM, rel=1e-4)
    assert valves_gap(thick, 0.5 * MM, other, 0.0) == pytest.approx(2 * MM, rel=1e-4)


def test_valves_that_lean_apart_come_closer_as_they_open() -> None:
    """Heads that move towards each other by sin 20 of their lift."""
    left = ValvePlace(36 * MM, -20 * MM, 0.0, 20 * DEG, 0.0)
    right = ValvePlace(36 * MM, 20 * MM, 0.0, 20 * DEG, math.pi)
    shut = valves_gap(left, 0.0, right, 0.0)
    assert shut == pytest.approx((40 - 36 * math.cos(20 * DEG)) * MM, rel=1e-3)
    both = valves_gap(left, 5 * MM, right, 5 * MM)
    assert shut - both == pytest.approx(2 * 5 * math.sin(20 * DEG) * MM, rel=1e-3)


def test_the_wall_comes_nearer_where_the_valve_leans_out() -> None:
    leaning = ValvePlace(40 * MM, -20 * MM, 0.0, 15 * DEG, math.pi)
    gap = wall_gap(leaning, 90 * MM, np.array([0.0, 10 * MM]), ROUND)
    edge = 45 - 20 - 20 * math.cos(15 * DEG)
    assert gap[0].min() == pytest.approx(edge * MM)
    assert gap[1].min() == pytest.approx((edge - 10 * math.sin(15 * DEG)) * MM)
    shares = shrouded_share(gap, 0.15 * 40 * MM)
    assert shares[1] > shares[0] > 0.0


def test_the_distance_of_leaning_heads_against_a_search() -> None:
    """Points spread over both solid heads, the nearest pair."""
    one = ValvePlace(38 * MM, -19 * MM, 2 * MM, 12 * DEG, 0.3, 1 * MM, 1.2 * MM)
    other = ValvePlace(33 * MM, 19 * MM, -1 * MM, 8 * DEG, 3.0, 0.5 * MM, 1.5 * MM)
    clouds = []
    for valve, lift in ((one, 4 * MM), (other, 2 * MM)):
        angle = np.linspace(0, 2 * math.pi, 500)
        rims = [valve.edge(lift, angle) - t * valve.axis for t in np.linspace(0, valve.margin, 9)]
        clouds.append(np.vstack(rims))
    each = np.linalg.norm(clouds[0][:, None] - clouds[1][None, ::3], axis=2)
    found = valves_gap(one, 4 * MM, other, 2 * MM)
    assert found <= float(each.min()) + 1e-9
    assert found == pytest.approx(float(each.min()), abs=0.15 * MM)  # spacing of the points


def test_the_largest_pair_by_hand() -> None:
    """Spacing 40, gap 1.5: D (1 + k) / 2 = 38.5; the wall: 45 - 20 - 1.3 = 23.7 is not reached."""
    left, right = ValvePlace(1 * MM, -20 * MM, 0.0), ValvePlace(1 * MM, 20 * MM, 0.0)
    found = largest_pair(left, right, 90 * MM, 0.83, 1.5 * MM, 1.3 * MM, (11 * MM, 11 * MM))
    assert found.intake == pytest.approx(2 * 38.5 / 1.83 * MM, rel=1e-6)
    assert found.limited_by == "the gap between the valves"
    tight = largest_pair(left, right, 84 * MM, 0.83, 1.5 * MM, 3.0 * MM, (11 * MM, 11 * MM))
    assert tight.intake == pytest.approx(2 * (42 - 20 - 3) * MM, rel=1e-6)
    assert tight.limited_by == "the bore wall at the intake valve"
    with pytest.raises(RangeError, match="No valve fits"):
        largest_pair(left, right, 30 * MM, 0.83, 1.5 * MM, 1.3 * MM, (11 * MM, 11 * MM))


def test_piston_and_valve_by_hand() -> None:
    """At dead centre the gap is what is above the piston less the lift."""
    depth = piston_depth(np.array([0.0, math.pi]), 75 * MM, 145 * MM)
    np.testing.assert_allclose(depth, [0.0, 75 * MM], atol=1e-15)
    gap = piston_gap(depth[:1], np.array([2 * MM]), 1 * MM, 60 * DEG, 1.6 * MM, 2 * MM)
    assert gap[0] == pytest.approx((1.6 + 2 + 1 - 2 * math.cos(60 * DEG)) * MM)
    with pytest.raises(RangeError):
        piston_depth(0.0, 75 * MM, 30 * MM)


anything = st.floats(allow_nan=True, allow_infinity=True)


@given(*[anything] * 7, st.floats(0, 20 * MM))
@settings(max_examples=40)
def test_places_of_any_numbers(
    a: float, b: float, c: float, d: float, e: float, f: float, g: float, lift: float
) -> None:
    try:
        made = ValvePlace(a, b, c, d, e, f, g)
        gap = wall_gap(made, 90 * MM, np.array([lift]), ROUND)
    except RangeError:
        return
    assert np.all(np.isfinite(gap))
    assert math.isfinite(valves_gap(made, lift, EXHAUST, 0.0))
