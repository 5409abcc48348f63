"""Air properties against CoolProp and Cantera: independent equations of state, run live.

CoolProp 8.0.0 rows in ``data/moist_air.csv`` and the dry-air figures below were recorded once
(COMPUTED), so that a change of the library is told apart from a change here.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from portwright.core.air import (
    REFERENCE_AIR,
    dynamic_viscosity,
    moist_air_density,
    speed_of_sound,
    vapour_fraction,
)

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "moist_air.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['p_Pa']}Pa-{r['t_C']}C-{r['RH']}")
def test_density_against_coolprop(row: dict[str, str]) -> None:
    # 5e-5: the two differ by 30 to 41 ppm in every state (molar mass of air and the mixing rule)
    from CoolProp.CoolProp import HAPropsSI

    p, T, h = float(row["p_Pa"]), float(row["t_C"]) + 273.15, float(row["RH"])
    live = 1.0 / HAPropsSI("Vha", "T", T, "P", p, "R", h)
    ours = moist_air_density(p, T, h)
    assert ours == pytest.approx(float(row["rho_CoolProp_HA_kgm3"]), rel=5e-5)
    assert ours == pytest.approx(live, rel=5e-5)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['p_Pa']}Pa-{r['t_C']}C-{r['RH']}")
def test_density_against_an_ideal_gas_library(row: dict[str, str]) -> None:
    # COMPUTED with PsychroLib 2.5.0, which has no compressibility: 1 - Z is 2.5e-4 to 4.3e-4
    p, T, h = float(row["p_Pa"]), float(row["t_C"]) + 273.15, float(row["RH"])
    assert moist_air_density(p, T, h) == pytest.approx(float(row["rho_PsychroLib_kgm3"]), rel=5e-4)


def test_reference_air_recorded() -> None:
    # COMPUTED with CoolProp: 20 degC, 101325 Pa, dry.  Density 5e-5 as above; speed of sound 5e-4
    # and viscosity 6e-3 as stated in their docstrings
    assert REFERENCE_AIR.density == pytest.approx(1.20457518, rel=5e-5)
    assert REFERENCE_AIR.speed_of_sound == pytest.approx(343.34389, rel=5e-4)
    assert REFERENCE_AIR.viscosity == pytest.approx(1.8205675e-5, rel=6e-3)


@pytest.mark.parametrize("celsius", [0.0, 15.0, 20.0, 30.0, 45.0, 60.0])
def test_dry_air_against_coolprop_over_the_stated_span(celsius: float) -> None:
    from CoolProp.CoolProp import PropsSI

    T = celsius + 273.15
    # stated agreement: ideal gas with gamma 1.4 within 0.04 %, Sutherland within 0.6 %
    live = PropsSI("A", "T", T, "P", 101325.0, "Air")
    assert speed_of_sound(T) == pytest.approx(live, rel=4e-4)
    live = PropsSI("V", "T", T, "P", 101325.0, "Air")
    assert dynamic_viscosity(T) == pytest.approx(live, rel=6e-3)


@pytest.mark.parametrize(("celsius", "humidity"), [(20.0, 1.0), (30.0, 0.8), (40.0, 1.0)])
def test_moist_speed_of_sound_against_cantera(celsius: float, humidity: float) -> None:
    # stated agreement 0.05 %: Cantera's dry air alone is 0.048 % faster (its own heat capacities)
    import cantera

    T = celsius + 273.15
    x = float(vapour_fraction(101325.0, T, humidity))
    dry = {"N2": 0.78084, "O2": 0.20946, "AR": 0.00934}
    gas = cantera.Solution("gri30.yaml")
    gas.TPX = T, 101325.0, {"H2O": x, **{k: v * (1.0 - x) for k, v in dry.items()}}
    assert speed_of_sound(T, humidity) == pytest.approx(gas.sound_speed, rel=5e-4)


def test_water_vapour_heat_capacity_against_cantera() -> None:
    # 4.04 R was from memory; half a unit of its last digit
    import cantera

    from portwright.core import air

    gas = cantera.Solution("gri30.yaml")
    gas.TPX = 293.15, 101325.0, "H2O:1"
    assert pytest.approx(gas.cp_mole / cantera.gas_constant, abs=5e-3) == air._HEAT_CAPACITY_VAPOUR
