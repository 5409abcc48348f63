"""Seat and valve profiles, sink, insert, mass and forces, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.seat.body import Material, opening_force, stiffness_ratio, valve_volume
from portwright.core.seat.gap import rest, smallest_passages
from portwright.core.seat.profile import Cut, SeatProfile, ValveProfile
from portwright.core.seat.sink import Insert, insert_room, sink_for
from portwright.errors import RangeError

MM = 1e-3
DEG = math.pi / 180.0


def cut(angle: float, radial: float) -> Cut:
    """A cut given as it is seen along the stem, in mm."""
    return Cut(angle * DEG, radial * MM / math.cos(angle * DEG))


def seat(angle: float = 45.0, outer: float = 40.0, throat: float = 35.0) -> SeatProfile:
    return SeatProfile(
        outer * MM, cut(angle, 1.0), throat * MM, (cut(60.0, 1.0),), (cut(30.0, 1.0),)
    )


def valve(
    angle: float = 45.0, head: float = 40.0, face: float = 1.5, **more: float
) -> ValveProfile:
    return ValveProfile(head * MM, cut(angle, face), 8.0 * MM, 1.2 * MM, **more)  # type: ignore[arg-type]


def test_the_seat_is_drawn_through_its_corners() -> None:
    points = seat().outline().points / MM
    root = math.sqrt(3.0)
    low = -1.0 - root
    expected = [
        (17.5, low - 0.5 * math.tan(75 * DEG)),
        (18.0, low),
        (19.0, -1.0),
        (20.0, 0.0),
        (21.0, 1.0 / root),
    ]
    np.testing.assert_allclose(points[1:6], expected, atol=1e-12)
    assert seat().cut_diameter / MM == pytest.approx(42.0)
    assert seat().left_to_throat / MM == pytest.approx(0.5)


def test_a_valve_of_the_seats_angle_seals_over_the_width_of_the_narrower() -> None:
    shut = rest(seat(), valve())
    assert shut.height == pytest.approx(0.0, abs=1e-15)
    assert shut.outer_diameter / MM == pytest.approx(40.0, abs=2e-3)
    assert shut.inner_diameter / MM == pytest.approx(38.0, abs=4e-3)
    assert (shut.seat_piece, shut.valve_piece) == ("seat face", "valve face")


def test_an_interference_angle_seals_on_the_outside_of_the_seat() -> None:
    shut = rest(seat(), valve(44.0))
    assert shut.outer_diameter / MM == pytest.approx(40.0, abs=1e-9)
    assert shut.inner_diameter / MM == pytest.approx(40.0, abs=0.2)


def test_a_larger_valve_stands_higher_on_the_same_seat() -> None:
    assert rest(seat(), valve(head=41.0)).height / MM == pytest.approx(0.5)


def test_a_back_cut_opens_low_lift() -> None:
    """A wide face hides the seat's inner edge; ground away behind the contact it does not."""
    lift = np.array([1.0 * MM])
    wide = smallest_passages(seat(), valve(face=2.5), lift)[0]
    ground = ValveProfile(40.0 * MM, cut(45, 1.0), 8.0 * MM, 1.2 * MM, back_cuts=(cut(30, 1.5),))
    freed = smallest_passages(seat(), ground, lift)[0]
    # foot of the shortest gap 0.5 mm inside the seat's inner edge, or 0.5 mm outside it
    assert freed.area / wide.area == pytest.approx((38.0 + 0.5) / (38.0 - 0.5), rel=2e-3)
    assert wide.valve_piece == "valve face"


def test_places_are_named() -> None:
    found = smallest_passages(seat(), valve(), np.array([0.5, 4.0, 14.0]) * MM)
    assert found[0].valve_piece == "valve face"
    assert found[1].seat_piece == "edge of the seat face"
    assert "throat" in found[2].seat_piece
    assert "stem" in found[2].valve_piece


def test_the_same_profile_cleans_up_where_it_is() -> None:
    found = sink_for((seat(), valve()), (seat(), valve()))
    assert found.seat == pytest.approx(0.0, abs=1e-15)
    assert found.valve == pytest.approx(0.0, abs=1e-15)
    assert sink_for((seat(), valve()), (seat(), valve()), 0.05 * MM).valve / MM == pytest.approx(
        0.05
    )


