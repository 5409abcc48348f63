from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from portwright.core.air import dynamic_viscosity, moist_air_density, speed_of_sound

pressures = st.floats(50e3, 120e3)
temperatures = st.floats(253.15, 323.15)
humidities = st.floats(0.0, 1.0)


@given(pressures, temperatures, humidities)
def test_density_grows_with_pressure_and_falls_with_heat_and_damp(
    pressure: float, temperature: float, humidity: float
) -> None:
    density = moist_air_density(pressure, temperature, humidity)
    assert moist_air_density(pressure * 1.01, temperature, humidity) > density
    assert moist_air_density(pressure, temperature + 1.0, humidity) < density
    assert moist_air_density(pressure, temperature, min(1.0, humidity + 0.1)) <= density


@given(pressures, temperatures, humidities)
def test_density_is_close_to_an_ideal_gas_of_its_own(
    pressure: float, temperature: float, humidity: float
) -> None:
    # dry ideal gas is an upper estimate but for Z (0.1 % at -20 degC and 1.2 bar); water takes up
    # to 9 % at 50 degC and 0.5 bar, hence the lower side
    ideal = pressure / (287.05 * temperature)
    assert 0.90 * ideal < moist_air_density(pressure, temperature, humidity) < 1.003 * ideal


@given(pressures, temperatures, humidities)
def test_sound_is_faster_in_warm_and_in_damp_air(
    pressure: float, temperature: float, humidity: float
) -> None:
    speed = speed_of_sound(temperature, humidity, pressure)
    assert speed_of_sound(temperature + 1.0, humidity, pressure) > speed
    assert speed_of_sound(temperature, min(1.0, humidity + 0.1), pressure) >= speed


@given(temperatures)
def test_viscosity_grows_with_temperature(temperature: float) -> None:
    assert dynamic_viscosity(temperature + 1.0) > dynamic_viscosity(temperature)


@given(st.lists(st.tuples(pressures, temperatures, humidities), min_size=1, max_size=20))
def test_columns_give_what_single_values_give(rows: list[tuple[float, float, float]]) -> None:
    p, T, h = np.array(rows).T
    single = [float(moist_air_density(*row)) for row in rows]
    # vector and scalar exponentials may differ in the last bit
    np.testing.assert_allclose(moist_air_density(p, T, h), single, rtol=1e-15 * 8)
