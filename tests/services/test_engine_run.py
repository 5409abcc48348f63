"""Both heads of the demo job on its engine, in real processes."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.errors import InputError, SolveCancelledError, UnknownNameError
from portwright.model.engine import RunnerProfile, Source
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.report.document import texts
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_kept import keep_run, kept_run, out_of_date, take_off
from portwright.services.engine_run import (
    DIFFERENCE_FLOOR,
    LEVEL_FLOOR,
    EngineRun,
    guessed_lengths,
    run_engine,
)
from portwright.services.engine_run_wording import run_lines
from portwright.services.report import ReportChoices, customer_report
from portwright.services.spoken import spoken_summary

SPEEDS = (5000.0, 7000.0)


@pytest.fixture(scope="module")
def run(demo_archive: Archive) -> EngineRun:
    return run_engine(
        demo_archive, DEMO_JOB, before="S0", after="S7", speeds=SPEEDS, samples=4, workers=2
    )


def test_the_larger_port_gains_most_on_top(run: EngineRun) -> None:
    gain = run.difference.gain
    assert run.samples == 4
    # flow rose by 28 % at full lift, and S0 runs at a mean inlet Mach number of 0.58 at 7000
    assert gain[1] > gain[0] + 0.1
    assert 0.15 < gain[1] < 0.6
    assert run.before.choking == "short-side apex"
    assert run.after.choking == "pushrod pinch"
    assert np.all(run.before.mach < 1.0)
    # the larger port and valve pass the charge more slowly at 7000
    assert run.after.valve_mach[1] < run.before.valve_mach[1]


def test_the_difference_is_known_better_than_the_level(run: EngineRun) -> None:
    d = run.difference
    assert np.all(d.low < d.gain)
    assert np.all(d.gain < d.high)
    half = 0.5 * (d.high - d.low)
    assert np.all(half >= DIFFERENCE_FLOOR - 1e-12)
    assert np.all(run.after.level >= LEVEL_FLOOR)
    assert np.all(half / (1.0 + d.gain) < run.after.level)
    assert np.all(d.sampled > 0.0)
    said = " ".join(run_lines(run))
    assert "uncalibrated" in said
    assert "better known than the level" in said
    assert "knock" in said


def test_lengths_nobody_gave_are_guessed_at_and_said(run: EngineRun) -> None:
    assert list(guessed_lengths(run.heads)) == ["runner", "primary", "tail"]
    assert "the lengths nobody gave (runner, primary, tail pipe: ±30 %)" in " ".join(run_lines(run))
    described = run.heads.description
    given = replace(described.primary_length, source=Source.JOB_SHEET)
    heads = replace(run.heads, description=replace(described, primary_length=given))
    assert list(guessed_lengths(heads)) == ["runner", "tail"]
    profile = RunnerProfile("0=41; 220=39 mm", "mm", (0.0, 0.22), (0.041, 0.039))
    heads = replace(run.heads, description=replace(described, runner_profile=profile))
    assert list(guessed_lengths(heads)) == ["primary", "tail"]


def test_what_is_told_of_each_head(run: EngineRun) -> None:
    for head in (run.before, run.after):
        # 35 mm valve opening at 5 to 8 bar: 400 to 700 N
        assert np.all((head.valve_force > 350.0) & (head.valve_force < 750.0))
        assert np.all((head.residual > 0.005) & (head.residual < 0.12))
        assert np.all((head.reversion >= 0.0) & (head.reversion < 0.1))
        # faster at the valve than in the port, and faster still at the higher speed
        assert np.all((head.valve_mach > 0.2) & (head.valve_mach < 1.0))
        assert head.valve_mach[1] > head.valve_mach[0]
        # a part of the whole; pictures every 4° leave a few percent of it open
        assert np.all((head.overlap_back >= 0.0) & (head.overlap_back <= 1.1 * head.reversion))
        assert head.power == pytest.approx(head.torque * run.speed * np.pi / 30.0, rel=1e-9)
    # two speeds cannot show a peak: the shift is left open
    assert all(math.isnan(v) for v in run.shift)


def test_one_process_gives_the_same_numbers(demo_archive: Archive, run: EngineRun) -> None:
    alone = run_engine(
        demo_archive, DEMO_JOB, before="S0", after="S7", speeds=SPEEDS, samples=0, workers=1
    )
    # each process may have compiled the kernel itself, which may order sums differently
    assert np.allclose(alone.before.torque, run.before.torque, rtol=1e-9, atol=0.0)
    assert np.allclose(alone.after.torque, run.after.torque, rtol=1e-9, atol=0.0)
    assert alone.samples == 0
    assert np.all(alone.before.level == LEVEL_FLOOR)
    assert "Nothing was sampled" in " ".join(run_lines(alone))


def test_it_can_be_stopped_and_refuses_unknown_stages(demo_archive: Archive) -> None:
    seen: list[tuple[int, int]] = []

    def stop(done: int, total: int) -> bool:
        seen.append((done, total))
        return False

    with pytest.raises(SolveCancelledError):
        run_engine(demo_archive, DEMO_JOB, speeds=SPEEDS, samples=0, workers=1, progress=stop)
    assert seen == [(1, 2)]
    with pytest.raises(UnknownNameError, match="S7"):
        run_engine(demo_archive, DEMO_JOB, after="S9", speeds=SPEEDS, samples=0, workers=1)


def test_a_kept_run_is_printed_with_its_ranges(demo_path: Path, run: EngineRun) -> None:
    with Archive.open(demo_path) as shop:
        kept = keep_run(shop, run)
        assert keep_run(shop, run).key == kept.key, "the same answer is kept once"
        assert shop.job(DEMO_JOB).engine_runs == (kept,)
        document = customer_report(shop, DEMO_JOB)
        said = list(texts(document))
        number = f"{100.0 * run.difference.gain[1]:+.0f} %"
        low, high = (f"{100.0 * v[1]:+.0f}" for v in (run.difference.low, run.difference.high))
        assert said.count(f"{number} ({low} to {high})") == 1
        torque, level = run.after.torque[1], run.after.level[1]
        assert f"{torque:.0f} ± {torque * level:.0f}" in said
        assert any("better known than either level" in text for text in said)
        assert any("turning force" in text and "7000 rpm" in text for text in said)
        assert not any("changed after this" in text for text in said)
        assert "7000 revolutions a minute" in spoken_summary(shop, DEMO_JOB)
        shop.add_measurements(
            DEMO_JOB, [Measurement("I1", "throat diameter", AsTyped("37.5", "mm", 0.0375))]
        )
        assert out_of_date(kept, shop.job(DEMO_JOB))
        german = list(texts(customer_report(shop, DEMO_JOB, ReportChoices("in", "de"))))
        assert any("nachdem dies gerechnet wurde" in text for text in german)
        newer = keep_run(shop, run)
        assert newer.replaces == kept.key
        take_off(shop, DEMO_JOB)
        assert kept_run(shop.job(DEMO_JOB)) is None
        assert len(shop.job(DEMO_JOB).engine_runs) == 3, "nothing is deleted"
        with pytest.raises(InputError, match="kept"):
            take_off(shop, DEMO_JOB)
