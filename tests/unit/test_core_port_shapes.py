"""Shapes a porter measures: areas, outlines, caliper errors and the cells of a map."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.core.outline import Outline
from portwright.core.port.cells import nearest_cells
from portwright.core.port.shapes import (
    Shape,
    area_uncertainty,
    outline_of,
    section_of,
    sizes_of,
)
from portwright.core.trace.curve import enclosed_area
from portwright.errors import RangeError, ShapeError

RADII = ("top left radius", "top right radius", "bottom right radius", "bottom left radius")
SIZES: dict[Shape, dict[str, float]] = {
    Shape.CIRCLE: {"diameter": 0.036},
    Shape.OVAL: {"width": 0.025, "height": 0.036},
    Shape.ELLIPSE: {"width": 0.025, "height": 0.036},
    Shape.RECTANGLE: {"width": 0.0252, "height": 0.0365, "corner radius": 0.006},
    Shape.FOUR_RADII: {
        "width": 0.030,
        "height": 0.036,
        **dict(zip(RADII, (0.004, 0.006, 0.010, 0.012), strict=True)),
    },
    Shape.D: {"width": 0.032, "height": 0.030, "roof height": 0.012, "corner radius": 0.005},
}


@pytest.mark.parametrize("shape", list(Shape))
def test_an_outline_encloses_the_area_of_its_shape(shape: Shape) -> None:
    section, outline = section_of(shape, SIZES[shape]), Outline(outline_of(shape, SIZES[shape]))
    # a polygon of 24 points to a quarter turn is short by 0.07 % of the round part
    assert float(outline.area) == pytest.approx(float(section.area), rel=1e-3)
    assert float(outline.perimeter) == pytest.approx(float(section.perimeter), rel=1e-3)
    found, exact = outline.centroid, section.centroid
    # a thousandth of the width
    assert [float(v) for v in found] == pytest.approx([float(v) for v in exact], abs=4e-5)
    assert enclosed_area(outline.points) > 0.0


@pytest.mark.parametrize("shape", list(Shape))
def test_caliper_error_goes_through_the_shape(shape: Shape) -> None:
    # against drawn sizes: 4000 draws know a standard deviation to 1.1 %
    dice = np.random.default_rng(5)
    sizes = {
        name: value + (0.3e-3 if name.endswith("radius") else 0.1e-3) * dice.standard_normal(4000)
        for name, value in SIZES[shape].items()
    }
    area = section_of(shape, sizes).area  # type: ignore[arg-type]
    told = area_uncertainty(shape, SIZES[shape], 0.1e-3, 0.3e-3)
    assert told == pytest.approx(float(np.std(area)), rel=0.04)


def test_a_corner_that_cannot_grow_still_has_an_error() -> None:
    full = {"width": 0.03, "height": 0.03, "corner radius": 0.015}
    # dA/dr = -2 (4 - pi) r, taken from below
    radius = 2.0 * (4.0 - math.pi) * 0.015 * 0.5e-3
    assert area_uncertainty(Shape.RECTANGLE, full, 0.0, 0.5e-3) == pytest.approx(radius, rel=1e-5)


def test_a_missing_size_is_named() -> None:
    with pytest.raises(ShapeError, match="roof height"):
        section_of(Shape.D, {"width": 0.03, "height": 0.03, "corner radius": 0.0})
    with pytest.raises(RangeError, match="corner radii"):
        outline_of(Shape.RECTANGLE, {"width": 0.03, "height": 0.02, "corner radius": 0.011})
    assert all(sizes_of(shape) == tuple(SIZES[shape]) for shape in Shape)


@given(
    st.sampled_from(list(Shape)),
    st.lists(
        st.tuples(st.floats(-0.01, 0.04), st.floats(-0.01, 0.05)),
        min_size=1,
        max_size=12,
        unique_by=lambda p: (round(p[0], 4), round(p[1], 4)),
    ),
)
def test_cells_fill_the_section_once(shape: Shape, points: list[tuple[float, float]]) -> None:
    outline = outline_of(shape, SIZES[shape])
    cells = nearest_cells(np.array(points), outline)
    total = sum(enclosed_area(c) for c in cells if len(c) > 2)
    # round-off of a few dozen cuts
    assert total == pytest.approx(enclosed_area(outline), rel=1e-9)


def test_corner_cells_are_smaller() -> None:
    x, y = np.meshgrid((np.arange(3) + 0.5) * 0.01, (np.arange(3) + 0.5) * 0.01)
    sizes = {"width": 0.03, "height": 0.03, "corner radius": 0.008}
    cells = nearest_cells(
        np.column_stack([x.ravel(), y.ravel()]), outline_of(Shape.RECTANGLE, sizes)
    )
    assert enclosed_area(cells[4]) == pytest.approx(1e-4, rel=1e-9)  # the middle keeps its square
    corner = 1e-4 - (1.0 - math.pi / 4.0) * 0.008**2
    assert enclosed_area(cells[0]) == pytest.approx(corner, rel=1e-3)  # polygon for arc


def test_two_marks_on_one_place_are_refused() -> None:
    outline = outline_of(Shape.CIRCLE, SIZES[Shape.CIRCLE])
    with pytest.raises(RangeError, match="Marks 1 and 2"):
        nearest_cells(np.array([[0.01, 0.01], [0.01, 0.01]]), outline)
    with pytest.raises(ShapeError):
        nearest_cells(np.empty((0, 2)), outline)
