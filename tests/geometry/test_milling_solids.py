"""Milling formulas against plain coordinate geometry that shares no formula with them.

A bank is drawn as points in a plane, its deck is cut and the head set down again by matching
coordinates; the manifold is cut and lowered until faces touch and port centres meet.  Volumes come
from counting columns of a chamber drawn as a height over a grid.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from portwright.core.chamber.angle import AngleCut, DeepSide, angle_line_up
from portwright.core.chamber.vface import LineUp, VFace, line_up
from portwright.core.chamber.walls import SphericalCap

MM = 1e-3
Points = NDArray[np.float64]


def turned(points: Points, angle: float, about: Points) -> Points:
    """Points turned anticlockwise seen along the crank."""
    c, s = math.cos(angle), math.sin(angle)
    matrix = np.array([[c, -s], [s, c]])
    found: Points = (points - about) @ matrix.T + about
    return found


class Bank:
    """Right-hand bank: x away from the valley, y up, lengths in mm."""

    def __init__(self, half: float, tilt: float) -> None:
        # drawn upright (deck level, exhaust side at +x), then leaned outwards by the half angle
        self.lean = -half
        self.deck = np.array([[10.0, 200.0], [160.0, 200.0]])
        # the face stands at the intake edge; leaned with the bank it must come to the tilt
        upright = tilt - half
        up = np.array([math.sin(upright), math.cos(upright)])
        self.port = np.array([12.0, 255.0])
        self.face = np.array([self.port - 25.0 * up, self.port + 25.0 * up])

    def placed(self, points: Points) -> Points:
        """Leaned as on the engine."""
        return turned(points, self.lean, np.array([0.0, 0.0]))

    def sat_down(self, points: Points, cut: Points) -> Points:
        """Head points once the cut plane, two points, lies on the block's deck."""
        slope = math.atan2(*(cut[1] - cut[0])[::-1])
        hinge = cut[0] if cut[0][1] <= cut[1][1] else cut[1]
        found = turned(points, -slope, hinge)
        found[..., 1] += 200.0 - hinge[1]
        return found


def fitted(before: Points, after: Points, tilt: float) -> tuple[float, float]:
    """Face cut and manifold drop found by search on coordinates, for parallel faces.

    ``before`` is the manifold's port centre, touching the old face; ``after`` the moved centre.
    The drop is chosen so that both centres have the same height along the face, the cut is then
    the overlap square to it.
    """
    up = np.array([math.sin(tilt), math.cos(tilt)])
    low, high = -50.0, 50.0
    for _ in range(200):  # bisection to the last bit
        middle = 0.5 * (low + high)
        manifold = before - np.array([0.0, middle])
        if np.dot(manifold - after, up) > 0.0:
            low = middle
        else:
            high = middle
    drop = 0.5 * (low + high)
    manifold = before - np.array([0.0, drop])
    # cross product with the face direction: distance of the head's face beyond the manifold's
    separation = manifold - after
    cut = separation[0] * up[1] - separation[1] * up[0]
    return float(cut), drop


ANGLES = [(45, 45), (45, 50), (45, 55), (30, 40), (30, -10), (60, 20), (0, 0), (90, 70)]


@pytest.mark.parametrize(("half", "tilt"), ANGLES)
@pytest.mark.parametrize("milled", [0.25, 0.826, 2.0])
def test_face_cut_and_drop_against_coordinates(half: float, tilt: float, milled: float) -> None:
    a, p = math.radians(half), math.radians(tilt)
    bank = Bank(a, p)
    cut = bank.deck + np.array([0.0, milled])
    before, after = bank.placed(bank.port), bank.placed(bank.sat_down(bank.port, cut))
    expected = fitted(before, after, p)
    found = line_up(VFace(a, p), milled * MM)
    # places of 255 mm in float64: rounding of 1e-13 mm
    assert found.face_cut / MM == pytest.approx(expected[0], abs=1e-10)
    assert found.manifold_drop / MM == pytest.approx(expected[1], abs=1e-10)


def test_the_drawn_face_has_the_tilt_and_the_angle_to_the_deck() -> None:
    bank = Bank(math.radians(30), math.radians(40))
    face, deck = bank.placed(bank.face), bank.placed(bank.deck)
    up, along = face[1] - face[0], deck[1] - deck[0]
    assert math.degrees(math.atan2(up[0], up[1])) == pytest.approx(40.0)
    cosine = float(np.dot(up, along) / np.linalg.norm(up) / np.linalg.norm(along))
    assert math.degrees(math.acos(cosine)) == pytest.approx(80.0)
    assert math.degrees(VFace(math.radians(30), math.radians(40)).face_to_deck) == pytest.approx(80)


