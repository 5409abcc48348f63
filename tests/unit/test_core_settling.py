"""Mean, error and settling of moving air, against simulated truth."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.core.constants import Array
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.practice_bench import (
    HUNTING_BENCH,
    STEADY_BENCH,
    Habits,
    PracticeBench,
    drawn_habits,
    settled_area,
)
from portwright.core.settling.rule import FIXED_TEN, STANDARD, SettleRule
from portwright.core.settling.series import correlation, mean_of, shape_of
from portwright.core.settling.watch import Judgement, State, Watch
from portwright.errors import RangeError, ShapeError

RATE = 20.0


def remembering(dice: np.random.Generator, count: int, keep: float) -> Array:
    """First-order autoregressive noise of unit variance."""
    values = np.empty(count)
    values[0] = dice.standard_normal()
    for k in range(1, count):
        values[k] = keep * values[k - 1] + math.sqrt(1.0 - keep**2) * dice.standard_normal()
    return values


def test_correlation_time_of_known_noise() -> None:
    # (1 + a)/(1 - a) for a first-order process; 50 000 values know it to some per cent
    dice = np.random.default_rng(3)
    for keep in (0.0, 0.5, 0.9):
        found = correlation(remembering(dice, 50_000, keep)).time
        assert found == pytest.approx((1.0 + keep) / (1.0 - keep), rel=0.08)


def test_standard_error_counts_the_correlation() -> None:
    # 200 means of 200 values: their spread is known to 5 %, the mean stated error is asked to
    # lie within 15 % of it; without counting the correlation it would be a third
    dice = np.random.default_rng(4)
    series = [remembering(dice, 200, 0.8) for _ in range(200)]
    means = [mean_of(values) for values in series]
    spread = float(np.std([m.value for m in means]))
    assert float(np.mean([m.error for m in means])) == pytest.approx(spread, rel=0.15)


@given(st.floats(-5.0, 5.0), st.floats(-5.0, 5.0), st.integers(3, 40))
def test_shape_finds_line_and_bend(slope: float, bend: float, third: int) -> None:
    place = np.linspace(-1.0, 1.0, 3 * third)
    shape = shape_of(0.5 * slope * place)
    assert shape.drift == pytest.approx(slope, rel=1.5 / third, abs=1e-9)
    assert shape.bend == pytest.approx(0.0, abs=1e-9)
    curved = shape_of(bend * place**2)
    assert curved.drift == pytest.approx(0.0, abs=1e-9)
    assert curved.bend * bend <= 1e-12


def test_a_mean_needs_a_value() -> None:
    with pytest.raises(ShapeError):
        mean_of(np.empty(0))
    assert math.isinf(mean_of(np.array([2.0])).error)


def at_lift(habits: Habits, seed: int, rule: SettleRule = STANDARD) -> tuple[Judgement, float]:
    """Open the valve by a millimetre; the first reading that may be taken, with the truth."""
    dice = np.random.default_rng(seed)
    bench = PracticeBench(habits, dice)
    bench.switch(on=True)
    bench.put_lift(4e-3)
    for _ in range(round(12 * RATE)):
        bench.step(1.0 / RATE)
    bench.put_lift(5e-3)
    watch = Watch(rule, bench.time)
    judged = watch.judge()
    for step in range(round(40 * RATE)):
        seen = bench.step(1.0 / RATE)
        watch.push(seen.time, seen.pressure, seen.flow)
        if step % 5 == 4:
            judged = watch.judge()
            if judged.may_be_taken:
                break
    return judged, settled_area(bench)


def error_of(judged: Judgement, truth: float) -> float:
    """Settled area over the true one, minus one."""
    assert judged.area is not None
    return math.exp(judged.area.value) * math.sqrt(REFERENCE_DENSITY / 2.0) / truth - 1.0


def test_a_steady_bench_is_taken_and_right() -> None:
    judged, truth = at_lift(STEADY_BENCH, 1)
    assert judged.state is State.STEADY
    assert abs(error_of(judged, truth)) < 0.005  # what the study calls falsely settled
    assert not judged.unsteady


def test_hunting_is_refused_and_said() -> None:
    judged, _ = at_lift(HUNTING_BENCH, 2)
    assert judged.state is State.HUNTING
    assert judged.area is None
    assert judged.swing > STANDARD.swing


def test_a_flow_that_jumps_is_taken_late_with_its_scatter() -> None:
    habits = Habits(noise=0.002, flutter=0.04, flutter_from=0.0, flutter_time=0.8)
    judged, _ = at_lift(habits, 5)
    assert judged.may_be_taken
    assert judged.unsteady
    assert judged.waited >= STANDARD.patience
    assert judged.area is not None
    assert judged.area.scatter > 0.01


def first_taken(
    watch: Watch,
    start: float,
    area: Callable[[float], float],
    pressure: Callable[[float], float] = lambda _: 7000.0,
) -> Judgement:
    """Change the lift at ``start``; the first reading that may be taken within half a minute."""
    dice = np.random.default_rng(8)
    watch.restart(start)
    for k in range(round(30 * RATE)):
        waited = k / RATE
        now = pressure(waited)
        flow = area(waited) * math.sqrt(now) * (1.0 + 2e-4 * dice.standard_normal())
        watch.push(start + waited, now, flow)
        if k % 5 == 4 and (judged := watch.judge()).may_be_taken:
            return judged
    raise AssertionError("nothing was taken")


def test_a_flow_that_came_back_while_the_motor_ran_up_is_not_believed_at_once() -> None:
    def run_up(t: float) -> float:
        return 7000.0 * (1.0 - 0.5 * math.exp(-1.5 * t))

    calm = first_taken(Watch(STANDARD), 0.0, lambda _: 1.0, run_up)
    assert calm.waited < 8.0
    # stands 3 % lower for most of a second before the pressure is steady, and comes back
    back = first_taken(Watch(STANDARD), 0.0, lambda t: 0.97 if 2.4 < t < 3.2 else 1.0, run_up)
    assert back.waited > 12.0
    assert not back.unsteady  # calm for as long as the rule averages: whatever it was is over


def test_where_the_flow_jumped_the_next_lift_is_watched_longer() -> None:
    watch = Watch(STANDARD)
    jumping = first_taken(watch, 0.0, lambda t: 0.97 if int(t / 0.9) % 2 else 1.0)
    assert jumping.unsteady
    assert jumping.waited >= STANDARD.patience
    after = first_taken(watch, 40.0, lambda _: 1.0)
    assert 9.0 < after.waited < STANDARD.patience
    assert not after.unsteady
    assert first_taken(watch, 80.0, lambda _: 1.0).waited < 5.0  # and then it is forgotten


def test_the_air_may_be_off() -> None:
    watch = Watch(STANDARD)
    for k in range(200):
        watch.push(0.05 * k, 1.0, 1e-5)
    assert watch.judge().state is State.OFF


def test_a_ramp_is_settling_not_hunting() -> None:
    watch = Watch(STANDARD)
    for k in range(160):
        watch.push(0.05 * k, 3000.0 + 20.0 * k, 0.05)
    assert watch.judge().state is State.SETTLING


def test_slow_instruments_settle_too() -> None:
    watch = Watch(STANDARD)
    dice = np.random.default_rng(6)
    for k in range(36):
        watch.push(0.5 * k, 7000.0 * (1 + 1e-4 * dice.standard_normal()), 0.05)
    judged = watch.judge()
    assert judged.may_be_taken
    assert judged.stretch == pytest.approx(STANDARD.longest, abs=1.0)


def test_a_fixed_wait_takes_what_is_there() -> None:
    judged, _ = at_lift(HUNTING_BENCH, 2, FIXED_TEN)
    assert judged.may_be_taken
    assert judged.waited >= FIXED_TEN.fixed_wait


def test_time_may_not_run_backwards() -> None:
    watch = Watch(STANDARD)
    watch.push(1.0, 7000.0, 0.05)
    with pytest.raises(RangeError):
        watch.push(0.5, 7000.0, 0.05)


def test_rules_that_cannot_be_are_refused() -> None:
    with pytest.raises(RangeError):
        SettleRule(shortest=0.0)
    with pytest.raises(RangeError):
        SettleRule(shortest=12.0)


def test_few_readings_are_falsely_settled() -> None:
    """The study over thousands of lifts in small: see the page on settling for its table."""
    wrong = taken = 0
    for seed in range(40):
        habits = drawn_habits(np.random.default_rng([9, seed]))
        judged, truth = at_lift(habits, seed)
        hunts = habits.hunting > 0.0 and math.isinf(habits.hunting_fades)
        if judged.may_be_taken:
            taken += 1
            off = abs(error_of(judged, truth)) > 0.005
            wrong += not judged.unsteady and (hunts or off)
    assert taken >= 25
    assert wrong <= 2  # about one in a hundred; with this seed a fixed wait of 3 s has dozens


def test_a_stated_interval_of_few_remembering_values_holds() -> None:
    # 30 values worth about 5: with 1.96 standard errors as they stand it would hold in 75 of 100
    dice = np.random.default_rng(11)
    held = raw = 0
    for _ in range(400):
        long = remembering(dice, 150, 0.7)
        mean = mean_of(long[-30:], long - long.mean())
        held += abs(mean.value) <= 1.96 * mean.stated().error
        raw += abs(mean.value) <= 1.96 * mean_of(long[-30:]).error
    # 400 trials know a share of 95 % to 1.1 %
    assert 0.92 <= held / 400 <= 0.99
    assert raw / 400 < 0.90


def test_what_still_drifts_widens_what_is_stated() -> None:
    mean = mean_of(np.array([1.0, 1.1, 0.9, 1.05, 0.95, 1.0, 1.02, 0.98]))
    assert mean.stated(0.3).error > mean.stated().error > mean.error
    assert mean.stated().stated() == mean.stated()
