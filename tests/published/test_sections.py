"""Area, perimeter and hydraulic diameter of port sections.

``data/sections.csv``: COMPUTED from closed forms (superellipse area by the gamma function, its
perimeter by quadrature).  Worked figure on corner radii: trade notes, derived there by arithmetic.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from portwright.core.cornered_sections import RoundedRectangle, Superellipse
from portwright.core.sections import Annulus, Circle, Ellipse, Oval, Section

pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "sections.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))


def _section(row: dict[str, str]) -> Section:
    size = {k: float(v) for k, v in re.findall(r"(\w+)=([\d.]+)", row["params_mm"])}
    match row["shape"]:
        case "superellipse":
            return Superellipse(2 * size["a"], 2 * size["b"], size["n"])
        case "rounded_rect":
            return RoundedRectangle.with_equal_corners(size["w"], size["h"], size["r"])
        case "annulus":
            return Annulus(size["D"], size["d"])
        case "stadium":
            return Oval(size["w"], size["h"])
        case "ellipse":
            return Ellipse(2 * size["a"], 2 * size["b"])
        case other:
            raise AssertionError(other)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['shape']}-{r['params_mm']}")
def test_section(row: dict[str, str]) -> None:
    # ten printed digits: half a unit of the last is at most 5e-10 of the value
    section = _section(row)
    assert section.area == pytest.approx(float(row["area_mm2"]), rel=5.1e-10)
    assert section.perimeter == pytest.approx(float(row["perimeter_mm"]), rel=5.1e-10)
    assert section.hydraulic_diameter == pytest.approx(float(row["Dh_mm"]), rel=5.1e-10)


def test_corners_take_their_share() -> None:
    # trade notes: 6 mm corners on 25.2 x 36.5 mm are worth 3.4 % of w h; two digits
    sharp = RoundedRectangle.with_equal_corners(25.2, 36.5, 0.0)
    real = RoundedRectangle.with_equal_corners(25.2, 36.5, 6.0)
    assert 100 * (1 - real.area / sharp.area) == pytest.approx(3.4, abs=0.05)


def test_largest_radius_gives_circle_and_oval() -> None:
    # trade notes: for circle and oval set the radius to half the smaller side; round-off
    round_port = RoundedRectangle.with_equal_corners(30.0, 30.0, 15.0)
    assert round_port.area == pytest.approx(Circle(30.0).area, rel=1e-13)
    oval = RoundedRectangle.with_equal_corners(40.0, 20.0, 10.0)
    assert oval.area == pytest.approx(Oval(40.0, 20.0).area, rel=1e-13)
    assert oval.perimeter == pytest.approx(Oval(40.0, 20.0).perimeter, rel=1e-13)
