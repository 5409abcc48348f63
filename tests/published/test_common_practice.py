"""Facts of the trade that carry no printed source: *common practice*, checked by arithmetic.

Each one is a sentence porters say; the program must agree with it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.bench import PressureLaw, effective_area, flow_from_area
from portwright.core.discharge import discharge_coefficients
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY, temperature_factor
from portwright.core.valve import (
    ValveShape,
    curtain_area,
    minimum_area,
    net_throat_area,
    valve_disc_area,
)

INCH = 0.0254
INCH_WATER = 249.08891
CUBIC_FOOT_PER_MINUTE = INCH**3 * 1728 / 60


def _valve(stem: float = 0.008, degrees: float = 45.0) -> ValveShape:
    return ValveShape(0.042, stem, math.radians(degrees), 0.0012, 0.0375)


def test_five_sixteenths_stem_is_a_few_thou_under_eight_millimetres() -> None:
    assert pytest.approx(7.9375e-3, rel=1e-12) == 5 / 16 * INCH
    thou_under = (8e-3 - 5 / 16 * INCH) / INCH * 1000
    assert 2.0 < thou_under < 3.0


def test_percent_of_valve_is_a_ratio_of_diameters() -> None:
    # 2.020 on a 2.125 valve is called 95 %, 2.214 on 2.150 103 %: whole percents
    assert round(100 * 2.020 / 2.125) == 95
    assert round(100 * 2.214 / 2.150) == 103


def test_steeper_seat_has_less_low_lift_area() -> None:
    # 50 against 45 degrees, same size: cosine ratio 0.909 in the limit of small lift; at 0.1 mm
    # the second term of the frustum is below 0.05 % of it
    lift = 1e-4
    ratio = minimum_area(_valve(degrees=50.0), lift) / minimum_area(_valve(degrees=45.0), lift)
    assert ratio == pytest.approx(math.cos(math.radians(50)) / math.cos(math.radians(45)), rel=5e-4)
    low = np.linspace(1e-4, 0.003, 20)
    assert np.all(minimum_area(_valve(degrees=50.0), low) < minimum_area(_valve(), low))


def test_smaller_stem_leaves_more_throat() -> None:
    eight, seven, six = (net_throat_area(_valve(stem=s)) for s in (0.008, 0.007, 0.006))
    assert eight < seven < six
    # "1 to 3 % area" from 8 to 7 mm
    assert 0.01 < seven / eight - 1 < 0.03


def test_curtain_equals_valve_disc_at_quarter_diameter() -> None:
    shape = _valve()
    assert curtain_area(shape, 0.25 * 0.042) == pytest.approx(valve_disc_area(shape), rel=1e-12)


@pytest.mark.parametrize(("throat", "crossing"), [(0.85, 0.172), (0.89, 0.189), (0.92, 0.203)])
def test_curtain_meets_net_throat_much_earlier(throat: float, crossing: float) -> None:
    # with an 8 mm stem on 42 mm; three decimals of L/D
    shape = ValveShape(0.042, 0.008, math.radians(45), 0.0012, throat * 0.042)
    lift_over_d = net_throat_area(shape) / (math.pi * 0.042**2)
    assert lift_over_d == pytest.approx(crossing, abs=5e-4)


def test_one_square_inch_passes_147_cfm_at_28_inches() -> None:
    # 147.1 at 20 degC dry; 139 at 25, 88 at 10 inH2O: as many digits as are said
    at = {
        inches: INCH**2
        * float(jet_velocity(REFERENCE_DENSITY, inches * INCH_WATER))
        / CUBIC_FOOT_PER_MINUTE
        for inches in (28, 25, 10)
    }
    assert at[28] == pytest.approx(147.1, abs=0.05)
    assert at[25] == pytest.approx(139.0, abs=0.5)
    assert at[10] == pytest.approx(88.0, abs=0.5)


def test_ideal_jet_velocities() -> None:
    # 64.3, 101.7, 107.6 m/s at 10, 25, 28 inH2O and 1.204 kg/m3; one decimal
    jets = jet_velocity(1.204, np.array([10.0, 25.0, 28.0]) * INCH_WATER)
    np.testing.assert_allclose(jets, [64.3, 101.7, 107.6], atol=0.06)


def test_effective_area_hardly_depends_on_test_pressure() -> None:
    # "independent of test pressure and weather to first order": 10 and 28 inH2O by square root
    area = effective_area(0.07, 28 * INCH_WATER)
    at_ten = flow_from_area(area, 28 * INCH_WATER, 10 * INCH_WATER, law=PressureLaw.SQUARE_ROOT)
    assert effective_area(at_ten, 10 * INCH_WATER) == pytest.approx(area, rel=1e-12)


def test_coefficient_at_quarter_diameter_from_cfm_per_square_inch() -> None:
    # "cfm per square inch of valve over 147 is the coefficient at L/D 0.25"; 70 / 147 = 0.476
    shape = _valve()
    square_inches = valve_disc_area(shape) / INCH**2
    area = effective_area(70 * square_inches * CUBIC_FOOT_PER_MINUTE, 28 * INCH_WATER)
    coefficients = discharge_coefficients(area, 0.25 * 0.042, shape)
    assert coefficients.curtain == pytest.approx(70 / 147.1, abs=5e-4)
    assert coefficients.curtain == pytest.approx(coefficients.valve_disc, rel=1e-12)


def test_blower_heat_at_the_meter() -> None:
    # "10 to 25 degC between head and orifice is 2 to 4 %"
    assert 1 - temperature_factor(293.15, 303.15) == pytest.approx(0.02, abs=5e-3)
    assert 1 - temperature_factor(293.15, 318.15) == pytest.approx(0.04, abs=5e-3)
