"""Rates of the checks on simulated jobs, shorter than the benchmark, and what must always hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.detection import COMPARED, clean_rate, compared, fault_rates, in_si, swap_rate
from benchmarks.detection_jobs import job
from portwright.core.curve import make_curve
from portwright.core.detection import SweepRecord, find
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.errors import Where


def most(chance: float, trials: int) -> float:
    """Count that is exceeded once in some 10 000 times: four standard deviations and one."""
    return chance * trials + 4.0 * math.sqrt(chance * (1.0 - chance) * trials) + 1.0


def least(chance: float, trials: int) -> float:
    """Count that is missed once in some 10 000 times."""
    return chance * trials - 4.0 * math.sqrt(chance * (1.0 - chance) * trials) - 1.0


@pytest.mark.slow
@pytest.mark.parametrize("repeats", [1, 2, 3])
def test_sound_sweeps_are_left_alone(repeats: int) -> None:
    rate = clean_rate(25, seed=7 + repeats, repeats=repeats)
    # Nominal 0.1 % per sweep, 0.4 % more on first sweeps; 0.3 % leaves room for the curve
    # family, which is not that of the model.
    assert sum(rate.alarms.values()) <= most(0.003, rate.sweeps), rate


# Size and share of right causes that must be reached in a shop with some history.
# The shares are rounded down from docs/theory/bad-runs.md.
@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "size", "unit", "share"),
    [
        ("lift-zero-offset", 0.25, "mm", 0.9),
        ("leak", 3.0, "cfm", 0.7),
        ("constant-factor", 3.0, "%", 0.5),
        ("range-step", 5.0, "%", 0.9),
        ("odd-reading", 5.0, "%", 0.8),
    ],
)
def test_large_mistakes_get_their_right_name(
    kind: str, size: float, unit: str, share: float
) -> None:
    _, said = fault_rates(kind, in_si(size, unit), 3, jobs=12, seed=3, history=12)
    assert said["right"] >= least(share, said.total()), said


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["constant-factor", "range-step", "odd-reading"])
def test_mistakes_far_below_repeatability_are_not_named(kind: str) -> None:
    said, _ = fault_rates(kind, 0.001, 3, jobs=10, seed=4, history=0)
    assert said["missed"] >= least(0.99, said.total()), said


def test_an_intake_sweep_filed_as_exhaust_is_found() -> None:
    said = [outcome for _, outcome in swap_rate(True, 2, 20, seed=5)]
    assert said.count("right") >= least(0.9, len(said)), said


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.2, 5.0))
def test_size_of_the_head_does_not_matter(seed: int, scale: float) -> None:
    """Area and lift scaled alike, with the lengths of the yardstick: the same codes."""
    simulated = job(np.random.default_rng(seed), ports=2, stages=1, repeats=2)
    scaled = [
        replace(r, curve=replace(r.curve, area=r.curve.area * scale, leak=r.curve.leak * scale))
        for r in simulated.records
    ]
    leaks = {"leak"}  # judged by their absolute size
    plain = {(f.code, f.where) for f in find(simulated.records, SHOP_DEFAULT)}
    other = {(f.code, f.where) for f in find(scaled, SHOP_DEFAULT)}
    assert {p for p in plain ^ other if p[0] in COMPARED and p[0] not in leaks} == set()


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_order_of_the_sweeps_does_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    simulated = job(rng, ports=2, stages=1, repeats=3, faults=[("odd-reading", 0.06)])
    turned = replace(simulated, records=simulated.records[::-1])
    assert {(f.code, f.where.run) for f in compared(simulated)} == {
        (f.code, f.where.run) for f in compared(turned)
    }


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_every_finding_says_what_where_and_what_to_do(seed: int) -> None:
    rng = np.random.default_rng(seed)
    faults = [("lift-zero-offset", 0.4e-3), ("range-step", 0.06), ("leak", 2e-5)]
    simulated = job(rng, ports=3, stages=2, faults=faults)
    for finding in find(simulated.records, SHOP_DEFAULT):
        assert finding.code == finding.code.lower()
        assert finding.message.endswith(".")
        assert finding.hint.endswith(".")
        assert finding.where.run or finding.where.port or finding.where.stage


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_no_sheet_is_too_odd_to_be_checked(seed: int) -> None:
    """Few lifts, lists that do not match, nothing recorded, wild values: findings, no error."""
    rng = np.random.default_rng(seed)
    records = []
    for number in range(int(rng.integers(1, 6))):
        n = int(rng.integers(2, 15))
        lift = np.sort(rng.choice(np.arange(1, 40), n, replace=False)) * rng.choice([5e-4, 3e-4])
        area = 0.08 * lift * np.exp(rng.choice([0.0, 0.01, 0.5]) * rng.standard_normal(n))
        curve = make_curve(
            lift,
            area,
            scatter=rng.choice([math.nan, 0.0, 0.02]),
            leak=rng.choice([math.nan, 0.0, 1e-5]),
            range_number=np.sort(rng.integers(0, 4, n)),
        )
        records.append(
            SweepRecord(
                curve=curve,
                where=Where(run=f"R{number}"),
                port=str(rng.choice(["", "I1", "I2"])),
                day=str(rng.choice(["", "Monday"])),
                order=float(number),
            )
        )
    perfect = Repeatability(0.0, 0.0, 0.0, 6.0, "claims to be perfect")
    for known in (SHOP_DEFAULT, perfect):
        for finding in find(records, known):
            assert finding.size is None or math.isfinite(finding.size)
