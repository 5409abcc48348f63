"""What must hold for any comparison, and how often its intervals and verdicts are right."""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from portwright.core.comparison import Sweep, compare
from portwright.core.curve import make_curve
from portwright.core.repeatability import Repeatability

SCRIPT = Path(__file__).resolve().parents[2] / "benchmarks" / "verdicts.py"
LIFT = np.arange(1.0, 11.0) * 1e-3


def simulation() -> Any:
    """The simulated shops of the benchmark, so that both tell of the same shops."""
    spec = importlib.util.spec_from_file_location("verdicts", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@st.composite
def sides(draw: st.DrawFn) -> tuple[list[Sweep], list[Sweep]]:
    shop = Repeatability(
        draw(st.floats(1e-3, 2e-2)),
        draw(st.floats(1e-6, 5e-5)),
        draw(st.floats(1e-3, 1e-2)),
        draw(st.floats(3.0, 50.0)),
        "drawn",
    )
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))

    def side(number: int) -> list[Sweep]:
        start = draw(st.integers(0, 3))
        lift = LIFT[start:] + draw(st.sampled_from([0.0, 0.3e-3]))
        area = 5e-4 * np.tanh(lift / 6e-3) * draw(st.floats(0.8, 1.2))
        return [
            Sweep(
                make_curve(lift, area * np.exp(rng.normal(0, 0.01, lift.size)), leak=1e-6),
                shop,
                draw(st.sampled_from(["B", "C"])),
                0.01,
            )
            for _ in range(number)
        ]

    return side(draw(st.integers(1, 3))), side(draw(st.integers(1, 3)))


@settings(max_examples=60, deadline=None)
@given(sides())
def test_looking_from_the_other_side_inverts_the_gain(both: tuple[Any, Any]) -> None:
    forth, back = (compare(*pair, valve_diameter=35e-3) for pair in (both, (both[1], both[0])))
    ours = [x.gain for x in forth.lifts] + [x.gain for x in forth.bands]
    theirs = [x.gain for x in back.lifts] + [x.gain for x in back.bands]
    for one, other in zip(ours, theirs, strict=True):
        # Round-off of sums over some hundred products.
        assert (1 + one.gain) * (1 + other.gain) == pytest.approx(1.0, rel=1e-9)
        assert (1 + one.low) * (1 + other.high) == pytest.approx(1.0, rel=1e-6)
        assert one.verdict is other.verdict


@settings(max_examples=40, deadline=None)
@given(sides(), st.floats(0.3, 3.0))
def test_size_of_the_port_does_not_matter(both: tuple[Any, Any], factor: float) -> None:
    scaled = [
        [
            Sweep(
                make_curve(s.curve.lift, s.curve.area * factor, leak=s.curve.leak * factor),
                s.repeatability,
                s.calibration,
                s.calibration_uncertainty,
            )
            for s in side
        ]
        for side in both
    ]
    for one, other in zip(compare(*both).lifts, compare(*scaled).lifts, strict=True):
        # Round-off through logarithms and splines.
        assert one.gain.gain == pytest.approx(other.gain.gain, abs=1e-9)
        assert one.gain.low == pytest.approx(other.gain.low, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(sides())
def test_a_band_is_never_less_sure_than_its_worst_lift(both: tuple[Any, Any]) -> None:
    result = compare(*both, valve_diameter=35e-3)
    worst = max(x.gain.deviation for x in result.lifts)
    # Bands average lifts; the Student scale of a mixture may exceed the parts' by its moments.
    assert all(b.gain.deviation <= 1.05 * worst for b in result.bands)


@pytest.mark.parametrize("repeats", [1, 3])
def test_intervals_cover_and_false_alarms_stay_few(repeats: int) -> None:
    shops = 300
    tally = simulation().simulate(shops, repeats, 0.0, studied=False, seed=99 + repeats)
    # Shops are independent, lifts and bands of one shop are not: as if one lift told per shop.
    # Three binomial standard errors of 5 % in 300 are 3.8 %; the seed is fixed, so chance strikes
    # once for all.  A wrong factor of sqrt(2) in the deviation would give 17 % or 0.6 %, a session
    # that cancels but still speaks for the degrees of freedom 0.5 %.
    limit = 3.0 * math.sqrt(0.05 * 0.95 / shops)
    assert np.mean(tally.lifts) == pytest.approx(0.95, abs=limit)
    assert np.mean(tally.bands) == pytest.approx(0.95, abs=limit)
    assert np.mean(tally.real) <= 0.05 + limit


def test_a_real_gain_is_found_more_often_with_more_repeats() -> None:
    module = simulation()
    once, thrice = (
        float(np.mean(module.simulate(100, n, 0.02, studied=False, seed=7).real)) for n in (1, 3)
    )
    # 50 % and 80 % or more in the full table; standard error below 5 % each.
    assert thrice > once + 0.1
    assert thrice > 0.6
