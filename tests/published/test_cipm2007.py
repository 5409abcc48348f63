"""Moist-air density against an independent coding of CIPM-2007 and against printed spot values.

Source of the equation: Picard, Davis, Glaser, Fujii, Metrologia 45 (2008) 149-155.  Its own worked
table was not available, so the rows in ``data/moist_air.csv`` are COMPUTED (another coding of the
same equation); the spot values below are SEEN-2nd in transcriptions of the NIST page on the
refractive index of air, which quotes Ciddor (1996).
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from portwright.core.air import (
    compressibility,
    moist_air_density,
    saturation_vapour_pressure,
    vapour_fraction,
)
from portwright.core.constants import (
    GAS_CONSTANT_AIR,
    MOLAR_GAS_CONSTANT,
    MOLAR_MASS_DRY_AIR,
    ZERO_CELSIUS,
)

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "moist_air.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['p_Pa']}Pa-{r['t_C']}C-{r['RH']}")
def test_density_agrees_with_another_coding(row: dict[str, str]) -> None:
    # COMPUTED.  Ten printed digits: half a unit of the last is 5e-10 of 1.2; the 60 degF row
    # prints its temperature to 1e-6 K, which is worth 1.5e-9
    density = moist_air_density(float(row["p_Pa"]), float(row["t_C"]) + 273.15, float(row["RH"]))
    assert density == pytest.approx(float(row["rho_CIPM2007_kgm3"]), rel=2e-9)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['p_Pa']}Pa-{r['t_C']}C-{r['RH']}")
def test_parts_of_the_formula_agree(row: dict[str, str]) -> None:
    # COMPUTED, ten printed digits each; 4e-8 in the vapour pressure of the 60 degF row because
    # it changes 6.4 % per kelvin
    T, p = float(row["t_C"]) + 273.15, float(row["p_Pa"])
    x = vapour_fraction(p, T, float(row["RH"]))
    assert saturation_vapour_pressure(T) == pytest.approx(float(row["psv_CIPM_Pa"]), rel=4e-8)
    assert x == pytest.approx(float(row["xv_CIPM"]), rel=1e-9)
    assert compressibility(p, T, x) == pytest.approx(float(row["Z_CIPM"]), rel=1e-10)


def test_dry_air_compressibility_as_printed() -> None:
    # SEEN-2nd: Z_a = 0.9995922115 at 15 degC, 101325 Pa; half a unit of the last digit
    assert compressibility(101325.0, 288.15, 0.0) == pytest.approx(0.9995922115, abs=5e-11)


def test_water_vapour_density_as_printed() -> None:
    # SEEN-2nd: 0.00985938 kg/m3 at 20 degC, 1333 Pa, pure vapour; made with R = 8.31451 and
    # Mv = 0.018015 (older constants); half a unit of the last digit
    z = compressibility(1333.0, 293.15, 1.0)
    density = 1333.0 * 0.018015 / (z * 8.31451 * 293.15)
    assert density == pytest.approx(0.00985938, abs=5e-9)


def test_leading_constant_as_printed() -> None:
    # SEEN-2nd: Ma/R = 3.48374e-3 kg K/J for 400 ppm of carbon dioxide; half a unit of last digit
    assert pytest.approx(3.48374e-3, abs=5e-9) == MOLAR_MASS_DRY_AIR / MOLAR_GAS_CONSTANT
    assert pytest.approx(1.0 / 3.48374e-3, rel=2e-6) == GAS_CONSTANT_AIR


def test_carbon_dioxide_makes_air_heavier_in_proportion() -> None:
    # definition in the paper: Ma grows by 12.011 g/mol per unit of mole fraction
    p, T = 101325.0, ZERO_CELSIUS + 20.0
    ratio = moist_air_density(p, T, 0.0, 1400e-6) / moist_air_density(p, T, 0.0)
    assert ratio == pytest.approx(1.0 + 12.011e-3 * 1e-3 / 28.96546e-3, rel=1e-12)


def test_columns_work_at_once() -> None:
    p = np.array([float(r["p_Pa"]) for r in ROWS])
    T = np.array([float(r["t_C"]) for r in ROWS]) + 273.15
    h = np.array([float(r["RH"]) for r in ROWS])
    expected = np.array([float(r["rho_CIPM2007_kgm3"]) for r in ROWS])
    np.testing.assert_allclose(moist_air_density(p, T, h), expected, rtol=2e-9)
