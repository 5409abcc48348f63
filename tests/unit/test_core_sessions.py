"""The shift of a bench between sessions is learned, and counts only between sessions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from portwright.core.comparison import Sweep, Verdict, compare
from portwright.core.curve import FlowCurve, make_curve
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.core.sessions import learn_session_shift

LIFT = np.linspace(1.0, 12.0, 12) * 1e-3
WITHIN = Repeatability(0.002, 5e-6, 0.001, 1e9, "exact", 0.004, 1e-6)


def sweep(dice: np.random.Generator, shift: float) -> FlowCurve:
    """One sweep of an invented port in a session that reads ``shift`` high."""
    noise = WITHIN.common * dice.standard_normal() + WITHIN.reading * dice.standard_normal(12)
    return make_curve(LIFT, 6e-4 * np.tanh(LIFT / 7e-3) * np.exp(shift + noise))


@pytest.mark.parametrize("truth", [0.0, 0.003, 0.008])
def test_the_shift_between_sessions_is_recovered(truth: float) -> None:
    dice = np.random.default_rng(11)
    states = [
        [[sweep(dice, shift) for _ in range(2)] for shift in truth * dice.standard_normal(3)]
        for _ in range(300)
    ]
    found = learn_session_shift(states, WITHIN)
    # 600 degrees of freedom: a variance is known to sqrt(2/600) = 6 %, three times that allowed,
    # plus what the noise within a session leaves
    own = WITHIN.common**2 / 2.0 + WITHIN.reading**2 / 12.0
    assert found.session**2 == pytest.approx(truth**2, abs=0.18 * (truth**2 + own))
    assert found.session_degrees_of_freedom == pytest.approx(600.0)


def test_one_session_teaches_nothing() -> None:
    dice = np.random.default_rng(3)
    states = [[[sweep(dice, 0.0), sweep(dice, 0.0)]]]
    assert learn_session_shift(states, SHOP_DEFAULT) == SHOP_DEFAULT


def test_the_start_value_is_weighed_with_what_was_seen() -> None:
    dice = np.random.default_rng(5)
    states = [[[sweep(dice, 0.0)], [sweep(dice, 0.0)]]]
    found = learn_session_shift(states, SHOP_DEFAULT)
    assert found.session < SHOP_DEFAULT.session
    assert found.session_degrees_of_freedom == SHOP_DEFAULT.session_degrees_of_freedom + 1


def test_sessions_widen_the_interval_only_where_they_differ() -> None:
    dice = np.random.default_rng(8)
    curves = [sweep(dice, 0.0) for _ in range(6)]
    shop = replace(WITHIN, session=0.01, session_degrees_of_freedom=30.0)

    def band(first: str, second: str) -> float:
        sides = [
            [Sweep(c, shop, "B 1", 0.01, session=name) for c in part]
            for name, part in ((first, curves[:3]), (second, curves[3:]))
        ]
        return compare(sides[0], sides[1], valve_diameter=40e-3).bands[2].gain.deviation

    same, other = band("monday", "monday"), band("monday", "tuesday")
    # the deviation is that of a Student matched to the sum, which is not exactly additive
    assert other == pytest.approx(math.hypot(same, math.sqrt(2.0) * 0.01), rel=2e-3)


def test_a_shift_of_the_usual_size_between_days_is_not_called_real() -> None:
    dice = np.random.default_rng(21)
    real = 0
    for _ in range(200):
        shop = replace(WITHIN, session=0.004, session_degrees_of_freedom=1e9)
        sides = [
            [Sweep(sweep(dice, shift), shop, "B 1", 0.01, session=day) for _ in range(3)]
            for day, shift in zip("ab", 0.004 * dice.standard_normal(2), strict=True)
        ]
        gains = compare(sides[0], sides[1], valve_diameter=40e-3).bands
        real += gains[2].gain.verdict is Verdict.REAL
    # 5 % of 200 is 10; 19 is beyond the 99.7 % point of that binomial
    assert real <= 19
