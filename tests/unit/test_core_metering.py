from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.air import Air
from portwright.core.bench import effective_area
from portwright.core.flow_element import (
    CalibrationTable,
    table_findings,
    table_flow,
    viscosity_factor,
)
from portwright.core.gasflow import incompressible_mass_flux
from portwright.core.metering import (
    REFERENCE_DENSITY,
    FlowMeaning,
    RangeScale,
    direct_flow,
    meter_air_factor,
    orifice_flow,
    percent_of_range_flow,
    pipe_orifice_flow,
    reference_flow,
    temperature_factor,
)
from portwright.core.orifice import Taps, expansibility
from portwright.errors import RangeError, Severity, ShapeError

HOT = Air(101325.0, 308.15, 0.9)
TABLE = CalibrationTable(np.array([10.0, 20.0, 40.0]), np.array([0.010, 0.022, 0.040]))


def test_mass_flow_gives_the_same_area_in_any_air() -> None:
    # a head of 1000 mm2 at 6974 Pa in hot damp air, definition of the effective area
    mass = 1e-3 * incompressible_mass_flux(HOT.density, 6974.0)
    assert effective_area(reference_flow(mass, HOT.density), 6974.0) == pytest.approx(
        1e-3, rel=1e-13
    )


def test_direct_reading_means_what_it_is_said_to_mean() -> None:
    shown = np.array([0.05, 0.06])
    as_reference = direct_flow(shown, FlowMeaning.REFERENCE_AIR, HOT.density)
    np.testing.assert_array_equal(as_reference, shown)
    as_actual = direct_flow(shown, FlowMeaning.ACTUAL_AIR, HOT.density)
    # hot damp air is thinner, so the same cfm of it is less head: 35 degC, 90 % is about 3.5 %
    assert as_actual[0] / shown[0] == pytest.approx(1 / 1.035, abs=2e-3)
    area = effective_area(shown, 6974.0, HOT.density)
    np.testing.assert_allclose(effective_area(as_actual, 6974.0), area, rtol=1e-13)


def test_percent_of_range() -> None:
    # 72 % of a 36 cfm range is 25.92
    cfm = percent_of_range_flow(0.72, 36.0, 2490.9, 2490.9, RangeScale.FIXED)
    assert cfm == pytest.approx(25.92, rel=1e-14)
    same = percent_of_range_flow(0.72, 36.0, 2490.9, 2490.9, RangeScale.SQUARE_ROOT)
    assert same == pytest.approx(cfm, rel=1e-14)
    fixed = percent_of_range_flow(0.72, 36.0, 2490.9, 4 * 2490.9, RangeScale.FIXED)
    assert fixed == pytest.approx(cfm, rel=1e-14)
    rooted = percent_of_range_flow(0.72, 36.0, 2490.9, 4 * 2490.9, RangeScale.SQUARE_ROOT)
    assert rooted == pytest.approx(2 * cfm, rel=1e-14)


@pytest.mark.parametrize(
    ("fraction", "full_scale", "pressure"),
    [(-0.01, 36.0, 2490.0), (72.0, 36.0, 2490.0), (0.5, 0.0, 2490.0), (0.5, 36.0, 0.0)],
)
def test_percent_of_range_refuses_nonsense(
    fraction: float, full_scale: float, pressure: float
) -> None:
    with pytest.raises(RangeError):
        percent_of_range_flow(fraction, full_scale, pressure, pressure, RangeScale.FIXED)


