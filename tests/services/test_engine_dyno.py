"""Dyno sheets: reading, correcting, comparing, learning."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.core.engine.learning import agreement, shop_factor
from portwright.core.engine.power_correction import correction_standard
from portwright.errors import InputError
from portwright.model.job import SheetKind, SheetRow
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_dyno import DynoAir, compare_with, dyno_curves, keep
from portwright.services.engine_dyno_wording import dyno_lines, hit_rate_line
from portwright.services.engine_factors import (
    KeptFactor,
    hit_rate,
    is_invented,
    keep_factor,
    kept_factors,
    learned_factor,
)
from portwright.services.engine_run import LEVEL_FLOOR, run_engine


def row(**cells: str) -> SheetRow:
    return SheetRow(SheetKind.DYNO, cells, source="sheet.csv")


def test_torque_counts_and_power_fills_in() -> None:
    found = dyno_curves(
        [
            row(rpm="6000", torque_before_Nm="200", power_before_kW="999", power_after_hp="200"),
            row(rpm="5000", torque_before_lbf_ft="150", note="windy"),
            row(rpm="", torque_before_Nm="1"),
        ]
    )
    assert list(found.speed) == [5000.0, 6000.0]
    # 1 lbf ft = 1.3558179 N m, 1 hp = 745.69987 W
    assert found.before == pytest.approx([150 * 1.3558179, 200.0], rel=1e-7)
    assert np.isnan(found.after[0])
    assert found.after[1] == pytest.approx(200 * 745.69987 / (6000 * np.pi / 30), rel=1e-7)
    with pytest.raises(InputError, match="no dyno sheet"):
        dyno_curves([])
    with pytest.raises(InputError, match="no torque or power"):
        dyno_curves([row(rpm="5000", torque="200")])


def test_agreement_counts_hits_and_passes_over_gaps() -> None:
    measured = np.array([90.0, 110.0, np.nan, 150.0])
    middle = np.full(4, 100.0)
    found = agreement(measured, middle, 0.88 * middle, 1.12 * middle)
    assert found is not None
    assert (found.points, found.hits) == (3, 2)
    assert found.factor == pytest.approx((0.9 * 1.1 * 1.5) ** (1 / 3), rel=1e-12)
    assert agreement(np.full(2, np.nan), middle[:2], middle[:2], middle[:2]) is None


def test_the_shops_factor_needs_three_engines_for_a_range() -> None:
    assert shop_factor(np.array([])) is None
    two = shop_factor(np.array([0.9, 1.0]))
    assert two is not None
    assert two.half_width is None
    three = shop_factor(np.array([0.95, 1.0, 1.05]))
    assert three is not None
    assert three.half_width is not None
    # t(2, 97.5 %) = 4.303, spread of the logarithms 0.0500, sqrt(4/3): 0.249, as a factor 1.282
    assert three.half_width == pytest.approx(0.282, abs=0.003)


def test_the_demo_sheet_says_that_it_validates_nothing(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        contents = archive.job(DEMO_JOB)
        assert is_invented(contents)
        curves = dyno_curves(contents.rows)
        run = run_engine(archive, DEMO_JOB, speeds=(4500.0, 6000.0), samples=0, workers=1)
        plain = compare_with(run, curves, correction_standard("DIN 70020"), None, invented=True)
        assert {"invented-dyno-sheet", "correction-not-stated"} <= {f.code for f in plain.findings}
        assert plain.before is not None
        # sheet every 250 from 3500 to 7500; the forecast covers 4500 to 6000
        assert plain.before.points == 7
        assert "validate" in dyno_lines(plain)[0]
        # the same misses on a real sheet would be something to look into
        assert "19 of 20" not in " ".join(dyno_lines(plain))
        assert "19 of 20" in " ".join(dyno_lines(replace(plain, invented=False)))
        damp = DynoAir(97e3, 303.0)
        measured = compare_with(run, curves, correction_standard("DIN 70020"), damp, invented=True)
        # 1.0620017 for this air (computed from the formula), on the sheet only
        assert measured.sheet_factor == pytest.approx(1.062001707886047, rel=1e-12)
        assert measured.factor / plain.factor == pytest.approx(1.062001707886047, rel=1e-9)
        assert measured.forecast_factor == plain.forecast_factor
        kept = keep(archive, plain)
        assert not kept.counts
        assert learned_factor(archive) is None
        assert "no hit rate" in hit_rate_line(hit_rate(archive))


def test_a_learned_factor_moves_the_level_and_not_the_difference(demo_path: Path) -> None:
    def ask(archive: Archive) -> SimpleNamespace:
        run = run_engine(archive, DEMO_JOB, speeds=(6000.0,), samples=0, workers=1)
        return SimpleNamespace(
            torque=float(run.after.torque[0]),
            gain=float(run.difference.gain[0]),
            level=float(run.after.level[0]),
        )

    def engine(job: str, factor: float, *, counts: bool = True) -> KeptFactor:
        return KeptFactor(job, "2026-03-01", "ISO 1585", factor, 10, 9, 5, 4, counts)

    with Archive.open(demo_path) as archive:
        before = ask(archive)
        keep_factor(archive, engine("A", 0.95))
        keep_factor(archive, engine("A", 0.90))
        keep_factor(archive, engine("B", 5.0, counts=False))
        assert len(kept_factors(archive)) == 2
        one = ask(archive)
        assert one.torque == pytest.approx(0.90 * before.torque, rel=1e-9)
        assert one.gain == pytest.approx(before.gain, rel=1e-9)
        assert one.level == before.level == LEVEL_FLOOR
        keep_factor(archive, engine("C", 0.91))
        keep_factor(archive, engine("D", 0.905))
        assert ask(archive).level < LEVEL_FLOOR
        rate = hit_rate(archive)
        assert (rate.engines, rate.points, rate.hits) == (3, 30, 27)
        assert "27 of 30" in hit_rate_line(rate)
        assert rate.gain_hits == 12
