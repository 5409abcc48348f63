from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.core.discharge import discharge_coefficients
from portwright.core.valve import (
    ValveShape,
    curtain_area,
    minimum_area,
    net_throat_area,
    stage_limits,
)


@st.composite
def shapes(draw: st.DrawFn) -> ValveShape:
    head = draw(st.floats(0.018, 0.060))
    throat = head * draw(st.floats(0.70, 0.95))
    return ValveShape(
        head_diameter=head,
        stem_diameter=throat * draw(st.floats(0.1, 0.35)),
        seat_angle=math.radians(draw(st.floats(15.0, 60.0))),
        seat_width=head * draw(st.floats(0.01, 0.08)),
        throat_diameter=throat,
        count=draw(st.integers(1, 3)),
    )


lifts = st.floats(0.0, 0.020)


@given(shapes(), lifts, st.floats(1e-6, 0.005))
def test_area_never_shrinks_with_lift(shape: ValveShape, lift: float, step: float) -> None:
    assert minimum_area(shape, lift + step) >= minimum_area(shape, lift)


@given(shapes())
def test_area_is_continuous_at_both_joints(shape: ValveShape) -> None:
    limits = stage_limits(shape)
    for joint in (limits.first, limits.second):
        near = joint * np.array([1 - 1e-9, 1 + 1e-9])
        below, above = minimum_area(shape, near)
        # slope is at most that of the curtain, times a step of 2e-9 joint
        assert abs(above - below) <= curtain_area(shape, joint) * 3e-9


@given(shapes())
def test_second_joint_is_where_gap_and_throat_are_equal(shape: ValveShape) -> None:
    second = stage_limits(shape).second
    throat = net_throat_area(shape)
    assert minimum_area(shape, second * (1 + 1e-9)) == throat
    # square root of a difference: half the digits where gap and seat width nearly coincide
    assert minimum_area(shape, second * (1 - 1e-6)) == pytest.approx(throat, rel=1e-5)
    assert minimum_area(shape, second * 0.99) < throat


@given(shapes(), lifts)
def test_smallest_area_is_within_curtain_and_throat(shape: ValveShape, lift: float) -> None:
    area = minimum_area(shape, lift)
    assert area <= net_throat_area(shape)
    # the shortest way across cannot be longer than the curtain is high, on no larger a diameter
    assert area <= curtain_area(shape, lift) * (1 + 1e-12)


@given(shapes(), st.floats(1e-5, 0.020))
def test_coefficients_rank_as_their_areas(shape: ValveShape, lift: float) -> None:
    found = discharge_coefficients(1e-4, lift, shape)
    assert found.minimum_area >= found.curtain * (1 - 1e-12)
    assert found.minimum_area >= found.net_throat * (1 - 1e-12)
    assert found.net_throat > found.valve_disc


@given(shapes(), lifts, st.floats(0.1, 10.0))
def test_area_scales_with_the_square_of_size(shape: ValveShape, lift: float, scale: float) -> None:
    scaled = ValveShape(
        shape.head_diameter * scale,
        shape.stem_diameter * scale,
        shape.seat_angle,
        shape.seat_width * scale,
        shape.throat_diameter * scale,
        shape.count,
    )
    assert minimum_area(scaled, lift * scale) == pytest.approx(
        float(minimum_area(shape, lift)) * scale**2, rel=1e-11
    )


@given(shapes(), st.lists(lifts, min_size=1, max_size=20))
def test_columns_give_what_single_values_give(shape: ValveShape, values: list[float]) -> None:
    single = [float(minimum_area(shape, value)) for value in values]
    np.testing.assert_allclose(minimum_area(shape, np.array(values)), single, rtol=1e-14)
