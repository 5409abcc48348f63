"""Seats and valves of every shape: a number or a reason, never NaN, never a silent limit."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from portwright.core.seat.body import opening_force, stiffness_ratio, valve_volume
from portwright.core.seat.gap import rest, smallest_passages
from portwright.core.seat.profile import Cut, SeatProfile, ValveProfile
from portwright.core.seat.sink import sink_for
from portwright.errors import RangeError

MM = 1e-3
anything = st.floats(allow_nan=True, allow_infinity=True)
sizes = st.floats(0.1 * MM, 80 * MM)
angles = st.floats(0.0, math.radians(89.0))
cuts = st.builds(Cut, angles, st.floats(0.05 * MM, 3 * MM))
some_cuts = st.lists(cuts, max_size=3).map(tuple)


@st.composite
def seats(draw: st.DrawFn) -> SeatProfile:
    face, below, above = draw(cuts), draw(some_cuts), draw(some_cuts)
    throat, left = draw(st.floats(14 * MM, 60 * MM)), draw(st.floats(0.0, 2 * MM))
    outer = throat + 2.0 * (face.radial + sum(c.radial for c in below) + left)
    return SeatProfile(outer, face, throat, below, above)


@st.composite
def valves(draw: st.DrawFn, seat: SeatProfile) -> ValveProfile:
    face, back = draw(cuts), draw(some_cuts)
    stem = draw(st.floats(4 * MM, 12 * MM))
    head = seat.outer_diameter + 2.0 * draw(st.floats(-0.5, 0.5)) * face.radial
    try:
        return ValveProfile(
            head, face, stem, draw(st.floats(0.3 * MM, 3 * MM)), back, draw(angles), 0.0
        )
    except RangeError:
        assume(False)
        raise


@given(st.data(), seats())
@settings(max_examples=40)
def test_every_pair_that_closes_has_a_passage_at_every_lift(
    data: st.DataObject, seat: SeatProfile
) -> None:
    valve = data.draw(valves(seat))
    try:
        shut = rest(seat, valve)
    except RangeError:
        return
    assert math.isfinite(shut.height)
    assert shut.inner_diameter <= shut.outer_diameter
    found = smallest_passages(seat, valve, np.array([0.0, 0.5, 4.0, 30.0]) * MM)
    areas = [p.area for p in found]
    assert all(math.isfinite(a) and a >= 0.0 for a in areas)
    assert areas[0] == pytest.approx(0.0, abs=1e-12)
    # never more than the ring between throat and stem, nor than a straight drop at the edge
    ring = math.pi / 4.0 * (seat.throat_diameter**2 - valve.stem_diameter**2)
    assert max(areas) <= ring * (1.0 + 1e-9)


@given(st.data(), seats(), st.floats(0.0, 0.5 * MM))
@settings(max_examples=40)
def test_a_sunk_seat_lies_in_the_old_metal(
    data: st.DataObject, old: SeatProfile, clean: float
) -> None:
    new = data.draw(seats())
    valve, other = data.draw(valves(old)), data.draw(valves(new))
    try:
        found = sink_for((old, valve), (new, other), clean)
    except RangeError:
        return
    before, after = old.outline().points[1:], new.outline().points
    cut = after[1:-1] if new.left_to_throat <= 1e-9 else after[2:-1]
    cut = cut[cut[:, 0] >= before[0, 0]]
    lowered = cut[:, 1] - found.seat
    assert np.all(lowered <= np.interp(cut[:, 0], *before.T) - clean + 1e-12)


@given(st.lists(anything, min_size=2, max_size=2))
def test_cuts_of_any_number(values: list[float]) -> None:
    try:
        made = Cut(*values)
    except RangeError:
        return
    assert math.isfinite(made.radial)
    assert made.radial > 0.0


@given(st.lists(st.one_of(anything, sizes), min_size=6, max_size=6))
def test_valves_of_any_numbers(values: list[float]) -> None:
    head, width, stem, margin, fillet, length = values
    try:
        volume = valve_volume(
            ValveProfile(head, Cut(0.7, width), stem, margin, fillet_radius=fillet, length=length)
        )
    except RangeError:
        return
    assert math.isfinite(volume)
    assert volume > 0.0


@given(anything, anything, anything, anything)
def test_forces_of_any_numbers(a: float, b: float, c: float, d: float) -> None:
    with contextlib.suppress(RangeError):
        assert math.isfinite(opening_force(a, b, c, d))
    try:
        ratio = stiffness_ratio(a, b, c, d)
    except RangeError:
        return
    assert ratio >= 0.0
    assert not math.isnan(ratio)