@pytest.mark.parametrize(("half", "tilt"), ANGLES)
def test_doing_nothing_against_coordinates(half: float, tilt: float) -> None:
    a, p = math.radians(half), math.radians(tilt)
    bank = Bank(a, p)
    moved = bank.placed(bank.sat_down(bank.face, bank.deck + np.array([0.0, 1.0])))
    still = bank.placed(bank.face)
    up = (still[1] - still[0]) / np.linalg.norm(still[1] - still[0])
    shift = moved[0] - still[0]
    found: LineUp = line_up(VFace(a, p), 1.0 * MM)
    assert found.port_drop / MM == pytest.approx(-float(np.dot(shift, up)), abs=1e-10)
    closing = shift[1] * up[0] - shift[0] * up[1]
    assert found.closing / MM == pytest.approx(float(closing), abs=1e-10)


@pytest.mark.parametrize(("half", "tilt"), [(45, 50), (30, 40), (30, -10)])
@pytest.mark.parametrize("side", list(DeepSide))
def test_angle_milling_against_coordinates(half: float, tilt: float, side: DeepSide) -> None:
    a, p, t = math.radians(half), math.radians(tilt), math.radians(1.5)
    bank = Bank(a, p)
    deep = 0.3 + 150.0 * math.tan(t)
    heights = (0.3, deep) if side is DeepSide.EXHAUST else (deep, 0.3)
    cut = bank.deck + np.array([[0.0, heights[0]], [0.0, heights[1]]])
    before = bank.placed(bank.port)
    moved = bank.placed(bank.sat_down(np.vstack([bank.port, bank.face]), cut))
    expected = fitted(before, moved[0], p)
    work = AngleCut(t, side, 150.0 * MM, 0.3 * MM)
    found = angle_line_up(VFace(a, p), work, (bank.port[0] - 10.0) * MM, 55.0 * MM)
    assert found.line_up.face_cut / MM == pytest.approx(expected[0], abs=1e-10)
    assert found.line_up.manifold_drop / MM == pytest.approx(expected[1], abs=1e-10)
    up = moved[2] - moved[1]
    assert math.atan2(up[0], up[1]) - p == pytest.approx(found.face_turn, abs=1e-12)


def columns(height: NDArray[np.float64], cut: NDArray[np.float64], cell: float) -> float:
    """Volume of a chamber drawn as a height over each cell, below a cut. [mm3]"""
    return float(np.minimum(np.maximum(cut, 0.0), height).sum() * cell**2)


def test_angle_milled_volume_of_an_egg_shaped_chamber() -> None:
    cell = 0.1
    x, y = np.meshgrid(np.arange(0, 150, cell) + cell / 2, np.arange(-45, 45, cell) + cell / 2)
    inside = ((x - 80) / 38) ** 2 + (y / (28 + 0.08 * (x - 80))) ** 2 < 1.0
    height = np.where(inside, 30.0, 0.0)  # walls square to the deck, deeper than the cut
    area = inside.sum() * cell**2
    centroid = float(x[inside].mean())
    t = math.radians(1.2)
    counted = columns(height, 0.2 + x * math.tan(t), cell)
    cut = AngleCut(t, DeepSide.EXHAUST, 150 * MM, 0.2 * MM)
    # both sum the same cells: only rounding of half a million additions is left
    assert cut.volume(area * 1e-6, centroid * MM) / 1e-9 == pytest.approx(counted, rel=1e-9)


def test_flat_milled_volume_of_a_cap_counted_in_columns() -> None:
    cell = 0.1
    x, y = np.meshgrid(np.arange(-36, 36, cell) + cell / 2, np.arange(-36, 36, cell) + cell / 2)
    squared = np.clip(60.0**2 - x**2 - y**2, 0.0, None)
    height = np.clip(np.sqrt(squared) - 48.0, 0.0, None)
    counted = columns(height, np.full_like(x, 0.826), cell)
    # the rim of 226 mm is counted in cells of 0.1 mm; errors there average out far below 0.05 %
    cap = SphericalCap(60 * MM, 12 * MM)
    assert cap.volume(0.826 * MM) / 1e-9 == pytest.approx(counted, rel=5e-4)
