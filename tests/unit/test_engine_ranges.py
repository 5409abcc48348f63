"""Limits and steps, every combination, and the search for the best."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from portwright.core.engine.ranges import Point, Range, every, search
from portwright.errors import InputError, RangeError, UnitError, UnknownNameError
from portwright.services.engine_knobs import KNOBS, change_of, read_ranges

LIFT = Range("lift", -1.0, 2.0, 0.1)
RUNNER = Range("runner", 0.0, 100.0, 5.0)


def hill(points: list[Point]) -> NDArray[np.float64]:
    """Highest at 0.7 and 60; nothing beyond 90."""
    x = np.array(points)
    away = (x - (0.7, 60.0)) / (1.0, 50.0)
    height = -(away**2).sum(axis=1) - 0.5 * away[:, 0] * away[:, 1]
    return np.where(x[:, 1] > 90.0, np.nan, height)


def test_values_stand_on_whole_steps_without_rounding() -> None:
    assert LIFT.count == 31
    assert LIFT.values()[13] == 0.3  # the text of the number, not a sum of tenths
    assert Range("x", 0.0, 1.0, 0.4).values() == (0.0, 0.4, 0.8)


@pytest.mark.parametrize("numbers", [(1.0, 1.0, 0.1), (0.0, 1.0, 0.0), (0.0, float("nan"), 0.1)])
def test_limits_that_make_no_sense_are_refused(numbers: tuple[float, float, float]) -> None:
    with pytest.raises(RangeError, match="no range"):
        Range("lift", *numbers)


def test_every_combination_once_and_not_too_many() -> None:
    points = every([Range("a", 0.0, 2.0, 1.0), Range("b", 0.0, 1.0, 1.0)])
    assert len(points) == len(set(points)) == 6
    with pytest.raises(RangeError, match="too many"):
        every([LIFT, RUNNER, LIFT])


def test_search_finds_the_top_with_few_tries() -> None:
    # 651 combinations; the exact top is found, as steps are coarse
    points = search([LIFT, RUNNER], hill, 120, (0.0, 0.0))
    assert len(points) <= 130
    assert points[int(np.nanargmax(hill(points)))] == (0.7, 60.0)
    assert points[0] == (0.0, 0.0)


def test_search_takes_the_same_way_again() -> None:
    assert search([LIFT, RUNNER], hill, 40, (0.0, 0.0)) == search(
        [LIFT, RUNNER], hill, 40, (0.0, 0.0)
    )


def test_ranges_are_read_in_the_units_people_use() -> None:
    lift, runner, advance = read_ranges(["lift=0:2:0.5 mm", "runner=-2:4:1 in", "advance = -4:4:2"])
    assert (lift.low, lift.high, lift.step) == (0.0, 2.0, 0.5)
    assert (runner.low, runner.high, runner.step) == pytest.approx((-50.8, 101.6, 25.4), rel=1e-12)
    assert advance.step == 2.0
    assert read_ranges(["section=0:5"])[0].step == KNOBS["section"].step


def test_values_become_changes() -> None:
    ranges = read_ranges(["lift=0:2", "section=0:5", "advance=-4:4", "valve=0:4"])
    change = change_of(ranges, (0.5, 3.0, -2.0, 2.0))
    assert change.lift == pytest.approx(0.5e-3, rel=1e-12)
    assert change.section == pytest.approx(1.03, rel=1e-12)
    assert change.advance == -2.0
    assert change.valve == pytest.approx(1.02, rel=1e-12)
    assert change.runner == 0.0


@pytest.mark.parametrize(
    ("texts", "error"),
    [
        ([], InputError),
        (["lift"], InputError),
        (["lift=0"], InputError),
        (["lift=0:1", "lift=0:2"], InputError),
        (["lfit=0:1"], UnknownNameError),
        (["lift=0:1 kg"], UnitError),
        (["lift=2:1"], RangeError),
    ],
)
def test_what_is_no_range_is_said(texts: list[str], error: type[Exception]) -> None:
    with pytest.raises(error):
        read_ranges(texts)
