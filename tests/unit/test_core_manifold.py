"""Openings that meet at a face: by hand, and against an independent polygon library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from portwright.core.manifold import Edge, edge_room, meet, overlap_area, rounded
from portwright.core.outline import Outline
from portwright.errors import RangeError

MM = 1e-3


def test_an_offset_square_by_hand() -> None:
    """30 mm squares, the head 1 mm higher: 870 mm2 in common, its floor stands 1 mm in the flow."""
    runner = rounded(30 * MM, 30 * MM, 0.0)
    head = rounded(30 * MM, 30 * MM, 0.0, up=1 * MM)
    found = meet(runner, head)
    assert found.overlap == pytest.approx(30 * 29 * MM**2)
    assert found.facing.height == pytest.approx(1 * MM)
    assert found.facing.edge is Edge.FLOOR
    assert found.facing.by_edge[Edge.ROOF] == 0.0
    assert found.trailing.edge is Edge.ROOF


def test_a_larger_opening_behind_has_no_step_in_the_flow() -> None:
    found = meet(rounded(30 * MM, 36 * MM, 8 * MM), rounded(31 * MM, 37 * MM, 8.5 * MM))
    assert found.facing.height == 0.0
    assert found.facing.share == 0.0
    assert found.trailing.height == pytest.approx(0.5 * MM, abs=4e-6)  # arcs in chords
    assert found.overlap == pytest.approx(found.upstream, rel=1e-4)


def test_the_same_opening_twice_has_no_steps() -> None:
    found = meet(rounded(30 * MM, 36 * MM, 8 * MM), rounded(30 * MM, 36 * MM, 8 * MM))
    assert found.facing.height == 0.0
    assert found.trailing.height == 0.0


def test_an_outline_that_bends_in_against_another_library() -> None:
    """An L and a circle; 2000 strips."""
    bent = np.array([(0, 0), (30, 0), (30, 10), (12, 10), (12, 28), (0, 28)]) * MM
    turn = np.linspace(0, 2 * math.pi, 200, endpoint=False)
    circle = np.column_stack([10 + 9 * np.cos(turn), 12 + 9 * np.sin(turn)]) * MM
    expected = shapely.Polygon(bent).intersection(shapely.Polygon(circle)).area
    assert overlap_area(bent, circle) == pytest.approx(expected, rel=1e-4)
    found = meet(Outline(bent), Outline(circle))
    ring, edge = shapely.Polygon(bent), shapely.Polygon(circle).exterior
    spots = shapely.line_interpolate_point(edge, np.linspace(0, edge.length, 2000))
    depths = shapely.distance(spots, ring.exterior)[shapely.contains(ring, spots)]
    assert found.facing.height == pytest.approx(
        float(depths.max()), abs=0.05 * MM
    )  # spacing of the points


def test_room_of_an_edge() -> None:
    room = edge_room(6 * MM, 4 * MM, 5 * MM, 3.5 * MM)
    assert room.seal == pytest.approx(2 * MM)
    assert room.without_weld == pytest.approx(1.5 * MM)
    assert edge_room(3 * MM, 4 * MM, None, 3 * MM).without_weld == pytest.approx(-1 * MM)
    with pytest.raises(RangeError):
        edge_room(-1 * MM, 4 * MM, None, 3 * MM)


sizes = st.floats(5 * MM, 80 * MM)


@given(sizes, sizes, st.floats(0, 0.5), sizes, sizes, st.floats(-30 * MM, 30 * MM))
@settings(max_examples=12)
def test_overlap_agrees_with_another_library(
    w: float, h: float, r: float, w2: float, h2: float, up: float
) -> None:
    one = rounded(w, h, r * min(w, h))
    other = rounded(w2, h2, 0.0, 0.1 * w, up)
    expected = shapely.Polygon(one.points).intersection(shapely.Polygon(other.points)).area
    found = meet(one, other)
    assert found.overlap == pytest.approx(expected, rel=1e-4, abs=1e-9)
    assert 0.0 <= found.facing.height < 0.1
    assert math.isfinite(found.trailing.height)


@given(*[st.floats(allow_nan=True, allow_infinity=True)] * 5)
def test_openings_of_any_numbers(a: float, b: float, c: float, d: float, e: float) -> None:
    try:
        made = rounded(a, b, c, d, e)
    except (RangeError, ValueError):
        return
    assert np.all(np.isfinite(made.points))