def test_a_steeper_seat_of_the_same_outside_needs_no_depth_for_its_face() -> None:
    """45 to 50 degrees about the same outer edge: the new face lies below the old one."""
    new = SeatProfile(40.0 * MM, cut(50, 1.0), 35.0 * MM, (cut(65, 0.5),), (cut(30.0, 1.0),))
    found = sink_for((seat(), valve()), (new, valve(50.0)))
    assert found.seat == pytest.approx(0.0, abs=1e-15)


def test_a_flatter_seat_sinks_until_its_inner_edge_meets_metal() -> None:
    """45 to 30 degrees: the inner edge stood higher by 1 - tan 30 mm, less on the cut below."""
    new = SeatProfile(40.0 * MM, cut(30, 1.0), 35.0 * MM, (), (cut(20.0, 1.0),))
    found = sink_for((seat(), valve()), (new, valve(30.0)), face_only=True)
    assert found.seat / MM == pytest.approx(1.0 - math.tan(30 * DEG))
    assert found.decided_by == "seat face"
    assert found.valve == pytest.approx(found.seat)


def test_no_metal_in_the_old_throat() -> None:
    new = SeatProfile(34.0 * MM, cut(45, 1.0), 30.0 * MM)
    with pytest.raises(RangeError, match="insert"):
        sink_for((seat(), valve()), (new, valve(head=34.0, face=1.0)), face_only=True)


def test_the_insert_has_an_end() -> None:
    room = insert_room(Insert(44.0 * MM, 7.0 * MM), seat(), 0.4 * MM, 3.0 * MM, 0.5 * MM)
    assert room.land / MM == pytest.approx(1.0)
    assert room.wall / MM == pytest.approx(4.5)
    height = 7.0 - 0.4 - 1.0 - math.sqrt(3.0) - 1.0 / math.sqrt(3.0)
    assert room.below / MM == pytest.approx(height)
    assert room.largest_throat / MM == pytest.approx(38.0)
    assert room.largest_seat / MM == pytest.approx(41.0)


def test_the_volume_of_a_valve_without_a_fillet() -> None:
    """Disc, frusta of face and underside, stem: worked piece by piece."""
    made = ValveProfile(
        40.0 * MM, cut(45, 2.0), 8.0 * MM, 1.5 * MM, under_angle=0.0, length=110.0 * MM
    )
    disc = math.pi * 20.0**2 * 1.5
    face = math.pi / 3.0 * 2.0 * (20.0**2 + 20.0 * 18.0 + 18.0**2)
    stem = math.pi * 4.0**2 * 108.0
    assert valve_volume(made) / MM**3 == pytest.approx(disc + face + stem)
    with pytest.raises(RangeError, match="length"):
        valve_volume(valve())


def test_force_against_the_gas() -> None:
    """5 bar under a 34 mm seal, 0.2 bar in the port round an 8 mm stem."""
    force = opening_force(5e5, 0.2e5, 34.0 * MM, 8.0 * MM)
    seal, stem = math.pi / 4.0 * 0.034**2, math.pi / 4.0 * 0.008**2
    assert force == pytest.approx(5e5 * seal - 0.2e5 * (seal - stem))
    assert opening_force(0.0, 1e5, 34.0 * MM, 8.0 * MM) < 0.0


@pytest.mark.parametrize(
    "make",
    [
        lambda: Cut(95 * DEG, MM),
        lambda: Cut(45 * DEG, 0.0),
        lambda: SeatProfile(40 * MM, cut(45, 3.0), 35 * MM),
        lambda: ValveProfile(40 * MM, cut(45, 17.0), 8 * MM, MM),
        lambda: valve(fillet_radius=60 * MM),
        lambda: rest(seat(outer=44.0, throat=41.0), valve(head=40.0)),
        lambda: smallest_passages(seat(), valve(), np.array([-1.0 * MM])),
        lambda: stiffness_ratio(8 * MM, 0.0, 8 * MM, 2e11),
        lambda: opening_force(math.nan, 0.0, 34 * MM, 8 * MM),
        lambda: opening_force(1e5, 0.0, 8 * MM, 8 * MM),
        lambda: Material("?", (2.0, 1.0), (1.0, 1.0), ""),
        lambda: sink_for((seat(), valve()), (seat(), valve()), -1.0),
    ],
)
def test_what_cannot_be_is_said(make: object) -> None:
    with pytest.raises(RangeError):
        make()  # type: ignore[operator]
