"""Orifice plates after ISO 5167-2 against the ``fluids`` library and recorded values.

The text of the standard was not available.  ``fluids`` 1.3.1 (cites ISO 5167-2:2003) is the
independent route, run live and as recorded rows; ``data/orifice.csv`` holds 420 points from it and
from one more coding (COMPUTED), ``data/orifice_spot_values.csv`` single values with their label.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from portwright.core.constants import JET_CONTRACTION_SLOT, JET_CONTRACTION_ZERO_BETA
from portwright.core.orifice import (
    Taps,
    approach_factor,
    discharge_coefficient,
    expansibility,
    permanent_pressure_loss,
    pipe_orifice_mass_flow,
)

pytestmark = pytest.mark.published

HERE = Path(__file__).parent / "data"
TAPS = {"corner": Taps.CORNER, "D": Taps.D_AND_HALF_D, "flange": Taps.FLANGE}


def _rows(name: str) -> list[dict[str, str]]:
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


SPOT = {row["name"]: float(row["value"]) for row in _rows("orifice_spot_values.csv")}


@pytest.mark.parametrize("taps", list(TAPS))
def test_coefficient_over_the_whole_table(taps: str) -> None:
    # COMPUTED, twelve printed digits: one unit of the last.  Rows outside the standard's limits
    # are covered too, since the equation itself is the same there
    rows = [r for r in _rows("orifice.csv") if r["taps"] == taps]
    assert len(rows) == 140
    D, beta, re, expected = (
        np.array([float(r[k]) for r in rows]) for k in ("D_m", "beta", "Re_D", "C_fluids")
    )
    ours = discharge_coefficient(D, beta * D, re, TAPS[taps])
    np.testing.assert_allclose(ours, expected, rtol=2e-12)


@pytest.mark.parametrize(
    ("name", "taps"),
    [
        ("c-corner", Taps.CORNER),
        ("c-d-and-half-d", Taps.D_AND_HALF_D),
        ("c-flange", Taps.FLANGE),
    ],
)
def test_coefficient_printed_in_the_library_tests(name: str, taps: Taps) -> None:
    # SEEN; sixteen digits printed by code, so round-off of a different order of operations
    re = 4.0 * 0.124431876 / (math.pi * 0.07391 * 1.85861753095e-5)
    ours = discharge_coefficient(0.07391, 0.0222, re, taps)
    assert ours == pytest.approx(SPOT[name], rel=1e-12)


def test_coefficient_printed_in_the_library_docstring() -> None:
    # SEEN; pipe 73.91 mm, just above the small-pipe limit
    re = 4.0 * 0.12 / (math.pi * 0.07391 * 1.85e-5)
    ours = discharge_coefficient(0.07391, 0.0222, re, Taps.FLANGE)
    assert ours == pytest.approx(SPOT["c-flange-docstring"], rel=1e-12)


def test_small_pipe_term_is_not_ten_times_too_large() -> None:
    # SEEN: a docstring prints 0.11, the code behind it uses 0.011.  At D = 50 mm, beta 0.5,
    # Re 1e5, corner taps the recorded 0.60915978 (COMPUTED) tells them apart: 0.11 gives 0.6297
    ours = discharge_coefficient(0.05, 0.025, 1e5, Taps.CORNER)
    assert ours == pytest.approx(0.60915978, abs=5e-9)


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [(0.98, 0.99468999), (0.95, 0.98666648), (0.90, 0.97313083), (0.80, 0.94539291)],
)
def test_expansibility_recorded(ratio: float, expected: float) -> None:
    # COMPUTED at beta 0.5, gamma 1.4; half a unit of the last digit
    assert expansibility(0.5, (1 - ratio) * 1e5, 1e5) == pytest.approx(expected, abs=5e-9)


def test_expansibility_and_approach_as_in_the_standard() -> None:
    # SEEN; the library's comment calls the first a value of the standard
    beta = 22.2 / 73.9
    assert expansibility(beta, 1000.0, 1e5, 1.4) == pytest.approx(SPOT["expansibility"], rel=1e-12)
    assert approach_factor(beta) == pytest.approx(SPOT["approach"], rel=1e-12)


def test_permanent_loss() -> None:
    # SEEN
    loss = permanent_pressure_loss(50 / 73.66, 0.61512, 17000.0)
    assert loss == pytest.approx(SPOT["loss"], rel=1e-12)


def test_full_solutions() -> None:
    # SEEN (first two) and COMPUTED; the iterations stop at 1e-12 here and about 1e-8 there
    water = pipe_orifice_mass_flow(
        0.07366,
        0.05,
        17000.0,
        upstream_pressure=2e5,
        upstream_density=999.1,
        viscosity=1.1e-3,
        taps=Taps.D_AND_HALF_D,
        gamma=1.33,
    )
    assert water == pytest.approx(SPOT["water-mass"], rel=1e-8)
    gas = pipe_orifice_mass_flow(
        0.3,
        0.1,
        28000.0,
        upstream_pressure=20e5,
        upstream_density=15.0,
        viscosity=1.12e-5,
        taps=Taps.FLANGE,
        gamma=1.2,
    )
    # ten printed digits, iteration of the other library unknown
    assert gas * 3600 == pytest.approx(SPOT["gas-mass-per-hour"], rel=1e-6)
    reynolds = 4 * float(gas) / (math.pi * 0.3 * 1.12e-5)
    coefficient = discharge_coefficient(0.3, 0.1, reynolds, Taps.FLANGE)
    assert coefficient == pytest.approx(SPOT["gas-c"], abs=5e-7)
    air = pipe_orifice_mass_flow(
        0.1,
        0.05,
        25 * 249.08891,
        upstream_pressure=101325.0,
        upstream_density=1.2,
        viscosity=1.82e-5,
        taps=Taps.CORNER,
    )
    assert air == pytest.approx(SPOT["air-mass"], rel=1e-8)


@pytest.mark.parametrize("taps", list(TAPS))
@pytest.mark.parametrize(("pipe", "bore"), [(0.06, 0.03), (0.1, 0.05), (0.15, 0.1), (0.08, 0.02)])
def test_full_solution_against_the_library_live(taps: str, pipe: float, bore: float) -> None:
    # the library's secant stops at about 1e-8
    from fluids.flow_meter import differential_pressure_meter_solver

    live = differential_pressure_meter_solver(
        D=pipe,
        D2=bore,
        P1=101325.0,
        P2=101325.0 - 4000.0,
        rho=1.2,
        mu=1.82e-5,
        k=1.4,
        meter_type="ISO 5167 orifice",
        taps=taps,
    )
    ours = pipe_orifice_mass_flow(
        pipe,
        bore,
        4000.0,
        upstream_pressure=101325.0,
        upstream_density=1.2,
        viscosity=1.82e-5,
        taps=TAPS[taps],
    )
    assert ours == pytest.approx(live, rel=1e-7)


def test_limit_of_a_small_hole() -> None:
    # SEEN (equation): C goes to 0.5961; beta 0.001 leaves 0.0261e-6, Re 1e12 less than 1e-5
    limit = discharge_coefficient(1.0, 0.001, 1e12, Taps.CORNER)
    assert limit == pytest.approx(JET_CONTRACTION_ZERO_BETA, abs=1e-5)
    # COMPUTED, ten digits: free streamline from a slot
    assert pytest.approx(0.6110154704, abs=5e-11) == JET_CONTRACTION_SLOT
