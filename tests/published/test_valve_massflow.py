"""Compressible mass flow through a valve, and what the plain square root makes of it.

Equations: Heywood, Internal Combustion Engine Fundamentals (1988), C.8 and C.9 (numbers FROM
MEMORY).  Values in ``data/valve_massflow.csv``: COMPUTED by another coding.  Unit and jet
values: COMPUTED from definitions.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from portwright.core import gasflow
from portwright.core.air import moist_air_density
from portwright.core.bench import square_root_error

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "valve_massflow.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))
INCH_WATER = 249.08891  # conventional, SEEN-2nd: NIST SP 811 transcriptions


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['p0_Pa']}-{r['pT_Pa']}")
def test_mass_flow(row: dict[str, str]) -> None:
    # ten printed digits: half a unit of the last
    p0, T0, p, g, R, area = (
        float(row[k]) for k in ("p0_Pa", "T0_K", "pT_Pa", "gamma", "R", "CdA_m2")
    )
    flow = gasflow.mass_flow(area, p0, T0, p, gamma=g, gas_constant=R)
    assert flow == pytest.approx(float(row["mdot_kgs"]), rel=5e-10)
    plain = area * gasflow.incompressible_mass_flux(p0 / (R * T0), p0 - p)
    assert plain == pytest.approx(float(row["mdot_incompressible_kgs"]), rel=5e-10)
    # the row one digit short of the choking pressure is 1e-6 of it away, worth 1e-12 of flow
    assert gasflow.expansion_ratio(p0 - p, p0, g) == pytest.approx(float(row["ratio"]), rel=5e-10)


@pytest.mark.parametrize(
    ("inches", "expected"), [(28.0, 0.96242), (25.0, 0.96652), (10.0, 0.98674)]
)
def test_expansion_at_usual_test_pressures(inches: float, expected: float) -> None:
    # COMPUTED, five decimals
    ratio = gasflow.expansion_ratio(inches * INCH_WATER, 101325.0)
    assert ratio == pytest.approx(expected, abs=5e-6)


def test_square_root_overstates() -> None:
    # COMPUTED: 2.53 % from 10 to 28 inH2O, 0.43 % from 25 to 28; two decimals of a percent
    percent = 100 * square_root_error(10 * INCH_WATER, 28 * INCH_WATER)
    assert percent == pytest.approx(2.53, abs=5e-3)
    percent = 100 * square_root_error(25 * INCH_WATER, 28 * INCH_WATER)
    assert percent == pytest.approx(0.43, abs=5e-3)


def test_ideal_jet_and_flow_density() -> None:
    # COMPUTED: 107.780308 m/s at 28 inH2O in air of 20 degC and 36 %, 147.337 cfm per square inch;
    # density enters by its root, known to 1e-9
    density = moist_air_density(101325.0, 293.15, 0.36)
    jet = gasflow.jet_velocity(density, 28 * INCH_WATER)
    assert jet == pytest.approx(107.780308, abs=5e-7)
    assert jet * 0.0254**2 / 4.719474432e-4 == pytest.approx(147.337, abs=5e-4)


@pytest.mark.parametrize(("gamma", "expected"), [(1.4, 0.6847314564), (1.33, 0.6726284075)])
def test_critical_flow_function(gamma: float, expected: float) -> None:
    # COMPUTED: C* of a sonic nozzle (form of ISO 9300), ten decimals
    flux = gasflow.isentropic_mass_flux(1.0, 1.0, 0.0, gamma, 1.0)
    assert flux == pytest.approx(expected, abs=5e-11)
