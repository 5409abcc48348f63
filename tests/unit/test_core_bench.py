from __future__ import annotations

import numpy as np
import pytest

from portwright.core import gasflow
from portwright.core.bench import (
    LeakTreatment,
    PressureLaw,
    effective_area,
    flow_from_area,
    isentropic_area,
    leak_corrected,
    square_root_error,
)
from portwright.core.metering import REFERENCE_DENSITY
from portwright.errors import RangeError

INCH_WATER = 249.08891


def test_effective_area_by_hand() -> None:
    # 0.1 m3/s at 6000 Pa and 1.2 kg/m3: jet 100 m/s, so 1000 mm2
    assert effective_area(0.1, 6000.0, 1.2) == pytest.approx(1e-3, rel=1e-14)


@pytest.mark.parametrize(
    ("flow", "drop", "density"), [(-0.1, 6000.0, 1.2), (0.1, 0.0, 1.2), (0.1, 6000.0, 0.0)]
)
def test_effective_area_refuses_nonsense(flow: float, drop: float, density: float) -> None:
    with pytest.raises(RangeError):
        effective_area(flow, drop, density)


def test_missing_reading_stays_missing() -> None:
    area = effective_area(np.array([0.1, np.nan]), 6000.0)
    assert np.isfinite(area[0])
    assert np.isnan(area[1])


@pytest.mark.parametrize("law", list(PressureLaw))
def test_flow_at_its_own_pressure_is_the_reading(law: PressureLaw) -> None:
    area = effective_area(0.07, 28 * INCH_WATER)
    back = flow_from_area(area, 28 * INCH_WATER, 28 * INCH_WATER, law=law)
    assert back == pytest.approx(0.07, rel=1e-14)


def test_compressible_law_is_that_of_one_nozzle() -> None:
    # a nozzle of 1000 mm2 tested at 10 and at 28 inH2O below one atmosphere: mass flows from the
    # gas equation, volume at the density ahead of the head
    R, T = 101325.0 / (REFERENCE_DENSITY * 293.15), 293.15
    low, high = 10 * INCH_WATER, 28 * INCH_WATER
    volume = {
        drop: float(
            gasflow.mass_flow(1e-3, 101325.0, T, 101325.0 - drop, gamma=1.4, gas_constant=R)
        )
        / REFERENCE_DENSITY
        for drop in (low, high)
    }
    area = effective_area(volume[low], low)
    assert flow_from_area(area, low, high) == pytest.approx(volume[high], rel=1e-12)
    by_root = flow_from_area(area, low, high, law=PressureLaw.SQUARE_ROOT)
    overstated = square_root_error(low, high)
    assert by_root / volume[high] - 1 == pytest.approx(overstated, rel=1e-9)
    assert isentropic_area(area, low) == pytest.approx(1e-3, rel=1e-12)


def test_isentropic_area_at_28_inches() -> None:
    # documented as 3.9 % larger
    assert isentropic_area(1.0, 28 * INCH_WATER) == pytest.approx(1.039, abs=5e-4)


def test_leak_left_in_or_taken_off() -> None:
    area, leak = np.array([100.0, 500.0]), 4.0
    kept = leak_corrected(area, leak, LeakTreatment.AS_UNCERTAINTY)
    np.testing.assert_array_equal(kept, area)
    less = leak_corrected(area, leak, LeakTreatment.SUBTRACT)
    np.testing.assert_array_equal(less, [96.0, 496.0])


def test_more_leak_than_flow_gives_no_area() -> None:
    left = leak_corrected(np.array([3.0, 4.0, 5.0]), 4.0, LeakTreatment.SUBTRACT)
    np.testing.assert_array_equal(left, [np.nan, np.nan, 1.0])


def test_negative_leak_is_refused() -> None:
    with pytest.raises(RangeError, match="leak"):
        leak_corrected(100.0, -1.0, LeakTreatment.SUBTRACT)
