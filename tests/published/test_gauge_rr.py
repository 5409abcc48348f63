"""Gauge repeatability and reproducibility: the AIAG example of 3 persons, 10 parts, 3 repeats.

Source: AIAG, Measurement Systems Analysis; the manual itself was not seen.  Data SEEN, identical
in five public repositories.  Averages and ranges SEEN-2nd, analysis of variance COMPUTED.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from portwright.core.gauge import gauge_rr, gauge_rr_range, one_way_anova
from portwright.errors import RangeError, ShapeError

pytestmark = pytest.mark.published

ROWS = list(
    csv.DictReader(
        (Path(__file__).parent / "data" / "aiag_grr.csv").read_text(encoding="utf-8").splitlines()
    )
)
VALUES = np.full((3, 10, 3), np.nan)
for row in ROWS:
    VALUES["ABC".index(row["appraiser"]), int(row["part"]) - 1, int(row["trial"]) - 1] = float(
        row["value"]
    )


def test_averages_and_ranges() -> None:
    study = gauge_rr_range(VALUES)
    # The form is worked by hand with factors of four digits and rounded in between: the last
    # printed digit may be off by one, in the total by two.
    assert study.repeatability == pytest.approx(0.2019, abs=1e-4)
    assert study.reproducibility == pytest.approx(0.2297, abs=1e-4)
    assert study.gauge == pytest.approx(0.3058, abs=1e-4)
    assert study.part == pytest.approx(1.1046, abs=1e-4)
    assert study.total == pytest.approx(1.1461, abs=2e-4)
    assert 100 * study.share == pytest.approx(26.7, abs=0.05)
    assert study.distinct_categories == 5


def test_analysis_of_variance() -> None:
    study = gauge_rr(VALUES)
    # COMPUTED; half a unit of the last printed digit.
    assert study.repeatability == pytest.approx(0.199933, abs=5e-7)
    assert study.reproducibility == pytest.approx(0.226838, abs=5e-7)
    assert study.gauge == pytest.approx(0.302372, abs=5e-7)
    assert study.part == pytest.approx(1.042327, abs=5e-7)
    assert 100 * study.share == pytest.approx(27.861, abs=5e-4)
    assert study.distinct_categories == 4


def test_one_way_split_of_the_same_table() -> None:
    # COMPUTED sums of squares of the table: parts 88.361934, all the rest 6.285177.
    parts = np.broadcast_to(np.arange(10)[None, :, None], VALUES.shape)
    anova = one_way_anova(VALUES.ravel(), parts.ravel())
    assert anova.between_square * 9 == pytest.approx(88.361934, abs=5e-7)
    rest = 3.167262 + 0.358982 + 2.758933
    assert anova.within_square * 80 == pytest.approx(rest, abs=1.5e-6)
    assert (anova.between_freedom, anova.within_freedom) == (9, 80)
    expected = np.sqrt((88.361934 / 9 - rest / 80) / 9)
    assert anova.between_deviation == pytest.approx(expected, rel=1e-6)
    assert anova.probability < 1e-20


def test_tables_that_cannot_be_studied_are_refused() -> None:
    with pytest.raises(ShapeError, match="full table"):
        gauge_rr(VALUES[:1])
    with pytest.raises(ShapeError, match="Range factors"):
        gauge_rr_range(np.zeros((4, 10, 3)))
    holed = VALUES.copy()
    holed[0, 0, 0] = np.nan
    with pytest.raises(RangeError, match="missing"):
        gauge_rr(holed)
    with pytest.raises(ShapeError, match="two groups"):
        one_way_anova(np.ones(3), np.zeros(3, dtype=np.int64))
