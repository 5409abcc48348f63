"""Round trips, no number that is none, and no silent limits in the chamber arithmetic."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from portwright.core.chamber.angle import AngleCut, DeepSide, angle_for_volume, angle_line_up
from portwright.core.chamber.compression import (
    Clearance,
    chamber_for,
    clearance_for,
    compression_ratio,
    cylinder_volume,
    ratio_change,
    ring_land_volume,
)
from portwright.core.chamber.moves import (
    cam_retard,
    height_split,
    pushrod_change,
    stem_rise,
    valve_to_piston_change,
)
from portwright.core.chamber.uniform import uniform_plan
from portwright.core.chamber.vface import VFace, line_up
from portwright.core.chamber.walls import AreaTable, SphericalCap, StraightWalls, Walls
from portwright.errors import RangeError

CC, MM = 1e-6, 1e-3
anything = st.floats(allow_nan=True, allow_infinity=True)
chambers = st.floats(5 * CC, 200 * CC)
areas = st.floats(5e-4, 300e-4)


@st.composite
def tables(draw: st.DrawFn) -> AreaTable:
    steps = draw(st.lists(st.floats(0.05 * MM, 2 * MM), min_size=1, max_size=5))
    depths = [0.0]
    for step in steps:
        depths.append(depths[-1] + step)
    found = draw(st.lists(areas, min_size=len(depths), max_size=len(depths)))
    return AreaTable(tuple(depths), tuple(found))


@st.composite
def caps(draw: st.DrawFn) -> SphericalCap:
    radius = draw(st.floats(10 * MM, 200 * MM))
    return SphericalCap(radius, draw(st.floats(0.05, 1.0)) * radius)


any_walls = st.one_of(areas.map(StraightWalls), tables(), caps())


@given(any_walls, st.floats(0.0, 1.0))
def test_mill_for_a_volume_and_back(walls: Walls, share: float) -> None:
    most = walls.volume(walls.deepest)
    depth = walls.depth(share * most)
    assert 0.0 <= depth <= walls.deepest
    assert walls.volume(depth) == pytest.approx(share * most, rel=1e-9, abs=1e-9 * most)


@given(any_walls, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_deeper_takes_more(walls: Walls, one: float, other: float) -> None:
    low, high = sorted((one * walls.deepest, other * walls.deepest))
    assert walls.volume(low) <= walls.volume(high) * (1 + 1e-12)


@given(
    st.floats(50 * CC, 1500 * CC),
    chambers,
    st.floats(0, 20 * CC),
    st.floats(-3 * CC, 10 * CC),
    st.floats(-20 * CC, 20 * CC),
    st.floats(-1 * CC, 3 * CC),
    st.floats(0, 2 * CC),
)
def test_chamber_for_a_ratio_and_back(
    swept: float, chamber: float, gasket: float, deck: float, crown: float, sink: float, land: float
) -> None:
    assume(chamber + gasket + deck + crown + sink + land > 2 * CC)
    volumes = Clearance(chamber, gasket, deck, crown, sink, land)
    ratio = compression_ratio(swept, volumes.total)
    assert chamber_for(swept, ratio, volumes.rest) == pytest.approx(chamber, rel=1e-9)
    assert clearance_for(swept, ratio) == pytest.approx(volumes.total, rel=1e-9)


@given(st.floats(100 * CC, 1500 * CC), st.floats(0.2, 0.99), any_walls)
def test_mill_for_a_ratio_then_recompute(swept: float, share: float, walls: Walls) -> None:
    rest = 5 * CC
    taken = share * walls.volume(walls.deepest)
    chamber = taken + 30 * CC
    ratio = compression_ratio(swept, chamber - taken + rest)
    depth = walls.depth(chamber - chamber_for(swept, ratio, rest))
    again = compression_ratio(swept, chamber - walls.volume(depth) + rest)
    assert again == pytest.approx(ratio, rel=1e-9)


@given(st.lists(chambers, min_size=1, max_size=8), any_walls, st.floats(0.0, 0.999))
def test_uniform_chambers_end_at_the_target(
    volumes: list[float], walls: Walls, share: float
) -> None:
    named = {str(i): v for i, v in enumerate(volumes)}
    target = max(volumes) - share * min(walls.volume(walls.deepest), 0.9 * max(volumes))
    plan = uniform_plan(named, dict.fromkeys(named, walls), target)
    assert plan.to_open[plan.sets_cut] == 0.0
    for name, volume in named.items():
        after = volume + plan.to_open[name] - walls.volume(plan.cut)
        assert after == pytest.approx(target, rel=1e-9, abs=1e-9 * max(volumes))


@given(st.floats(0, 1.5), st.floats(0.1, 1.2), st.floats(0, 5 * MM))
def test_a_manifold_left_to_settle_touches_and_is_off_by_the_riding_step(
    half: float, tilt: float, milled: float
) -> None:
    found = line_up(VFace(half, tilt), milled)
    gap, step = found.left_over(0.0, -found.closing / math.sin(tilt))
    # lengths of millimetres over sin(0.1): 1e-14 m is rounding
    assert gap == pytest.approx(0.0, abs=1e-14)
    assert found.riding_step == pytest.approx(step, abs=1e-14)


angles = st.floats(-1.2, 1.2)


@given(
    st.floats(0, 1.5),
    angles,
    st.floats(0, 5 * MM),
    st.floats(-2 * MM, 2 * MM),
    st.floats(-2 * MM, 2 * MM),
)
def test_the_full_correction_leaves_nothing(
    half: float, tilt: float, milled: float, head: float, intake: float
) -> None:
    found = line_up(VFace(half, tilt), milled, head, intake)
    gap, step = found.left_over(found.face_cut, found.manifold_drop)
    # lengths of millimetres over cos(1.2) = 0.36: 1e-15 m is some ten roundings
    assert gap == pytest.approx(0.0, abs=1e-15)
    assert step == pytest.approx(0.0, abs=1e-15)


@given(st.floats(0, 1.5), angles, st.floats(0, 3 * MM))
def test_a_gasket_is_a_cut_of_opposite_sign(half: float, tilt: float, thickness: float) -> None:
    face = VFace(half, tilt)
    thicker, cut = line_up(face, 0.0, thickness), line_up(face, thickness)
    assert thicker.face_cut == pytest.approx(-cut.face_cut, abs=1e-15)
    assert thicker.manifold_drop == pytest.approx(-cut.manifold_drop, abs=1e-15)
    both = line_up(face, thickness, thickness)
    assert both.face_cut == pytest.approx(0.0, abs=1e-15)


@given(areas, st.floats(20 * MM, 140 * MM), st.floats(0, 1 * MM), st.floats(0, 0.1))
@example(area=0.0075740441394495745, centroid=0.05, edge=0.00038120423768821243, angle=0.0)
def test_angle_for_a_volume_and_back(
    area: float, centroid: float, edge: float, angle: float
) -> None:
    cut = AngleCut(angle, DeepSide.EXHAUST, 150 * MM, edge)
    volume = cut.volume(area, centroid)
    # a tangent found from a difference of depths: rounding of the depth over the lever
    assert angle_for_volume(area, centroid, volume, edge) == pytest.approx(angle, abs=1e-12)


@given(st.floats(0, 1.5), angles, st.floats(0, 2 * MM), st.sampled_from(DeepSide))
def test_an_angle_of_zero_is_plain_milling(
    half: float, tilt: float, depth: float, side: DeepSide
) -> None:
    face = VFace(half, tilt)
    flat = angle_line_up(face, AngleCut(0.0, side, 150 * MM, depth), 0.0, 60 * MM)
    plain = line_up(face, depth)
    # differences of places of 0.15 m: 1e-15 m is their rounding
    assert flat.line_up.face_cut == pytest.approx(plain.face_cut, abs=1e-14)
    assert flat.line_up.manifold_drop == pytest.approx(plain.manifold_drop, abs=1e-14)
    assert flat.face_turn == 0.0


MANY = 400  # over some twenty functions
CALLS: list[tuple[Callable[..., object], int]] = [
    (cylinder_volume, 2),
    (ring_land_volume, 3),
    (compression_ratio, 2),
    (clearance_for, 2),
    (chamber_for, 3),
    (ratio_change, 3),
    (lambda *v: Clearance(*v).total, 6),
    (lambda a, x: StraightWalls(a).volume(x), 2),
    (lambda a, x: StraightWalls(a).depth(x), 2),
    (lambda x, a, b, v: AreaTable((0.0, x), (a, b)).depth(v), 4),
    (lambda x, a, b, v: AreaTable((0.0, x), (a, b)).volume(v), 4),
    (lambda r, h, v: SphericalCap(r, h).volume(v), 3),
    (lambda a, p, d, g, h: line_up(VFace(a, p), d, g, h).face_cut, 5),
    (lambda a, p, d, g, h: line_up(VFace(a, p), d, g, h).riding_step or 0.0, 5),
    (lambda t, w, e, x: AngleCut(t, DeepSide.INTAKE, w, e).depth_at(x), 4),
    (angle_for_volume, 4),
    (lambda a, b, d: height_split(a, b, d).ground, 3),
    (stem_rise, 2),
    (pushrod_change, 5),
    (cam_retard, 4),
    (valve_to_piston_change, 4),
]


@settings(max_examples=MANY)
@given(st.sampled_from(CALLS), st.data())
def test_any_number_gives_a_number_or_a_sentence(
    call: tuple[Callable[..., object], int], data: st.DataObject
) -> None:
    function, count = call
    values = data.draw(st.tuples(*[st.one_of(anything, st.floats(-0.2, 2.0))] * count))
    refused = None
    try:
        found = function(*values)
    except RangeError as error:
        refused, found = error, 0.0
    assert isinstance(found, float)
    assert math.isfinite(found)
    assert refused is None or refused.hint


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: StraightWalls(46e-4).depth(-1 * CC),
        lambda: StraightWalls(46e-4).depth(100 * CC),
        lambda: AreaTable((0.0,), (46e-4,)),
        lambda: AreaTable((0.0, 1 * MM, 1 * MM), (46e-4,) * 3),
        lambda: AreaTable((0.0, 5e-324), (46e-4, 47e-4)),  # its slope would be infinite
        lambda: SphericalCap(10 * MM, 11 * MM),
        lambda: line_up(VFace(0.5, 0.5), -1 * MM),
        lambda: VFace(0.5, math.radians(86)),
        lambda: uniform_plan({}, {}, 40 * CC),
        lambda: uniform_plan({"1": 40 * CC}, {}, 39 * CC),
        lambda: uniform_plan({"1": 40 * CC}, {"1": StraightWalls(46e-4)}, 41 * CC),
        lambda: chamber_for(477 * CC, 100.0, 7 * CC),
        lambda: AngleCut(math.radians(20), DeepSide.INTAKE, 0.15),
        lambda: cam_retard(1.0, 50 * MM),
    ],
)
def test_impossible_input_is_refused_with_a_way_out(impossible: Callable[[], object]) -> None:
    with pytest.raises(RangeError) as caught:
        impossible()
    assert caught.value.hint
