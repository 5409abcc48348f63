from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.cornered_sections import DShape, RoundedRectangle, Superellipse
from portwright.core.outline import Outline
from portwright.core.sections import Annulus, Circle, Ellipse, Oval, Section, stem_blockage
from portwright.errors import GeometryError, RangeError


def _traced(points: list[tuple[float, float]]) -> Outline:
    return Outline(np.array(points, dtype=np.float64))


def _arc(x: float, y: float, r: float, start: float, stop: float) -> list[tuple[float, float]]:
    angles = np.radians(np.linspace(start, stop, 400))
    return [(x + r * math.cos(a), y + r * math.sin(a)) for a in angles]


def _assert_same(section: Section, outline: Outline) -> None:
    # 400 chords to a quarter circle are short of it by 1e-5 relative at most
    assert section.area == pytest.approx(outline.area, rel=2e-5)
    assert section.perimeter == pytest.approx(outline.perimeter, rel=2e-5)
    for ours, traced in zip(section.centroid, outline.centroid, strict=True):
        assert ours == pytest.approx(traced, rel=2e-5)


def test_four_different_corners_against_a_traced_outline() -> None:
    section = RoundedRectangle(30.0, 40.0, 5.0, 8.0, 2.0, 10.0)
    outline = _traced(
        _arc(10, 10, 10, 180, 270)
        + _arc(28, 2, 2, 270, 360)
        + _arc(22, 32, 8, 0, 90)
        + _arc(5, 35, 5, 90, 180)
    )
    _assert_same(section, outline)


def test_d_shape_against_a_traced_outline() -> None:
    section = DShape(30.0, 25.0, 15.0, 4.0)
    outline = _traced(_arc(4, 4, 4, 180, 270) + _arc(26, 4, 4, 270, 360) + _arc(15, 10, 15, 0, 180))
    _assert_same(section, outline)


def test_d_shape_with_a_flat_roof_against_a_traced_outline() -> None:
    # roof 5 high over 30: radius 25, half angle asin(15/25)
    half = math.degrees(math.asin(0.6))
    outline = _traced([(0, 0), (30, 0), *_arc(15, 0, 25, 90 - half, 90 + half)])
    moved = Outline(outline.points + np.array([0.0, -20.0]) * (outline.points[:, 1:] > 0.0))
    section = DShape(30.0, 5.0, 5.0)
    _assert_same(section, moved)


def test_superellipse_and_ellipse_against_a_traced_outline() -> None:
    t = np.linspace(0.0, 2 * np.pi, 4000, endpoint=False)
    for section, n in ((Ellipse(40.0, 30.0), 2.0), (Superellipse(40.0, 30.0, 3.0), 3.0)):
        x = 20 + 20 * np.sign(np.cos(t)) * np.abs(np.cos(t)) ** (2 / n)
        y = 15 + 15 * np.sign(np.sin(t)) * np.abs(np.sin(t)) ** (2 / n)
        _assert_same(section, Outline(np.column_stack([x, y])))


def test_simple_middles() -> None:
    assert Circle(30.0).centroid == pytest.approx((15.0, 15.0))
    assert Annulus(40.0, 8.0).centroid == pytest.approx((20.0, 20.0))
    assert Oval(40.0, 20.0).centroid == pytest.approx((20.0, 10.0))
    assert Oval(20.0, 40.0).area == Oval(40.0, 20.0).area


def test_hydraulic_diameter_of_a_circle_is_its_diameter() -> None:
    assert Circle(31.0).hydraulic_diameter == pytest.approx(31.0, rel=1e-14)


def test_columns_of_sections_at_once() -> None:
    widths = np.array([25.2, 26.0, 27.0])
    pinch = RoundedRectangle.with_equal_corners(widths, 36.5, 6.0)
    one = RoundedRectangle.with_equal_corners(26.0, 36.5, 6.0)
    assert pinch.area.shape == (3,)
    assert pinch.area[1] == one.area
    assert Superellipse(widths, 36.5, np.array([2.0, 3.0, 4.0])).perimeter.shape == (3,)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Circle(0.0),
        lambda: Circle(math.nan),
        lambda: Annulus(8.0, 8.0),
        lambda: Oval(40.0, -1.0),
        lambda: RoundedRectangle.with_equal_corners(30.0, 40.0, 15.1),
        lambda: RoundedRectangle(30.0, 40.0, 20.0, 11.0, 0.0, 0.0),
        lambda: RoundedRectangle.with_equal_corners(30.0, 40.0, -1.0),
        lambda: DShape(30.0, 25.0, 16.0),
        lambda: DShape(30.0, 10.0, 15.0),
        lambda: DShape(30.0, 25.0, 15.0, 11.0),
        lambda: Superellipse(30.0, 40.0, 1.5),
        lambda: stem_blockage(-1.0, 5.0),
    ],
)
def test_impossible_sections_are_refused(make: object) -> None:
    assert callable(make)
    with pytest.raises(RangeError):
        make()


def test_stem_blockage() -> None:
    assert stem_blockage(0.012, 0.010) == pytest.approx(1.2e-4, rel=1e-14)


def test_outline_of_a_square_either_way_round() -> None:
    square = [(1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0)]
    for points in (square, square[::-1]):
        outline = _traced(points)
        assert outline.area == pytest.approx(4.0, rel=1e-14)
        assert outline.perimeter == pytest.approx(8.0, rel=1e-14)
        assert outline.centroid == pytest.approx((2.0, 2.0), rel=1e-14)


@pytest.mark.parametrize(
    ("points", "word"),
    [
        ([(0.0, 0.0), (1.0, 0.0)], "three points"),
        ([(0.0, 0.0), (1.0, 0.0), (math.nan, 1.0)], "not a number"),
        ([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)], "no area"),
        ([(0.0, 0.0), (3.0, 3.0), (3.0, 0.0), (0.0, 2.0)], "crosses itself near point 1"),
    ],
)
def test_unusable_outlines_are_refused(points: list[tuple[float, float]], word: str) -> None:
    with pytest.raises(GeometryError, match=word):
        _traced(points)
