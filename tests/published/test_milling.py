"""Milling: chamber volume per depth, intake-face multipliers, angle milling, cam timing.

Trade notes: multipliers and rules long used in shops, copied as figures.  COMPUTED: spherical cap
worked from its closed form outside this program.
"""

from __future__ import annotations

import math

import pytest

from portwright.core.chamber.angle import AngleCut, DeepSide
from portwright.core.chamber.moves import cam_retard
from portwright.core.chamber.vface import VFace, line_up
from portwright.core.chamber.walls import AreaTable, SphericalCap, StraightWalls, volume_per_depth

pytestmark = pytest.mark.published
MM, CC = 1e-3, 1e-6


@pytest.mark.parametrize(
    ("area", "thou_per_cc"),
    [(30, 13.1), (40, 9.8), (46, 8.6), (50, 7.9), (60, 6.6), (70, 5.6), (80, 4.9)],
)
def test_thou_per_cc(area: float, thou_per_cc: float) -> None:
    depth = StraightWalls(area * 1e-4).depth(1 * CC)
    assert depth / 25.4e-6 == pytest.approx(thou_per_cc, abs=0.05)  # digits printed


CAP = [(0.1, 0.405641), (0.25, 1.008435), (0.5, 1.997922), (1.0, 3.919660)]


@pytest.mark.parametrize(("depth", "taken"), CAP)
def test_milling_a_round_cap(depth: float, taken: float) -> None:
    cap = SphericalCap(60 * MM, 12 * MM)
    assert cap.volume(12 * MM) / 1e-9 == pytest.approx(25333.803159, abs=5e-7)
    assert cap.area(0.0) == pytest.approx(math.pi * (36 * MM) ** 2, rel=1e-12)
    assert cap.volume(depth * MM) / CC == pytest.approx(taken, abs=5e-7)
    assert cap.depth(taken * CC) / MM == pytest.approx(depth, abs=5e-7)


@pytest.mark.parametrize(("depth", "taken"), CAP)
def test_the_same_cap_from_traced_planes(depth: float, taken: float) -> None:
    cap = SphericalCap(60 * MM, 12 * MM)
    planes = tuple(0.5 * MM * i for i in range(5))
    table = AreaTable(planes, tuple(cap.area(p) for p in planes))
    # trapezia leave step^2 A'' / 12 of area, with A'' = 2 pi: 0.13 mm2 of 4072 mm2, and less
    # between two planes; one part in ten thousand covers both
    assert table.volume(depth * MM) / CC == pytest.approx(taken, rel=1e-4)


def test_the_flat_rule_takes_too_much() -> None:
    cap = SphericalCap(60 * MM, 12 * MM)
    flat = StraightWalls(cap.area(0.0))
    assert flat.volume(0.1 * MM) / CC == pytest.approx(0.407150, abs=5e-7)
    assert flat.volume(1 * MM) / CC == pytest.approx(4.071504, abs=5e-7)
    assert flat.volume(1 * MM) / cap.volume(1 * MM) - 1.0 == pytest.approx(0.039, abs=0.0005)


def test_volume_per_depth_is_taken_at_the_final_plane() -> None:
    cap = SphericalCap(60 * MM, 12 * MM)
    step = 1e-7
    slope = (cap.volume(1 * MM + step) - cap.volume(1 * MM - step)) / (2 * step)
    # central difference: rounding of 1e-16 on 4e-6 over 2e-7 leaves some 1e-9
    assert volume_per_depth(cap, 1 * MM) == pytest.approx(slope, rel=1e-7)


@pytest.mark.parametrize(
    ("v_angle", "face", "cut", "drop"),
    [
        # trade notes: V angle, face to deck, multipliers of the deck cut
        (90, 90, 1.00, 1.41),
        (90, 85, 1.10, 1.55),
        (90, 80, 1.23, 1.72),
        (60, 80, 0.65, 1.29),
    ],
)
def test_intake_face_multipliers(v_angle: float, face: float, cut: float, drop: float) -> None:
    angles = VFace.from_deck(math.radians(v_angle / 2), math.radians(face))
    found = line_up(angles, 1 * MM)
    assert found.face_cut / MM == pytest.approx(cut, abs=0.005)  # digits printed
    # 1.7233 is printed as 1.72, 1.5549 as 1.55, 1.2856 as 1.29
    assert found.manifold_drop / MM == pytest.approx(drop, abs=0.005)


def test_invented_60_degree_v6() -> None:
    # worked by hand for the invented demo engine: 0.826 mm deck, 30 and 40 degrees
    found = line_up(VFace(math.radians(30), math.radians(40)), 0.826 * MM)
    assert found.face_cut / MM == pytest.approx(0.539, abs=0.0005)
    assert found.manifold_drop / MM == pytest.approx(1.062, abs=0.0005)


def test_one_degree_across_150_mm() -> None:
    # trade notes: 2.62 mm
    cut = AngleCut(math.radians(1.0), DeepSide.EXHAUST, 150 * MM)
    assert cut.extra_depth / MM == pytest.approx(2.62, abs=0.005)


def test_cam_timing_by_the_trade_rule() -> None:
    # trade notes: 57.3 d / r cam degrees; 1 mm on a 50 mm radius is 1.146 degrees
    assert math.degrees(cam_retard(1 * MM, 50 * MM)) == pytest.approx(57.3 / 50, abs=5e-4)
