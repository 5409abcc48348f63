"""Area and perimeter of a traced outline: right on average, and as uncertain as it says."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchmarks.tracing import KINDS, trials
from benchmarks.tracing_camera import MM, Array
from portwright.core.trace.camera import Camera, PictureErrors
from portwright.core.trace.curve import (
    Join,
    closed_curve,
    closed_length,
    enclosed_area,
    hand_smoothing,
    joined,
    length_pull,
    smoothed,
)
from portwright.core.trace.measure import (
    COVERAGE_FACTOR,
    Cause,
    _second_moment,
    measure_outline,
)
from portwright.core.trace.scale import BarScale
from portwright.errors import GeometryError

PICTURE = Camera(2000.0, 1500.0)
NO_ERROR = PictureErrors(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
# 10 px are 1 mm
BAR = BarScale(np.array([[500.0, 100.0], [1000.0, 100.0]]), np.array([50.0 * MM]), np.zeros(1))


def ring(count: int, radius: float = 200.0) -> Array:
    turn = 2.0 * np.pi * np.arange(count) / count
    return np.array([1000.0, 750.0]) + radius * np.column_stack((np.cos(turn), np.sin(turn)))


@pytest.mark.parametrize("count", [8, 12, 40])
def test_a_smooth_curve_needs_few_points(count: int) -> None:
    # a cubic through points h apart on a circle misses it by the order of h^4
    limit = 0.05 * (2.0 * math.pi / count) ** 4
    found = measure_outline(ring(count), BAR, PICTURE, NO_ERROR)
    assert found.area == pytest.approx(math.pi * (20.0 * MM) ** 2, rel=limit)
    assert found.perimeter == pytest.approx(math.pi * 40.0 * MM, rel=limit)


def test_straight_sides_measure_a_rectangle() -> None:
    corners = np.array([[600.0, 400.0], [1000.0, 400.0], [1000.0, 700.0], [600.0, 700.0]])
    found = measure_outline(corners, BAR, PICTURE, NO_ERROR, Join.STRAIGHT)
    assert found.area == pytest.approx(40.0 * 30.0 * MM**2, rel=1e-12)
    assert found.perimeter == pytest.approx(140.0 * MM, rel=1e-12)
    # the edge may well be round between four points: the doubt must say so
    assert found.doubts[Cause.BETWEEN].area > 0.05


def test_each_stated_error_gives_what_geometry_says() -> None:
    outline = ring(36)
    area, length = math.pi * 20.0**2, math.pi * 40.0  # [mm]

    def doubt(cause: Cause, **errors: float) -> float:
        stated = PictureErrors(**{f: errors.get(f, 0.0) for f in PictureErrors.__slots__})
        found = measure_outline(outline, BAR, PICTURE, stated)
        return found.doubts[cause].area

    # all points 1 px = 0.1 mm outwards
    assert doubt(Cause.EDGE, edge=1.0) == pytest.approx(0.1 * length / area, rel=1e-3)
    # two marks 500 px apart, each 1 px along the bar: area goes with the square of the length
    assert doubt(Cause.MARKS, marking=1.0) == pytest.approx(2.0 * math.sqrt(2.0) / 500.0, rel=1e-3)
    # n points, each moved square to the curve, carry one n-th of the circumference
    share = math.cos(math.pi / 36.0) ** 2  # chords instead of arcs
    assert doubt(Cause.TRACING, tracing=1.0) == pytest.approx(
        0.1 * length / area / math.sqrt(36.0) * share, rel=0.02
    )
    size = BarScale(BAR.marks, BAR.sizes, np.array([0.5 * MM]))
    found = measure_outline(outline, size, PICTURE, NO_ERROR)
    assert found.doubts[Cause.SIZE].area == pytest.approx(2.0 * 0.5 / 50.0, rel=1e-3)
    assert found.doubts[Cause.SIZE].perimeter == pytest.approx(0.5 / 50.0, rel=1e-3)


def test_a_shaking_hand_does_not_lengthen_the_line() -> None:
    rng = np.random.default_rng(4)
    true = 2.0 * math.pi * 200.0
    raw, calm = [], []
    for _ in range(20):
        hand = ring(120) + rng.normal(0.0, 2.0, (120, 2))
        smoothing = hand_smoothing(hand)
        raw.append(closed_length(hand) / true - 1.0)
        calm.append(closed_length(closed_curve(hand, Join.SMOOTH, smoothing).for_length) / true - 1)
    assert np.mean(raw) > 0.03  # sigma^2/h^2 with h = 10.5 px
    assert abs(float(np.mean(calm))) < 0.003  # a tenth of what smoothing is for
    assert smoothed(ring(12), 0.0) == pytest.approx(ring(12))


def test_the_pull_on_the_length_is_its_derivative() -> None:
    rng = np.random.default_rng(5)
    hand = ring(40) + rng.normal(0.0, 1.0, (40, 2))
    smoothing = hand_smoothing(hand)
    pull = length_pull(hand, smoothing)
    for index in [(3, 0), (17, 1), (30, 0)]:
        step = np.zeros_like(hand)
        step[index] = 0.01
        ends = [closed_length(smoothed(hand + sign * step, smoothing)) for sign in (1.0, -1.0)]
        # directions of the normals are taken as fixed: a few percent of one point's pull
        assert pull[index] == pytest.approx((ends[0] - ends[1]) / 0.02, abs=0.05)


def test_a_curve_through_corners_stays_near_them() -> None:
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    assert enclosed_area(joined(square, Join.STRAIGHT)) == 1.0
    assert 1.0 < enclosed_area(joined(square, Join.SMOOTH)) < 0.5 * math.pi * 1.02


def test_second_moments_are_those_of_a_normal_error() -> None:
    draws = np.random.default_rng(9).normal(size=200_000)
    error = 0.7 * draws + 0.4 * draws**2
    stated = _second_moment(5.0 + 0.7 + 0.4, 5.0 - 0.7 + 0.4, 5.0)
    assert stated == pytest.approx(0.7**2 + 3.0 * 0.4**2, rel=1e-12)
    assert stated == pytest.approx(np.mean(error**2), rel=0.02)  # 200 000 draws


def test_a_hand_that_trembles_in_place_is_no_crossing() -> None:
    hand = ring(300) + np.random.default_rng(6).normal(0.0, 2.0, (300, 2))  # 4 px apart
    found = measure_outline(hand, BAR, PICTURE, PictureErrors())
    # 300 independent points of 2 px: 0.1 % of the area at one deviation
    assert found.area == pytest.approx(math.pi * (20.0 * MM) ** 2, rel=0.004)


def figure_of_eight(count: int) -> Array:
    turn = 2.0 * np.pi * np.arange(count) / count
    return 700.0 + 200.0 * np.column_stack((np.cos(turn), np.sin(2.0 * turn) + 0.3 * np.cos(turn)))


@pytest.mark.parametrize(
    "outline",
    [
        figure_of_eight(40),
        np.array([[0.0, 0.0], [10.0, 0.0]]),
        np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]]),
        np.array([[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]]),  # a bow
        np.array([[0.0, 0.0], [10.0, 0.0], [math.nan, 5.0]]),
        np.zeros((4, 3)),
        ring(1001),
    ],
)
def test_an_outline_without_a_usable_area_is_refused(outline: Array) -> None:
    with pytest.raises(GeometryError):
        measure_outline(outline, BAR, PICTURE, PictureErrors())


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_the_stated_interval_holds_the_truth(kind: str) -> None:
    count = 120
    done = trials(kind, count, seed=7)
    held = sum(abs(t.area_off) <= COVERAGE_FACTOR for t in done)
    # binomial, 120 draws at 95 %: fewer than 106 happens once in 2000
    assert held >= 106
    # and the interval is no wider than it must be: chi-square with 120 degrees of freedom
    # puts the root mean square of the errors, in standard uncertainties, in 0.78 to 1.22 (99.9 %)
    assert 0.78 < float(np.sqrt(np.mean([t.area_off**2 for t in done]))) < 1.22
    held_length = sum(abs(t.perimeter_off) <= COVERAGE_FACTOR for t in done)
    assert held_length >= 106
