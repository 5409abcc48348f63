"""Smallest geometric area of a poppet valve in its three stages.

Source: Heywood, Internal Combustion Engine Fundamentals (1988), equations 6.7 to 6.9 - FROM MEMORY,
so these rows (``data/valve_area_stages.csv``, COMPUTED by another coding) prove the coding, and
the continuity at both joints (tests/properties) backs the recollection.  One more check: at small
lift stage one is the frustum between the faces, a fact of geometry.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from portwright.core.valve import ValveShape, curtain_area, minimum_area, stage_limits

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "valve_area_stages.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))


def _shape(row: dict[str, str]) -> ValveShape:
    return ValveShape(
        head_diameter=float(row["Dv_mm"]) * 1e-3,
        stem_diameter=float(row["Ds_mm"]) * 1e-3,
        seat_angle=math.radians(float(row["beta_deg"])),
        seat_width=float(row["w_mm"]) * 1e-3,
        throat_diameter=float(row["Dp_mm"]) * 1e-3,
    )


@pytest.mark.parametrize(
    "row", ROWS, ids=lambda r: f"{r['Dv_mm']}-{r['beta_deg']}deg-{r['lift_mm']}mm"
)
def test_area_and_stage_limits(row: dict[str, str]) -> None:
    # six decimals of mm2 and mm: half a unit of the last
    shape, lift = _shape(row), float(row["lift_mm"]) * 1e-3
    assert minimum_area(shape, lift) * 1e6 == pytest.approx(float(row["Am_mm2"]), abs=5.1e-7)
    assert curtain_area(shape, lift) * 1e6 == pytest.approx(
        float(row["curtain_piDvL_mm2"]), abs=5.1e-7
    )
    limits = stage_limits(shape)
    assert limits.first * 1e3 == pytest.approx(float(row["l1_mm"]), abs=5.1e-7)
    assert limits.second * 1e3 == pytest.approx(float(row["l2_mm"]), abs=5.1e-7)
    stage = 1 + (lift > limits.first * (1 - 1e-12)) + (lift > limits.second)
    assert stage == int(row["stage"])


def test_printed_example_lifts_at_once() -> None:
    # COMPUTED: 40/35/8/1.5/45 at 2, 5, 8 and 9 mm
    shape = ValveShape(0.040, 0.008, math.radians(45), 0.0015, 0.035)
    areas = minimum_area(shape, np.array([2.0, 5.0, 8.0, 9.0]) * 1e-3) * 1e6
    np.testing.assert_allclose(areas, [168.829552, 460.568894, 806.845921, 911.847268], atol=5.1e-7)


@pytest.mark.parametrize("degrees", [20.0, 30.0, 45.0, 50.0, 55.0, 60.0])
def test_first_stage_is_the_frustum_between_the_faces(degrees: float) -> None:
    # geometry: from the inner edge of the seat square to the valve face; a frustum's side is
    # pi (r1 + r2) s.  Independent of the printed formula
    beta = math.radians(degrees)
    shape = ValveShape(0.042, 0.007, beta, 0.001, 0.036)
    lift = 0.0008
    slant = lift * math.cos(beta)
    inner = 0.5 * shape.head_diameter - shape.seat_width
    outer = inner + slant * math.sin(beta)
    assert minimum_area(shape, lift) == pytest.approx(math.pi * (inner + outer) * slant, rel=1e-12)
