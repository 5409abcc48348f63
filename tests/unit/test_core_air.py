from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.air import (
    REFERENCE_AIR,
    Air,
    air_findings,
    dynamic_viscosity,
    moist_air_density,
    speed_of_sound,
)
from portwright.errors import RangeError, Severity


@pytest.mark.parametrize(
    ("pressure", "temperature", "humidity", "word"),
    [
        (0.0, 293.15, 0.5, "pressure"),
        (-101325.0, 293.15, 0.5, "pressure"),
        (math.inf, 293.15, 0.5, "pressure"),
        (101325.0, 20.0, 0.5, "temperature"),
        (101325.0, 401.0, 0.5, "temperature"),
        (101325.0, 293.15, 1.01, "humidity"),
        (101325.0, 293.15, -0.01, "humidity"),
        (101325.0, 293.15, 50.0, "humidity"),
    ],
)
def test_air_that_cannot_be_is_refused(
    pressure: float, temperature: float, humidity: float, word: str
) -> None:
    with pytest.raises(RangeError, match=word):
        moist_air_density(pressure, temperature, humidity)
    with pytest.raises(RangeError, match=word):
        Air(pressure, temperature, humidity)
    with pytest.raises(RangeError, match=word):
        air_findings(pressure, temperature, humidity)


def test_one_bad_value_in_a_column_is_named() -> None:
    with pytest.raises(RangeError, match=r"20 K"):
        moist_air_density(101325.0, np.array([293.15, 20.0, 294.15]), 0.5)


def test_room_air_has_no_finding_even_at_the_limits() -> None:
    assert air_findings(101325.0, 293.15, 0.5) == ()
    assert air_findings(np.array([60e3, 110e3]), np.array([273.15 + 15, 300.15]), 0.5) == ()
    # a limit converted from other units may be off by its last bit
    assert air_findings(np.nextafter(110e3, 2e5), np.nextafter(300.15, 400.0), 0.5) == ()


def test_outside_the_range_is_a_note_with_the_worst_value() -> None:
    temperatures = np.array([293.15, 303.15, 313.15])
    (found,) = air_findings(101325.0, temperatures, 0.5)
    assert found.code == "air-outside-range"
    assert found.severity is Severity.NOTE
    assert "40 degC" in found.message
    assert found.size == pytest.approx(313.15)
    both = air_findings(55e3, 278.15, 0.0)
    assert [f.code for f in both] == ["air-outside-range"] * 2
    assert "550 hPa" in both[0].message
    assert "5 degC" in both[1].message


def test_a_missing_value_stays_missing_and_disturbs_no_other() -> None:
    density = moist_air_density(101325.0, np.array([293.15, np.nan]), 0.5)
    assert np.isfinite(density[0])
    assert np.isnan(density[1])
    (found,) = air_findings(101325.0, np.array([np.nan, 303.15]), 0.5)
    assert found.size == pytest.approx(303.15)


def test_reference_air() -> None:
    assert Air(101325.0, 293.15, 0.0) == REFERENCE_AIR
    assert REFERENCE_AIR.density == pytest.approx(1.2046, abs=5e-5)
    # "within 0.3 % of 0.075 lb/ft3"
    assert REFERENCE_AIR.density == pytest.approx(0.075 * 0.45359237 / 0.3048**3, rel=3e-3)


def test_air_properties_are_those_of_the_functions() -> None:
    air = Air(99e3, 298.15, 0.6)
    assert air.density == moist_air_density(99e3, 298.15, 0.6)
    assert air.speed_of_sound == speed_of_sound(298.15, 0.6, 99e3)
    assert air.viscosity == dynamic_viscosity(298.15)


def test_scalars_give_scalars_and_columns_give_columns() -> None:
    assert isinstance(moist_air_density(101325.0, 293.15, 0.5), np.float64)
    assert moist_air_density(101325.0, np.full((3, 1), 293.15), np.zeros(2)).shape == (3, 2)
