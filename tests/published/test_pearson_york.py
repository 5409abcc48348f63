"""Line with errors in both variables: Pearson's data with York's weights.

Data: Pearson (1901), weights York (1966), as cited by Lybanon (1984); SEEN in three public test
suites.  Slope and intercept as published by Williamson, SEEN in a published table that compares
several authors.  Standard errors: COMPUTED independently with the equations of York (2004).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from portwright.core.line_fit import fit_line, fit_line_both
from portwright.errors import RangeError, ShapeError

pytestmark = pytest.mark.published

TABLE = np.genfromtxt(
    Path(__file__).parent / "data" / "pearson_york.csv", delimiter=",", skip_header=2
)
X, Y, WX, WY = TABLE.T


def test_williamson() -> None:
    line = fit_line_both(X, Y, WX**-0.5, WY**-0.5)
    # Eleven decimals printed; a billionth leaves room for rounding of both.
    assert line.intercept == pytest.approx(5.47991022403, rel=1e-9)
    assert line.slope == pytest.approx(-0.48053340745, rel=1e-9)


def test_reed_and_lybanon_agree_to_what_their_iterations_reached() -> None:
    line = fit_line_both(X, Y, WX**-0.5, WY**-0.5)
    # These authors stopped iterating at about nine digits.
    assert line.intercept == pytest.approx(5.47991022723, rel=1e-8)
    assert line.slope == pytest.approx(-0.48053340810, rel=1e-8)
    assert line.intercept == pytest.approx(5.47991025, rel=1e-8)
    assert line.slope == pytest.approx(-0.480533415, rel=2e-8)


def test_standard_errors() -> None:
    line = fit_line_both(X, Y, WX**-0.5, WY**-0.5)
    # COMPUTED, nine digits printed.
    assert line.intercept_deviation == pytest.approx(0.294970735, abs=5e-10)
    assert line.slope_deviation == pytest.approx(0.057985009, abs=5e-10)
    assert line.residual_deviation**2 * 8 == pytest.approx(11.8663532, abs=5e-8)


def test_vanishing_x_error_is_weighted_least_squares() -> None:
    # With equal y errors and almost exact x this must be the ordinary line.
    both = fit_line_both(X, Y, np.full(X.size, 1e-9), np.full(X.size, 0.5))
    ordinary = fit_line(X, Y)
    assert both.slope == pytest.approx(ordinary.slope, rel=1e-12)
    assert both.correlation == pytest.approx(ordinary.correlation, rel=1e-9)
    scale = ordinary.residual_deviation / 0.5
    assert both.slope_deviation * scale == pytest.approx(ordinary.slope_deviation, rel=1e-9)


def test_bad_columns_are_refused() -> None:
    with pytest.raises(ShapeError, match="three points"):
        fit_line(X[:2], Y[:2])
    with pytest.raises(ShapeError, match="different lengths"):
        fit_line(X, Y[:5])
    with pytest.raises(RangeError, match="different x"):
        fit_line(np.ones(10), Y)
    with pytest.raises(RangeError, match="above zero"):
        fit_line_both(X, Y, np.zeros(10), np.ones(10))
