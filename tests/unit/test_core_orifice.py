from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.orifice import (
    Taps,
    discharge_coefficient,
    expansibility,
    least_reynolds,
    orifice_findings,
    pipe_orifice_mass_flow,
    plate_mass_flow,
)
from portwright.errors import RangeError, Severity


def _flow(drop: float | np.ndarray, bore: float = 0.05, taps: Taps = Taps.CORNER) -> np.ndarray:
    return pipe_orifice_mass_flow(
        0.1,
        bore,
        drop,
        upstream_pressure=101325.0,
        upstream_density=1.2,
        viscosity=1.82e-5,
        taps=taps,
    )


def test_no_drop_no_flow_and_missing_stays_missing() -> None:
    flow = _flow(np.array([0.0, 1000.0, np.nan]))
    assert flow[0] == 0.0
    assert flow[1] > 0.0
    assert np.isnan(flow[2])


def test_solution_satisfies_its_own_equation() -> None:
    mass = float(_flow(3000.0, taps=Taps.FLANGE))
    reynolds = 4 * mass / (math.pi * 0.1 * 1.82e-5)
    coefficient = discharge_coefficient(0.1, 0.05, reynolds, Taps.FLANGE)
    area = 0.25 * math.pi * 0.05**2 / math.sqrt(1 - 0.5**4)
    epsilon = expansibility(0.5, 3000.0, 101325.0)
    expected = coefficient * epsilon * area * math.sqrt(2 * 1.2 * 3000.0)
    # the iteration stops at 1e-12 in the coefficient
    assert mass == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("bore", [0.0, -0.01, 0.1, 0.2])
def test_bore_must_fit_the_pipe(bore: float) -> None:
    with pytest.raises(RangeError, match="pipe diameter"):
        _flow(1000.0, bore=bore)


def test_reynolds_number_must_be_above_zero() -> None:
    with pytest.raises(RangeError, match="Reynolds"):
        discharge_coefficient(0.1, 0.05, 0.0, Taps.CORNER)


@pytest.mark.parametrize("drop", [-1.0, 101325.0])
def test_impossible_drop_is_refused(drop: float) -> None:
    with pytest.raises(RangeError, match="Drop across the plate"):
        expansibility(0.5, drop, 101325.0)


def test_plate_by_hand() -> None:
    # 25.4 mm, 0.61, 2500 Pa, 1.2 kg/m3: area 506.707 mm2, 77.460 kg/(s m2); epsilon from its
    # formula 1 - 0.351 (1 - 0.975327^(1/1.4)) = 0.993792
    mass = plate_mass_flow(0.0254, 0.61, 2500.0, upstream_pressure=101325.0, upstream_density=1.2)
    assert mass == pytest.approx(0.61 * 0.993792 * 506.707e-6 * 77.4597, rel=3e-6)


@pytest.mark.parametrize(("bore", "coefficient"), [(0.0, 0.6), (0.02, 0.0), (0.02, 1.2)])
def test_impossible_plate_is_refused(bore: float, coefficient: float) -> None:
    with pytest.raises(RangeError):
        plate_mass_flow(bore, coefficient, 1000.0, upstream_pressure=1e5, upstream_density=1.2)


def test_plate_inside_the_standard_has_no_finding() -> None:
    found = orifice_findings(
        0.1, 0.05, 5e4, pressure_drop=3000.0, upstream_pressure=101325.0, taps=Taps.CORNER
    )
    assert found == ()


@pytest.mark.parametrize(
    ("pipe", "bore", "reynolds", "drop", "word"),
    [
        (0.1, 0.012, 5e4, 3000.0, "bore 12 mm"),
        (0.04, 0.02, 5e4, 3000.0, "pipe 40 mm"),
        (0.1, 0.08, 5e5, 3000.0, "bore over pipe 0.8"),
        (0.1, 0.05, 4e3, 3000.0, "Reynolds"),
        (0.1, 0.05, 5e4, 30000.0, "pressure ratio"),
    ],
)
def test_each_broken_limit_is_named(
    pipe: float, bore: float, reynolds: float, drop: float, word: str
) -> None:
    (found,) = orifice_findings(
        pipe, bore, reynolds, pressure_drop=drop, upstream_pressure=101325.0, taps=Taps.CORNER
    )
    assert found.code == "orifice-outside-standard"
    assert found.severity is Severity.WARNING
    assert word in found.message


def test_least_reynolds_by_diameter_ratio_and_taps() -> None:
    assert least_reynolds(0.1, 0.05, Taps.CORNER) == 5000.0
    assert least_reynolds(0.1, 0.07, Taps.CORNER) == pytest.approx(16000 * 0.49)
    assert least_reynolds(1.0, 0.7, Taps.FLANGE) == pytest.approx(170_000 * 0.49)


def test_viscosity_needs_no_better_formula() -> None:
    # stated with the viscosity formula: half a percent of Reynolds number is worth 0.01 % at most
    # in the range of bench plates
    reynolds = np.array([2e4, 5e4, 1e5, 2e5])[:, np.newaxis]
    bores = np.array([0.03, 0.05, 0.07])
    here = discharge_coefficient(0.1, bores, reynolds, Taps.CORNER)
    there = discharge_coefficient(0.1, bores, reynolds * 1.005, Taps.CORNER)
    assert np.max(np.abs(there / here - 1)) < 1.2e-4
