"""Openings that meet at a face: by hand, and against an independent polygon library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from portwright.core.line_up import Placement, by_two_points, turn_uncertainty
from portwright.core.manifold import Edge, edge_room, meet, overlap_area, rounded
from portwright.core.outline import Outline
from portwright.errors import GeometryError, RangeError

MM = 1e-3


def laid(outline: Outline, turn: float = 0.0, across: float = 0.0, up: float = 0.0) -> Outline:
    return Outline(Placement(turn, across, up).of(outline.points))


def test_an_offset_square_by_hand() -> None:
    """30 mm squares, the head 1 mm higher: 870 mm2 in common, its floor stands 1 mm in the flow."""
    runner = rounded(30 * MM, 30 * MM, 0.0)
    head = laid(rounded(30 * MM, 30 * MM, 0.0), up=1 * MM)
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
    other = laid(rounded(w2, h2, 0.0), across=0.1 * w, up=up)
    expected = shapely.Polygon(one.points).intersection(shapely.Polygon(other.points)).area
    found = meet(one, other)
    assert found.overlap == pytest.approx(expected, rel=1e-4, abs=1e-9)
    assert 0.0 <= found.facing.height < 0.1
    assert math.isfinite(found.trailing.height)


@given(*[st.floats(allow_nan=True, allow_infinity=True)] * 6)
def test_openings_of_any_numbers(
    a: float, b: float, c: float, d: float, e: float, turn: float
) -> None:
    try:
        made = laid(rounded(a, b, c), turn, d, e)
    except (RangeError, GeometryError):  # also an offset so far that the shape is lost
        return
    assert np.all(np.isfinite(made.points))


def test_an_opening_thinner_than_any_gauge_reads_is_refused() -> None:
    with pytest.raises(RangeError, match="height"):
        rounded(1.0, 5.7e-108, 0.0)


def test_a_turn_counts_anticlockwise_about_the_middle_before_the_shift() -> None:
    """A quarter turn brings what is on the right to the top, then the shift moves it."""
    placed = Placement(0.5 * math.pi, 10 * MM, 20 * MM)
    assert placed.of(np.array([[5 * MM, 0.0]])) == pytest.approx(
        np.array([[10 * MM, 25 * MM]]), abs=1e-15
    )
    further = placed.then(-0.5 * math.pi, -10 * MM, -20 * MM)
    assert (further.turn, further.across, further.up) == (0.0, 0.0, 0.0)
    assert math.degrees(Placement(3.0).then(3.0, 0, 0).turn) == pytest.approx(
        6 * 180 / math.pi - 360
    )


def test_a_turned_square_by_hand() -> None:
    """30 mm squares, one turned by 45 degrees: a regular octagon, 2 (sqrt 2 - 1) of the area."""
    square = rounded(30 * MM, 30 * MM, 0.0)
    found = meet(square, laid(square, math.radians(45)))
    assert found.overlap == pytest.approx(2 * (math.sqrt(2) - 1) * 900 * MM**2, rel=1e-5)
    # a side of the turned one cuts the corner off: half diagonal less half a side
    assert found.facing.height == pytest.approx(
        0.5 * 30 * MM * (math.sqrt(2) - 1) / math.sqrt(2), rel=0.01
    )


faces = st.tuples(st.floats(-math.pi, math.pi), st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))


@given(faces, faces, st.floats(0.01, 0.4), st.floats(-math.pi, math.pi))
@settings(max_examples=15)
def test_two_holes_undo_any_rigid_motion(
    head: tuple[float, float, float],
    runner: tuple[float, float, float],
    apart: float,
    direction: float,
) -> None:
    """However both photos were held: the runner lies where it lay on its dowels."""
    holes = np.array([[-0.03, 0.01], [-0.03, 0.01]])
    holes[1] += apart * np.array([math.cos(direction), math.sin(direction)])
    other = rounded(29 * MM, 37 * MM, 8 * MM)
    there = Placement(*head)
    seen, seen_holes = (Placement(*runner).of(p) for p in (other.points, holes))
    found = by_two_points(seen_holes, there.of(holes))
    assert found.apart == pytest.approx(found.apart_there, abs=1e-12)
    # back at the face, by the inverse of how the head was held
    back = np.array(
        [[math.cos(head[0]), -math.sin(head[0])], [math.sin(head[0]), math.cos(head[0])]]
    )
    lies = (found.placement.of(seen) - there.of(np.zeros((1, 2)))) @ back
    assert lies == pytest.approx(other.points, abs=1e-11)


@given(st.floats(-math.pi, math.pi), st.floats(0, 5 * MM), st.floats(-math.pi, math.pi))
@settings(max_examples=6)
def test_turning_both_faces_changes_neither_overlap_nor_steps(
    turn: float, off: float, way: float
) -> None:
    one = rounded(31 * MM, 36 * MM, 6 * MM)
    other = laid(rounded(29 * MM, 37 * MM, 8 * MM), 0.1, off * math.cos(way), off * math.sin(way))
    now, before = meet(laid(one, turn), laid(other, turn)), meet(one, other)
    # 2000 strips lie in another direction, and arcs are chords
    assert now.overlap == pytest.approx(before.overlap, rel=1e-4)
    assert now.facing.height == pytest.approx(before.facing.height, abs=1e-9)
    assert now.facing.share == pytest.approx(before.facing.share, abs=2e-3)


def test_holes_that_tell_nothing_are_refused_and_a_turn_knows_its_error() -> None:
    spot = np.zeros((2, 2))
    with pytest.raises(GeometryError, match="one spot"):
        by_two_points(spot, np.array([[0.0, 0.0], [0.1, 0.0]]))
    with pytest.raises(GeometryError, match="Two points"):
        by_two_points(spot[:1], spot[:1])
    # 0.1 mm at each of four ends, 100 mm apart: 2 mrad
    assert turn_uncertainty(0.1 * MM, 0.1 * MM, 100 * MM) == pytest.approx(2e-3)
    rng = np.random.default_rng(1)
    holes = np.array([[-50.0, 0.0], [50.0, 0.0]]) * MM
    turns = [
        by_two_points(*(holes + rng.normal(0.0, 0.1 * MM, (2, 2, 2)))).placement.turn
        for _ in range(400)
    ]
    assert np.std(turns) == pytest.approx(2e-3, rel=0.15)  # four standard errors of 400
