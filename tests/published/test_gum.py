"""Worked examples of the Guide to the expression of uncertainty in measurement, annex H.

Source: JCGM 100:2008 (GUM with minor corrections), H.1 end gauge, H.2 resistance and reactance,
H.3 thermometer calibration.  Figures SEEN-2nd in the tests of several independent public
calculators; COMPUTED where the comment says so.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from portwright.core.line_fit import fit_line
from portwright.core.uncertainty import (
    coverage_factor,
    effective_degrees_of_freedom,
    mean_of_observations,
    propagate,
)

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data"


def test_h1_end_gauge() -> None:
    # Table H.1: |c_i| u_i in nm and degrees of freedom: standard 25 (18), difference 9.7 (25.6),
    # expansion difference 2.9 (50), temperature difference 16.6 (2); the other two vanish.
    contributions = np.array([25.0, 9.7, 0.05 * 0.58e-6 * 1e9 * 0.1, 16.6])
    freedom = np.array([18.0, 25.6, 50.0, 2.0])
    combined = np.sqrt(np.sum(contributions**2))
    assert combined == pytest.approx(32.0, abs=0.5)  # printed as 32 nm
    assert combined**2 == pytest.approx(1002.0, abs=5.0)  # parts printed to two or three digits
    effective = float(effective_degrees_of_freedom(contributions, freedom))
    assert effective == pytest.approx(16.7, abs=0.1)
    factor = float(coverage_factor(16.0, 0.99))  # the GUM truncates to 16
    assert factor == pytest.approx(2.92, abs=0.005)
    assert factor * combined == pytest.approx(93.0, abs=0.9)  # U99 = 93 nm, from u = 32 exactly


def test_h1_difference_of_lengths() -> None:
    # H.1.3.2: u(d) is 5.8 nm (24), 3.9 nm (5) and 6.7 nm (8) together: 9.7 nm with 25.6.
    parts = np.array([5.8, 3.9, 6.7])
    assert np.sqrt(np.sum(parts**2)) == pytest.approx(9.7, abs=0.05)
    effective = effective_degrees_of_freedom(parts, np.array([24.0, 5.0, 8.0]))
    # The GUM puts the rounded 9.7 into the formula: its fourth power is 0.7 % above that of 9.68.
    assert float(effective) == pytest.approx(25.6, rel=0.01)


def test_h2_resistance_and_reactance() -> None:
    observations = np.genfromtxt(DATA / "gum_h2.csv", delimiter=",", skip_header=2)
    (volt, milliampere, phase), covariance = mean_of_observations(observations)
    ohm = 1e3 * volt / milliampere
    resistance, reactance = ohm * np.cos(phase), ohm * np.sin(phase)
    rows = [
        [resistance / volt, -resistance / milliampere, -reactance],
        [reactance / volt, -reactance / milliampere, resistance],
        [ohm / volt, -ohm / milliampere, 0.0],
    ]
    result = propagate(np.array(rows), covariance)
    deviation = np.sqrt(np.diag(result))
    assert resistance == pytest.approx(127.732, abs=5e-4)
    assert reactance == pytest.approx(219.847, abs=5e-4)
    assert ohm == pytest.approx(254.260, abs=5e-4)
    # Printed 0.071, 0.295, 0.236; the second carries the round-off of hand work, 0.29558 exactly.
    assert deviation[0] == pytest.approx(0.071, abs=5e-4)
    assert deviation[1] == pytest.approx(0.295, abs=7e-4)
    assert deviation[2] == pytest.approx(0.236, abs=5e-4)
    correlation = result / np.outer(deviation, deviation)
    # COMPUTED, four digits.
    assert correlation[0, 1] == pytest.approx(-0.5884, abs=5e-5)
    assert correlation[0, 2] == pytest.approx(-0.4853, abs=5e-5)
    assert correlation[1, 2] == pytest.approx(0.9925, abs=5e-5)


def test_h3_thermometer() -> None:
    table = np.genfromtxt(DATA / "gum_h3.csv", delimiter=",", skip_header=2)
    line = fit_line(table[:, 0] - 20.0, table[:, 1])
    # As printed: half a unit of the last digit.
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_deviation == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_deviation == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_deviation == pytest.approx(0.0035, abs=5e-5)
    assert line.degrees_of_freedom == 9
    correction, deviation = line.at(10.0)  # at 30 degC
    assert correction == pytest.approx(-0.1494, abs=5e-5)
    assert deviation == pytest.approx(0.0041, abs=5e-5)
    # COMPUTED, eight decimals.
    assert line.intercept == pytest.approx(-0.17120379, abs=5e-9)
    assert deviation == pytest.approx(0.00413860, abs=5e-9)
