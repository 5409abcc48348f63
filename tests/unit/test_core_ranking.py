"""Where a value stands among others: share, interval, how many reached it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from portwright.core.ranking import standing
from portwright.errors import RangeError, ShapeError


def test_intervals_hold_what_they_promise() -> None:
    """250 invented classes; the full count is in docs/benchmarks/ranking.md."""
    dice = np.random.default_rng(20260313)
    inside = 0
    for number in range(250):
        size, error, spread = 4 + 13 * (number % 4), 0.01 + 0.01 * (number % 3), 0.06
        truth, members = dice.normal(0.0, spread), dice.normal(0.0, spread, size)
        seen = members + dice.normal(0.0, error, size)
        found = standing(truth + dice.normal(0.0, error), error, seen, np.full(size, error))
        inside += found.low <= ndtr(truth / spread) <= found.high
    # three standard errors of 0.95 over 250 are 0.041
    assert 0.905 < inside / 250 < 0.993


def test_without_errors_the_share_is_the_rule_of_succession() -> None:
    members = np.arange(9.0)
    found = standing(6.5, 0.0, members, np.zeros(9))
    assert found.share_below == pytest.approx(8.0 / 11.0)
    assert (found.reached, found.reached_low, found.reached_high) == (2, 2, 2)


def test_a_large_own_error_says_less() -> None:
    members = np.linspace(-1.0, 1.0, 41)
    sure = standing(0.8, 0.01, members, np.full(41, 0.01))
    unsure = standing(0.8, 0.5, members, np.full(41, 0.01))
    assert unsure.high - unsure.low > sure.high - sure.low
    assert unsure.reached_high - unsure.reached_low > 5


def test_more_members_say_more() -> None:
    few = standing(0.5, 0.01, np.linspace(-1, 1, 5), np.full(5, 0.01))
    many = standing(0.5, 0.01, np.linspace(-1, 1, 200), np.full(200, 0.01))
    assert many.high - many.low < few.high - few.low


def test_what_cannot_be_ranked() -> None:
    with pytest.raises(ShapeError, match="needs members"):
        standing(1.0, 0.1, np.empty(0), np.empty(0))
    with pytest.raises(RangeError, match="must be numbers"):
        standing(float("nan"), 0.1, np.ones(3), np.ones(3))
