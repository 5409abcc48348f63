"""Before and after: gains, intervals, verdicts, and what limits them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat, umath

from portwright.core.bench import LeakTreatment
from portwright.core.cam import LiftTable
from portwright.core.comparison import Comparison, Sweep, Verdict, compare
from portwright.core.curve import FlowCurve, make_curve
from portwright.core.repeatability import Repeatability
from portwright.errors import InputError, RangeError

LIFT = np.arange(1.0, 13.0) * 1e-3
SHOP = Repeatability(0.003, 10e-6, 0.002, 20.0, "invented")
CAM = LiftTable(np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 9e-3, 11e-3, 0.0]))


def curve(
    factor: float | np.ndarray = 1.0, lift: np.ndarray = LIFT, leak: float = math.nan
) -> FlowCurve:
    return make_curve(lift, 570e-6 * np.tanh(lift / 7e-3) * factor, leak=leak, resolution=0.001)


def sweep(
    factor: float | np.ndarray = 1.0,
    *,
    lift: np.ndarray = LIFT,
    leak: float = math.nan,
    bench: str = "B v1",
    shop: Repeatability = SHOP,
) -> Sweep:
    return Sweep(curve(factor, lift, leak), shop, bench, 0.01)


def codes(result: Comparison) -> set[str]:
    return {f.code for f in result.findings}


def test_gain_verdict_and_interval() -> None:
    before = [sweep(0.999), sweep(1.001), sweep()]
    for gain, verdict in ((0.05, Verdict.REAL), (0.0, Verdict.CANT_TELL), (-0.05, Verdict.REAL)):
        after = [sweep(x * (1.0 + gain)) for x in (0.999, 1.001, 1.0)]
        result = compare(before, after, valve_diameter=40e-3, cam=CAM)
        assert result.over_cam is not None
        every = [x.gain for x in result.lifts] + [x.gain for x in result.bands]
        every.append(result.over_cam)
        assert len(result.lifts) == 12
        assert len(result.bands) == 3  # 12 mm is 0.30 of the valve: no fourth band
        for one in every:
            assert one.gain == pytest.approx(gain, abs=1e-12)
            assert one.verdict is verdict
            assert one.low < one.gain < one.high
        assert result.findings == ()


def test_probably_lies_between_the_two_intervals() -> None:
    shop = Repeatability(0.01, 0.0, 1e-9, 1e9, "exact")
    # One sweep each: deviation sqrt(2) % and a wee bit of last digit; 1.645 to 1.960 of it.
    for steps, verdict in ((1.6, "can't tell"), (1.8, "probably"), (2.05, "real")):
        gain = math.expm1(steps * 0.01 * math.sqrt(2.0))
        result = compare([sweep(shop=shop)], [sweep(1.0 + gain, shop=shop)], valve_diameter=40e-3)
        assert [b.gain.verdict for b in result.bands] == [verdict] * 3


def test_agrees_with_propagation_of_correlated_variables() -> None:
    """The same measurement written out with the uncertainties package."""
    # So many degrees of freedom that nothing is learned and Student's scale is the plain one.
    shop = Repeatability(0.003, 10e-6, 0.002, 1e12, "invented")
    before = [sweep(leak=2e-6, shop=shop), sweep(1.002, leak=1e-6, shop=shop)]
    after = [sweep(1.0 + 10.0 * LIFT, leak=2e-6, shop=shop)]  # a gain that grows to 12 %
    result = compare(before, after, valve_diameter=40e-3, cam=CAM)
    calibration, leak_mean = ufloat(1.0, 0.01), ufloat(0.0, 0.5)

    def areas(one: Sweep) -> list[Any]:
        c = one.curve
        common, zero = ufloat(0.0, shop.common), ufloat(0.0, shop.lift_setting)
        leak = (leak_mean + ufloat(0.0, 1.0 / math.sqrt(12.0))) * c.leak[0]
        noise = correlated_values(
            np.zeros(LIFT.size), np.eye(LIFT.size) * (shop.reading**2 + 0.001**2)
        )
        slope = c.log_slope()
        return [
            calibration * c.area[j] * umath.exp(common + zero * slope[j] + noise[j]) + leak
            for j in range(LIFT.size)
        ]

    first, second, third = areas(before[0]), areas(before[1]), areas(after[0])
    old = [umath.sqrt(a * b) for a, b in zip(first, second, strict=True)]
    for j, at in enumerate(result.lifts):
        ratio = umath.log(third[j] / old[j])
        assert ratio.nominal_value == pytest.approx(math.log1p(at.gain.gain), rel=1e-9)
        # Both are first order; round-off only.
        assert at.gain.deviation == pytest.approx(ratio.std_dev, rel=1e-7)
    weights = result.cam_weights
    assert weights is not None
    assert result.over_cam is not None
    means = [sum(w * a for w, a in zip(weights.weight, x, strict=True)) for x in (third, old)]
    ratio = umath.log(means[0] / means[1])
    assert ratio.nominal_value == pytest.approx(math.log1p(result.over_cam.gain), rel=1e-9)
    assert result.over_cam.deviation == pytest.approx(ratio.std_dev, rel=1e-7)


def test_bench_calibration_cancels_on_one_bench_and_adds_across() -> None:
    same = compare([sweep()], [sweep(1.01)]).lifts[-1].gain
    other = compare([sweep()], [sweep(1.01, bench="C v1")])
    across = other.lifts[-1].gain
    # Two independent calibrations of 1 %; the Student scale moves by a few per cent of a square.
    added = across.deviation**2 - same.deviation**2
    assert added == pytest.approx(2 * 0.01**2, rel=0.01)
    assert "different-bench" in codes(other)
    unknown = Sweep(curve(), SHOP, "old", 0.0)
    found = [f for f in compare([sweep()], [unknown]).findings if f.code == "different-bench"]
    assert "not known for old" in found[0].message


def test_equal_leaks_cancel_in_part_and_unequal_ones_do_not() -> None:
    def at_first_lift(before: float, after: float) -> float:
        return compare([sweep(leak=before)], [sweep(leak=after)]).lifts[0].gain.deviation

    none, equal, unequal = (
        at_first_lift(math.nan, math.nan),
        at_first_lift(2e-6, 2e-6),
        at_first_lift(0.0, 4e-6),
    )
    area = float(curve().area[0])
    # Rectangles of width 2 on both sides; one of width 4 about a mean of 2.
    assert equal**2 - none**2 == pytest.approx(2 * (2e-6 / area) ** 2 / 12, rel=0.05)
    assert unequal**2 - none**2 == pytest.approx((4e-6 / area) ** 2 / 3, rel=0.05)


def test_a_leak_taken_off_changes_the_gain() -> None:
    before, after = [sweep(leak=0.0)], [sweep(leak=4e-6)]
    kept = compare(before, after).lifts[0].gain
    off = compare(before, after, leak=LeakTreatment.SUBTRACT).lifts[0].gain
    assert kept.gain == pytest.approx(0.0, abs=1e-12)
    assert off.gain == pytest.approx(-4e-6 / float(curve().area[0]), rel=1e-9)
    with pytest.raises(RangeError, match="as large as the flow"):
        compare(before, [sweep(leak=1e-3)], leak=LeakTreatment.SUBTRACT)


def test_other_lifts_are_read_between() -> None:
    inch = np.arange(0.05, 0.45, 0.05) * 25.4e-3
    result = compare([sweep()], [sweep(1.03, lift=inch)], valve_diameter=40e-3)
    assert {"lifts-interpolated", "lift-range-differs"} <= codes(result)
    assert result.lifts[0].lift == pytest.approx(1.27e-3)
    assert result.lifts[-1].lift == pytest.approx(10.16e-3)
    assert all(x.interpolated for x in result.lifts)
    for one in result.lifts:
        # Curves read between lifts 1 mm apart are good to a tenth of the gain.
        assert one.gain.gain == pytest.approx(0.03, abs=0.003)


def test_shared_lifts_are_used_as_they_are() -> None:
    more = np.append(LIFT, 12.7e-3)
    result = compare([sweep()], [sweep(1.03, lift=more)])
    np.testing.assert_array_equal([x.lift for x in result.lifts], LIFT)
    assert not any(x.interpolated for x in result.lifts)
    assert codes(result) == {"single-sweep", "lift-range-differs"}


def test_a_repeat_that_stops_early_still_counts_below() -> None:
    short = sweep(1.02, lift=LIFT[:6])
    result = compare([sweep(), short], [sweep(), sweep()])
    assert result.lifts[0].gain.gain == pytest.approx(1.02**-0.5 - 1.0, rel=1e-9)
    assert result.lifts[-1].gain.gain == pytest.approx(0.0, abs=1e-12)
    assert result.lifts[-1].gain.deviation > result.lifts[5].gain.deviation


def test_scatter_of_the_repeats_themselves_widens_the_interval() -> None:
    calm = compare([sweep()] * 3, [sweep()] * 3).lifts[-1].gain
    wild = compare([sweep(x) for x in (0.98, 1.0, 1.02)], [sweep()] * 3).lifts[-1].gain
    assert wild.deviation > 1.5 * calm.deviation


def test_sweeps_of_one_shop_share_its_degrees_of_freedom() -> None:
    shop = Repeatability(0.01, 0.0, 1e-9, 8.0, "invented")
    result = compare([sweep(shop=shop)] * 3, [sweep(shop=shop)] * 3)
    # 8 of the shop and 2 of each side; the last digit, known exactly, adds a little.
    assert 12.0 < result.lifts[-1].gain.degrees_of_freedom < 13.0


def test_cam_above_the_lifts_is_said() -> None:
    result = compare([sweep(lift=LIFT[:8])], [sweep(lift=LIFT[:8])], cam=CAM)
    (found,) = [f for f in result.findings if f.code == "cam-lifts-higher"]
    # Above 8 mm: 1/9 of the first flank, all of the slow part, 3/11 of the last.
    assert found.size == pytest.approx((1 / 9 + 1 + 3 / 11) / 3, rel=1e-9)


def test_nothing_to_compare_is_refused() -> None:
    with pytest.raises(InputError, match="at least one sweep"):
        compare([], [sweep()])
    with pytest.raises(InputError, match="share no lifts"):
        compare([sweep(lift=LIFT[:4])], [sweep(lift=LIFT[6:])])
