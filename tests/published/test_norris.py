"""Straight line by least squares against the certified values of NIST StRD Norris.

Source: NIST Statistical Reference Datasets, linear regression, Norris (36 observations).
SEEN: the NIST file as shipped with a scientific library's own test data.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from portwright.core.line_fit import fit_line

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "norris.csv"
# Target of ten digits: the centred sums keep about thirteen of the fifteen certified.
DIGITS = 1e-10


def test_norris() -> None:
    table = np.genfromtxt(DATA, delimiter=",", skip_header=2)
    assert table.shape == (36, 2)
    line = fit_line(table[:, 0], table[:, 1])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=DIGITS)
    assert line.slope == pytest.approx(1.00211681802045, rel=DIGITS)
    assert line.intercept_deviation == pytest.approx(0.232818234301152, rel=DIGITS)
    assert line.slope_deviation == pytest.approx(0.429796848199937e-3, rel=DIGITS)
    assert line.residual_deviation == pytest.approx(0.884796396144373, rel=DIGITS)
    assert line.determination == pytest.approx(0.999993745883712, rel=DIGITS)
    f_ratio = (line.slope / line.slope_deviation) ** 2  # one slope: F is t squared
    assert f_ratio == pytest.approx(5436385.54079785, rel=DIGITS)
    assert line.degrees_of_freedom == 34
