from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.core.cornered_sections import DShape, RoundedRectangle, Superellipse
from portwright.core.outline import Outline
from portwright.core.sections import Ellipse, Oval, Section

sizes = st.floats(0.005, 0.080)
shares = st.floats(0.0, 1.0)


@st.composite
def sections(draw: st.DrawFn) -> Section:
    width, height = draw(sizes), draw(sizes)
    smaller = min(width, height)
    kind = draw(st.integers(0, 4))
    if kind == 0:
        return Oval(width, height)
    if kind == 1:
        return Ellipse(width, height)
    if kind == 2:
        radii = [draw(shares) * 0.5 * smaller for _ in range(4)]
        return RoundedRectangle(width, height, *radii)
    if kind == 3:
        roof = draw(st.floats(0.05, 1.0)) * min(0.5 * width, height)
        return DShape(width, height, roof, draw(shares) * min(0.5 * width, height - roof))
    return Superellipse(width, height, draw(st.floats(2.0, 50.0)))


@given(sections())
def test_no_section_beats_the_circle(section: Section) -> None:
    # isoperimetric inequality: 4 pi A <= P^2; quadrature and round-off below 1e-9
    assert 4 * np.pi * section.area <= section.perimeter**2 * (1 + 1e-9)


@given(sections())
def test_section_fits_its_box(section: Section) -> None:
    width, height = section.width, section.height  # type: ignore[attr-defined]
    assert 0.0 < section.area <= width * height * (1 + 1e-12)
    assert section.perimeter <= 2 * (width + height) * (1 + 1e-9)
    across, up = section.centroid
    assert 0.0 < across < width
    assert 0.0 < up < height
    # a flat box has at most twice its smaller side
    assert section.hydraulic_diameter <= 2 * min(width, height) * (1 + 1e-9)


@given(sizes, sizes)
def test_ellipse_is_the_superellipse_of_two(width: float, height: float) -> None:
    curved, general = Ellipse(width, height), Superellipse(width, height, 2.0)
    assert general.area == pytest.approx(curved.area, rel=1e-12)
    # Gauss-Legendre with 80 nodes on a smooth arc
    assert general.perimeter == pytest.approx(curved.perimeter, rel=1e-10)


@given(sizes, sizes, shares)
def test_rounding_the_corners_takes_area_and_perimeter(
    width: float, height: float, share: float
) -> None:
    sharp = RoundedRectangle.with_equal_corners(width, height, 0.0)
    radius = 0.5 * share * min(width, height)
    rounded = RoundedRectangle.with_equal_corners(width, height, radius)
    assert rounded.area <= sharp.area
    assert rounded.perimeter <= sharp.perimeter
    assert rounded.centroid == pytest.approx(sharp.centroid, rel=1e-12)


@given(
    st.integers(3, 40),
    st.floats(0.0, 6.28),
    st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)),
)
def test_outline_does_not_care_where_it_lies_or_starts(
    corners: int, turn: float, shift: tuple[float, float]
) -> None:
    angle = np.linspace(0.0, 2 * np.pi, corners, endpoint=False)
    points = np.column_stack([0.02 * np.cos(angle), 0.015 * np.sin(angle)])
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    here = Outline(points)
    there = Outline(np.roll(points @ rotation.T + np.array(shift), corners // 2, axis=0)[::-1])
    # a shift of 1 m leaves 1e-16 m in each point, 1e-14 of the size
    assert there.area == pytest.approx(here.area, rel=1e-11)
    assert there.perimeter == pytest.approx(here.perimeter, rel=1e-11)
    expected = rotation @ np.array(here.centroid) + np.array(shift)
    assert there.centroid == pytest.approx(tuple(expected), abs=1e-12)
