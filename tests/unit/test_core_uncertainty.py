"""Components of uncertainty, what they share, and degrees of freedom."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.bench import LeakTreatment
from portwright.core.curve import make_curve
from portwright.core.repeatability import Repeatability
from portwright.core.uncertainty import (
    Budget,
    Component,
    Source,
    coverage_factor,
    effective_degrees_of_freedom,
    mean_of_observations,
    sum_of_students,
    sweep_budget,
)
from portwright.errors import RangeError, ShapeError

LIFT = np.linspace(1e-3, 10e-3, 10)
SHOP = Repeatability(0.004, 20e-6, 0.003, 12.0, "invented")


def budget(leak: LeakTreatment = LeakTreatment.AS_UNCERTAINTY) -> Budget:
    curve = make_curve(LIFT, 0.05 * LIFT, resolution=0.001, scatter=0.01, leak=2e-6)
    return sweep_budget(
        curve,
        SHOP,
        sweep="1",
        bench="B",
        calibration="B v1",
        calibration_uncertainty=0.01,
        air_uncertainty=0.002,
        leak=leak,
    )


def test_combined_uncertainty_is_the_root_of_the_squares() -> None:
    # A straight flow curve has dlnA/dL = 1/L.
    area = 0.05 * LIFT
    expected = (
        0.003**2 + 0.001**2 + 0.005**2 + 0.004**2 + (20e-6 / LIFT) ** 2 + 0.002**2 + 0.01**2
    ) + (2e-6 / math.sqrt(3.0) / area) ** 2
    # Round-off of the spline slope.
    np.testing.assert_allclose(budget().combined(), np.sqrt(expected), rtol=1e-9)
    np.testing.assert_allclose(np.diag(budget().covariance()), expected, rtol=1e-9)


def test_readings_of_a_sweep_share_everything_but_the_reading_itself() -> None:
    covariance = budget().covariance()
    area = 0.05 * LIFT
    shared = 0.004**2 + 20e-6**2 / (LIFT[0] * LIFT[9]) + 0.002**2 + 0.01**2
    # A quarter for the mean of the leak and a twelfth for its spread: a third.
    shared += 2e-6**2 / 3.0 / (area[0] * area[9])
    assert covariance[0, 9] == pytest.approx(shared, rel=1e-9)
    assert np.linalg.eigvalsh(covariance).min() > 0.0


def test_a_leak_taken_off_leaves_what_the_leak_check_is_worth() -> None:
    left = budget(LeakTreatment.SUBTRACT)
    leaks = [c for c in left.components if c.source is Source.LEAK]
    assert len(leaks) == 1
    np.testing.assert_allclose(leaks[0].deviation, 0.25 * 2e-6 / (0.05 * LIFT))


def test_leak_or_scatter_not_noted_adds_nothing() -> None:
    curve = make_curve(LIFT, 0.05 * LIFT)
    plain = sweep_budget(
        curve, SHOP, sweep="1", bench="B", calibration="B", calibration_uncertainty=0.0
    )
    expected = np.sqrt(0.003**2 + 0.004**2 + (20e-6 / LIFT) ** 2)
    np.testing.assert_allclose(plain.combined(), expected, rtol=1e-9)
    np.testing.assert_allclose(plain.degrees_of_freedom() > 12.0, True)


def test_components_of_one_key_add_before_they_are_squared() -> None:
    ones = np.ones(2)
    twice = Budget((Component(Source.AIR, ones, "a"), Component(Source.AIR, ones, "a")))
    np.testing.assert_allclose(twice.covariance(), 4.0)


def test_effective_degrees_of_freedom() -> None:
    # Two equal parts of equal freedom: twice the freedom.
    assert effective_degrees_of_freedom(np.array([1.0, 1.0]), np.array([5.0, 5.0])) == 10.0
    assert effective_degrees_of_freedom(np.array([3.0, 0.0]), np.array([5.0, 1.0])) == 5.0
    assert np.isinf(effective_degrees_of_freedom(np.array([1.0]), np.array([np.inf])))


def test_sum_of_one_student_is_itself() -> None:
    for free in (3.0, 4.0, 6.0, 50.0, math.inf):
        scale, found = sum_of_students(np.array([[4.0]]), np.array([free]))
        assert scale[0] == pytest.approx(2.0, rel=1e-12)
        assert found[0] == pytest.approx(free, rel=1e-12)


def test_sum_of_students_has_the_right_quantile() -> None:
    variances, free = np.array([[1.0], [0.5], [0.2]]), np.array([6.0, 6.0, np.inf])
    scale, found = sum_of_students(variances, free)
    rng = np.random.default_rng(3)
    draws = sum(
        math.sqrt(v) * (rng.standard_t(f, 400_000) if f < 1e9 else rng.normal(size=400_000))
        for v, f in zip(variances[:, 0], free, strict=True)
    )
    outside = np.mean(np.abs(draws) > coverage_factor(found[0]) * scale[0])
    # Binomial: 4 sqrt(0.05 * 0.95 / 400 000) = 0.0014; as much again for the moment matching.
    assert outside == pytest.approx(0.05, abs=0.003)


@pytest.mark.parametrize(
    ("variances", "free"),
    [((1.0, 0.3), (8.0, 3.0)), ((1.0, 2.0, 0.2), (8.0, 3.0, np.inf)), ((1.0, 1.0), (np.inf, 2.5))],
)
def test_a_term_of_few_degrees_of_freedom_counts_as_far_as_it_reaches(
    variances: tuple[float, ...], free: tuple[float, ...]
) -> None:
    scale, found = sum_of_students(np.array(variances)[:, None], np.array(free))
    rng = np.random.default_rng(4)
    draws = sum(
        math.sqrt(v) * (rng.standard_t(f, 400_000) if f < 1e9 else rng.normal(size=400_000))
        for v, f in zip(variances, free, strict=True)
    )
    for level in (0.90, 0.95, 0.99):
        outside = np.mean(np.abs(draws) > coverage_factor(found[0], level) * scale[0])
        # Four standard errors of the draws, and a tenth of the level where it is not matched.
        assert outside == pytest.approx(1.0 - level, rel=0.1, abs=0.0015)


def test_what_cancels_does_not_bear_on_the_sum() -> None:
    with_it = sum_of_students(np.array([[1.0], [1e-20]]), np.array([8.0, 3.0]))
    assert [float(v[0]) for v in with_it] == pytest.approx([1.0, 8.0], rel=1e-12)


def test_coverage_factor_reaches_the_normal_limit() -> None:
    assert coverage_factor(math.inf) == pytest.approx(1.959964, abs=5e-7)
    # Student's table, four digits: 10 degrees of freedom, 95 % and 90 %.
    assert coverage_factor(10.0) == pytest.approx(2.228, abs=5e-4)
    assert coverage_factor(10.0, 0.90) == pytest.approx(1.812, abs=5e-4)
    with pytest.raises(RangeError, match="between 0 and 1"):
        coverage_factor(10.0, 95.0)


def test_a_single_reading_has_no_scatter() -> None:
    with pytest.raises(ShapeError, match="two readings"):
        mean_of_observations(np.ones((1, 3)))
