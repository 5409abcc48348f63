"""Two benches: the curve between them, its intervals, what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.simulated_benches import two_benches
from portwright.core.line_fit import fit_line_both, fit_slope_correlated
from portwright.core.translation import CommonPoints, relate_benches
from portwright.errors import RangeError, ShapeError


def test_shared_errors_give_yorks_line_when_nothing_is_shared() -> None:
    dice = np.random.default_rng(4)
    x = np.linspace(0.0, 5.0, 9)
    y = 1.5 + 0.8 * x + dice.normal(0.0, 0.1, 9)
    sx, sy = dice.uniform(0.05, 0.3, 9), dice.uniform(0.05, 0.3, 9)
    york = fit_line_both(x, y, sx, sy)
    slope = fit_slope_correlated(x, y, np.diag(sx**2), np.diag(sy**2))
    assert slope == pytest.approx(york.slope, rel=1e-9)  # both iterate to rounding


def test_an_error_shared_by_all_points_leaves_the_slope_alone() -> None:
    x = np.linspace(0.0, 5.0, 9)
    y = 1.5 + 0.8 * x + 0.1 * np.sin(7.0 * x)
    own, all_alike = np.eye(9) * 0.01, np.full((9, 9), 0.5)
    alone = fit_slope_correlated(x, y, own, own)
    shared = fit_slope_correlated(x, y, own, own + all_alike)
    assert shared == pytest.approx(alone, rel=1e-9)


def test_intervals_hold_what_they_promise() -> None:
    """95 % intervals over 100 invented shops; the full count is in docs/benchmarks/ranking.md."""
    dice = np.random.default_rng(20260312)
    inside = []
    for number in range(100):
        shop = two_benches(dice, heads=number % 4, plates=5)
        predicted = relate_benches(shop.points).predict(shop.new_here, shop.covariance)
        low, high = predicted.interval()
        off = shop.new_there - predicted.log_area
        inside.append(np.mean((off >= low) & (off <= high)))
    # 100 shops: three standard errors of 0.95 are 0.065
    assert 0.88 < float(np.mean(inside)) <= 1.0


def test_more_heads_narrow_the_interval_and_an_odd_set_up_widens_it() -> None:
    dice = np.random.default_rng(7)
    few, many = two_benches(dice, heads=1, scatter=0.005), two_benches(dice, heads=8, scatter=0.005)

    def width(points: CommonPoints, added: float = 0.0) -> float:
        low, high = relate_benches(points).predict(np.log(np.array([3e-4])), added=added).interval()
        return float(high[0] - low[0])

    assert width(many.points) < width(few.points)
    assert width(few.points, added=0.03) > 1.5 * width(few.points)


def test_nothing_is_extended_beyond_what_was_tested() -> None:
    shop = two_benches(np.random.default_rng(1), heads=1)
    relation = relate_benches(shop.points)
    ends = np.log(np.array([relation.low * 0.9, relation.low, relation.high, relation.high * 1.1]))
    assert relation.covers(ends).tolist() == [False, True, True, False]


def test_points_off_any_curve_are_noticed() -> None:
    shop = two_benches(np.random.default_rng(2), heads=2)
    sound = relate_benches(shop.points).misfit
    bent = shop.points.log_there + 0.02 * (np.arange(shop.points.log_there.size) % 2)
    assert sound > 0.01 > relate_benches(replace(shop.points, log_there=bent)).misfit


def test_too_little_is_refused() -> None:
    points = two_benches(np.random.default_rng(3), heads=0, plates=2).points
    with pytest.raises(ShapeError, match="on both benches"):
        relate_benches(points)
    near = two_benches(np.random.default_rng(3), heads=0, plates=5).points
    together = np.array([math.log(3e-4) + 0.01 * n for n in range(5)])
    with pytest.raises(RangeError, match="nearly the same flow"):
        relate_benches(replace(near, log_here=together))
