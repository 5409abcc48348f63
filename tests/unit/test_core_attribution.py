"""Seat against port: a known split comes back, nothing comes from nothing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from portwright.core.attribution import attribute, fit_two_resistances
from portwright.core.comparison import Sweep, Verdict
from portwright.core.curve import Array, make_curve
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.errors import ShapeError

VALVE = 42e-3
LIFT = np.arange(1.0, 12.5) * 1e-3
CURTAIN = math.pi * VALVE * LIFT


def area(coefficient: float, port: float) -> Array:
    """A port that follows the model exactly. [m2]"""
    found: Array = ((coefficient * CURTAIN) ** -2.0 + port**-2.0) ** -0.5
    return found


def sweeps(dice: np.random.Generator, true: Array, count: int = 2) -> list[Sweep]:
    rep, out = SHOP_DEFAULT, []
    for _ in range(count):
        error = dice.normal(0.0, rep.common) + dice.normal(0.0, rep.reading, LIFT.size)
        curve = make_curve(LIFT, true * np.exp(error))
        error_lift = dice.normal(0.0, rep.lift_setting) * curve.log_slope()
        curve = replace(curve, area=curve.area * np.exp(error_lift))
        out.append(Sweep(curve, replace(rep, session=0.0), "B 1", 0.0, "day"))
    return out


def test_the_model_comes_back_exactly() -> None:
    found = fit_two_resistances(area(0.62, 8e-4), CURTAIN)
    assert found.valve_coefficient == pytest.approx(0.62, rel=1e-9)
    assert found.port_area == pytest.approx(8e-4, rel=1e-9)
    assert found.misfit < 1e-9
    assert np.all(np.diff(found.seat_share) < 0.0)  # the gap matters less the further it opens


def test_a_port_that_separates_is_seen_in_the_misfit() -> None:
    bent = area(0.62, 8e-4) * np.where(LIFT > 9e-3, 0.93, 1.0)
    assert fit_two_resistances(bent, CURTAIN).misfit > 0.01
    with pytest.raises(ShapeError, match="5 lifts"):
        fit_two_resistances(bent[:4], CURTAIN[:4])


@pytest.mark.parametrize(("seat", "port"), [(1.06, 1.0), (1.0, 1.08)])
def test_each_side_gets_what_it_gained(seat: float, port: float) -> None:
    dice = np.random.default_rng(11)
    held = 0
    for _ in range(20):
        before = sweeps(dice, area(0.60, 8e-4), 3)
        after = sweeps(dice, area(0.60 * seat, 8e-4 * port), 3)
        found = attribute(before, after, valve_diameter=VALVE)
        assert found is not None
        real, still = (found.seat, found.port) if seat > 1.0 else (found.port, found.seat)
        assert real.verdict is Verdict.REAL
        assert real.gain > 2.0 * abs(still.gain)
        held += (real.low < max(seat, port) - 1.0 < real.high) + (still.low < 0.0 < still.high)
        whole, low_lift = found.bands[:2]
        if seat > 1.0:
            assert low_lift.seat.gain > whole.seat.gain  # the seat matters most at low lift
        else:
            assert low_lift.port.gain < whole.port.gain
    # of 40 intervals 5 % miss: two, with three standard errors of 1.4
    assert held >= 34


def test_a_model_that_fits_keeps_its_interval_and_one_that_does_not_widens() -> None:
    dice = np.random.default_rng(12)
    before = sweeps(dice, area(0.60, 8e-4), 2)
    plain = attribute(before, sweeps(dice, area(0.62, 8e-4), 2), valve_diameter=VALVE)
    wavy = area(0.62, 8e-4) * (1.0 + 0.03 * np.cos(LIFT / 1e-3 * math.pi))
    bent = attribute(before, sweeps(dice, wavy, 2), valve_diameter=VALVE)
    assert plain is not None
    assert bent is not None
    assert bent.seat.deviation > 1.5 * plain.seat.deviation


def test_nothing_done_is_seldom_called_real() -> None:
    """120 invented cuts that did nothing; the full count is in docs/benchmarks/ranking.md."""
    dice = np.random.default_rng(20260314)
    wrong = 0
    for _ in range(60):
        before, after = (sweeps(dice, area(0.6, 8e-4)) for _ in range(2))
        found = attribute(before, after, valve_diameter=VALVE)
        assert found is not None
        wrong += (found.seat.verdict is Verdict.REAL) + (found.port.verdict is Verdict.REAL)
    # 5 % of 120 is 6, three standard errors are 7
    assert wrong <= 13


def test_sweeps_of_low_lift_alone_are_not_split() -> None:
    few = make_curve(LIFT[:4], area(0.6, 8e-4)[:4])
    one = [Sweep(few, SHOP_DEFAULT, "B 1", 0.0, "day")]
    assert attribute(one, one, valve_diameter=VALVE) is None
