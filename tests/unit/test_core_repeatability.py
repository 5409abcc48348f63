"""Shop repeatability learned from repeats, with and without faulty sweeps among them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.curve import FlowCurve, make_curve
from portwright.core.repeatability import (
    SHOP_DEFAULT,
    Repeatability,
    estimate_repeatability,
)

LIFT = np.linspace(1e-3, 12e-3, 12)
# Almost no say, so that the data alone are seen.
NO_PRIOR = Repeatability(0.005, 15e-6, 0.003, 1e-6, "none")


def sweep(
    rng: np.random.Generator, shop: Repeatability, *, zero: float = 0.0, factor: float = 1.0
) -> FlowCurve:
    lift = LIFT + rng.normal(0.0, shop.lift_setting) + zero
    area = 570e-6 * np.tanh(lift / 7e-3) * factor
    noise = rng.normal(0.0, shop.common) + rng.normal(0.0, shop.reading, LIFT.size)
    return make_curve(LIFT, area * np.exp(noise))


@pytest.mark.parametrize("size", [2, 3, 5])
def test_variances_are_unbiased_for_small_groups(size: int) -> None:
    rng = np.random.default_rng(20260211 + size)
    shop = Repeatability(0.008, 30e-6, 0.002, 0.0, "true")
    found = [
        estimate_repeatability(
            [[sweep(rng, shop) for _ in range(size)] for _ in range(4)], NO_PRIOR
        )
        for _ in range(150)
    ]
    free = 150 * 4 * (size - 1)
    # Four standard errors of a mean of chi-square variances, doubled for the noise of the fit
    # that is taken off; reading has ten times the data.
    limit = 4.0 * math.sqrt(2.0 / free)
    assert np.mean([f.common**2 for f in found]) / 0.008**2 == pytest.approx(1.0, abs=limit)
    assert np.mean([f.lift_setting**2 for f in found]) / 30e-6**2 == pytest.approx(1.0, abs=limit)
    assert np.mean([f.reading**2 for f in found]) / 0.002**2 == pytest.approx(1.0, abs=limit / 2)


def test_faulty_sweeps_do_not_spoil_the_shop_figure() -> None:
    rng = np.random.default_rng(7)
    shop = Repeatability(0.004, 15e-6, 0.003, 0.0, "true")
    groups = [[sweep(rng, shop) for _ in range(3)] for _ in range(8)]
    groups[1][0] = sweep(rng, shop, zero=-0.25e-3)
    groups[4][2] = sweep(rng, shop, factor=1.04)
    groups[6][1] = sweep(rng, shop, factor=1.05)
    found = estimate_repeatability(groups)
    assert "3 set aside" in found.source
    # 13 kept degrees of freedom and 6 of the prior: one standard error is 16 %.
    assert found.common == pytest.approx(0.0043, rel=0.5)
    assert found.lift_setting == pytest.approx(15e-6, rel=0.5)
    assert found.degrees_of_freedom == pytest.approx(6 + 13)


def test_a_pair_that_disagrees_is_left_out_whole() -> None:
    rng = np.random.default_rng(8)
    shop = Repeatability(0.004, 15e-6, 0.003, 0.0, "true")
    groups = [[sweep(rng, shop) for _ in range(3)] for _ in range(5)]
    groups.append([sweep(rng, shop), sweep(rng, shop, zero=-0.4e-3)])
    assert "2 set aside" in estimate_repeatability(groups).source


def test_wild_reading_sets_its_sweep_aside() -> None:
    rng = np.random.default_rng(9)
    shop = Repeatability(0.004, 15e-6, 0.003, 0.0, "true")
    groups = [[sweep(rng, shop) for _ in range(3)] for _ in range(5)]
    groups[2][1].area[7] *= 1.2
    found = estimate_repeatability(groups)
    assert "1 set aside" in found.source
    assert found.reading < 0.004


def test_nothing_to_learn_from_leaves_the_prior() -> None:
    rng = np.random.default_rng(10)
    alone = sweep(rng, SHOP_DEFAULT)
    assert estimate_repeatability([]) is SHOP_DEFAULT
    assert estimate_repeatability([[alone]]) is SHOP_DEFAULT
    short = make_curve(LIFT[:3], alone.area[:3])
    assert estimate_repeatability([[short, short]]) is SHOP_DEFAULT


def test_prior_and_data_are_weighed_by_their_degrees_of_freedom() -> None:
    # Two equal sweeps: nothing seen to vary, so only v0 s0^2 / (v0 + 1) is left of the prior.
    curve = make_curve(LIFT, 570e-6 * np.tanh(LIFT / 7e-3))
    found = estimate_repeatability([[curve, curve]])
    assert found.degrees_of_freedom == 7.0
    # The noise of the fit is taken off a variance of zero only if readings vary; they do not.
    assert found.common == pytest.approx(0.005 * math.sqrt(6 / 7), rel=1e-12)
    assert found.lift_setting == pytest.approx(15e-6 * math.sqrt(6 / 7), rel=1e-12)
    assert found.reading == pytest.approx(0.003 * math.sqrt(6 / 16), rel=1e-12)
    many = estimate_repeatability([[curve] * 6])
    assert many.reading == pytest.approx(0.0015)  # not below half of the prior


def test_sheets_with_overstated_scatter_do_not_condemn_those_without() -> None:
    rng = np.random.default_rng(12)
    shop = Repeatability(0.004, 15e-6, 0.002, 0.0, "true")

    def noted() -> FlowCurve:
        return make_curve(LIFT, sweep(rng, shop).area, scatter=0.01)

    groups = [[noted() for _ in range(3)] for _ in range(8)]
    groups += [[sweep(rng, shop) for _ in range(2)] for _ in range(8)]
    # 6 of the prior, 16 and 8 of the groups; the noise is judged at 0.15 % where it is 0.2 %, so
    # one pair in fifteen may go.
    assert estimate_repeatability(groups).degrees_of_freedom >= 6 + 16 + 8 - 3


def test_known_scatter_is_not_counted_twice() -> None:
    rng = np.random.default_rng(11)
    shop = Repeatability(0.004, 15e-6, 0.003, 0.0, "true")

    def flutter() -> FlowCurve:
        curve = sweep(rng, shop)
        shake = np.exp(rng.normal(0.0, 0.01, LIFT.size))
        return make_curve(LIFT, curve.area * shake, scatter=0.02)

    groups = [[flutter() for _ in range(3)] for _ in range(60)]
    # 1200 residual degrees of freedom of a variance (0.3^2 + 1^2) %^2: the remainder 0.3^2 %^2
    # is known to 1.09 * sqrt(2 / 1200) = 0.045 %^2, half of itself; without the subtraction
    # the figure would be 1.04 %.
    found = estimate_repeatability(groups, NO_PRIOR)
    assert found.reading < 0.0045
    # 120 degrees of freedom: 6.5 % is one standard error of 0.4 %, the noise taken off doubles
    # that; left on, it would make 0.6 %.
    assert found.common < 0.005