def test_orifice_bench_by_mass_balance() -> None:
    # head of 800 mm2 and plate in series, meter air warmer and below atmosphere
    head, meter = Air(101325.0, 293.15, 0.4), Air(101325.0 - 7000.0, 308.15, 0.3)
    mass = 0.8e-3 * float(incompressible_mass_flux(head.density, 7000.0))
    # drop over a 50 mm plate of 0.61 that passes this mass, by bisection on the printed equation
    low, high = 0.0, 20000.0
    for _ in range(200):
        drop = 0.5 * (low + high)
        through = 0.61 * float(expansibility(0.0, drop, meter.pressure)) * 0.25 * math.pi * 0.05**2
        through *= math.sqrt(2 * meter.density * drop)
        low, high = (drop, high) if through < mass else (low, drop)
    flow = orifice_flow(
        drop,
        0.05,
        0.61,
        meter_pressure=meter.pressure,
        meter_density=meter.density,
        head_density=head.density,
    )
    assert effective_area(flow, 7000.0) == pytest.approx(0.8e-3, rel=1e-12)


def test_pipe_plate_and_free_plate_agree_when_the_pipe_is_wide() -> None:
    # 20 mm in 200 mm: beta 0.1, C near 0.597 to 0.6; approach and expansibility nearly one
    pipe = pipe_orifice_flow(
        2000.0,
        0.2,
        0.02,
        Taps.CORNER,
        meter_pressure=101325.0,
        meter_density=1.2,
        meter_viscosity=1.82e-5,
        head_density=1.2,
    )
    free = orifice_flow(
        2000.0, 0.02, 0.598, meter_pressure=101325.0, meter_density=1.2, head_density=1.2
    )
    # half a percent: the coefficient is not exactly 0.598
    assert pipe == pytest.approx(free, rel=5e-3)


def test_density_and_temperature_factor_agree_at_one_pressure() -> None:
    head, meter = Air(101325.0, 293.15, 0.0), Air(101325.0, 313.15, 0.0)
    # real-gas density is not exactly 1/T: Z changes by 1e-4 over 20 K
    assert meter_air_factor(head.density, meter.density) == pytest.approx(
        temperature_factor(293.15, 313.15), rel=1e-4
    )


def test_meter_air_factor_makes_a_same_air_bench_right() -> None:
    head, meter = Air(101325.0, 293.15, 0.5), Air(94000.0, 313.15, 0.3)
    mass = 1e-3 * float(incompressible_mass_flux(head.density, 6974.0))
    constant = 5e-4  # any meter: m = K sqrt(rho dp)
    drop = (mass / constant) ** 2 / meter.density
    shown = constant * math.sqrt(drop / REFERENCE_DENSITY)
    corrected = shown * meter_air_factor(head.density, meter.density)
    assert effective_area(corrected, 6974.0) == pytest.approx(1e-3, rel=1e-13)


def test_table_is_straight_between_rows_and_silent_outside() -> None:
    flow = table_flow(np.array([10.0, 15.0, 40.0, 9.9, 40.1]), TABLE)
    np.testing.assert_allclose(flow[:3], [0.010, 0.016, 0.040], rtol=1e-14)
    assert np.isnan(flow[3:]).all()
    assert isinstance(table_flow(15.0, TABLE), np.float64)


def test_reading_outside_the_table_is_a_fault() -> None:
    assert table_findings(np.array([10.0, 40.0, np.nan]), TABLE) == ()
    (found,) = table_findings(np.array([5.0, 20.0, 41.0]), TABLE)
    assert found.code == "reading-outside-calibration"
    assert found.severity is Severity.FAULT
    assert found.size == 2.0


@pytest.mark.parametrize(
    ("reading", "flow", "error"),
    [
        ([1.0, 2.0], [1.0], ShapeError),
        ([1.0], [1.0], ShapeError),
        ([2.0, 1.0], [1.0, 2.0], RangeError),
        ([1.0, 1.0], [1.0, 2.0], RangeError),
        ([1.0, 2.0], [1.0, math.nan], RangeError),
    ],
)
def test_broken_table_is_refused(
    reading: list[float], flow: list[float], error: type[Exception]
) -> None:
    with pytest.raises(error):
        CalibrationTable(np.array(reading), np.array(flow))


def test_thicker_air_passes_less_through_a_laminar_element() -> None:
    assert viscosity_factor(1.80e-5, 1.89e-5) == pytest.approx(1 / 1.05, rel=1e-12)
