"""Milling formulas against three-dimensional meshes: a chamber, and a head on its bank.

The chamber is a closed mesh cut by the mill's plane; what lies below is summed facet by facet.  The
head is a mesh whose deck is cut, set down again and leaned with its bank by transforms in space.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from portwright.core.chamber.angle import AngleCut, DeepSide, angle_line_up
from portwright.core.chamber.vface import VFace, line_up

MM = 1e-3
Array = NDArray[np.float64]


def chamber() -> trimesh.Trimesh:
    """Oval chamber with walls square to the deck, 30 mm deep, its middle 80 mm from the edge."""
    made: trimesh.Trimesh = trimesh.creation.cylinder(radius=1.0, height=30.0, sections=360)
    made.apply_transform(np.diag([38.0, 26.0, 1.0, 1.0]))
    made.apply_translation([80.0, 5.0, 15.0])
    return made


def below(mesh: trimesh.Trimesh, on_plane: Array, normal: Array) -> float:
    """Volume below a plane; seen from a point of the plane the missing lid adds nothing."""
    piece = mesh.slice_plane(on_plane, -normal, cap=False)
    a, b, c = (piece.triangles[:, i] - on_plane for i in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


@pytest.mark.parametrize("degrees", [0.4, 1.2, 2.5])
@pytest.mark.parametrize("edge", [0.0, 0.2])
def test_an_angle_cut_takes_what_the_mesh_loses(degrees: float, edge: float) -> None:
    t, mesh = math.radians(degrees), chamber()
    normal = np.array([-math.sin(t), 0.0, math.cos(t)])
    lost = below(mesh, np.array([0.0, 0.0, edge]), normal)
    deck = trimesh.creation.cylinder(radius=1.0, height=30.0, sections=360)
    area = deck.volume / 30.0 * 38.0 * 26.0  # of the same polygon
    cut = AngleCut(t, DeepSide.EXHAUST, 150.0 * MM, edge * MM)
    # the walls stop the plane nowhere, so both are exact: rounding of 1000 facets
    assert cut.volume(area * MM**2, 80.0 * MM) / MM**3 == pytest.approx(lost, rel=1e-10)


def turned(angle: float, about: Array) -> Array:
    """Turn about a line along the crank. [-]"""
    c, s = math.cos(angle), math.sin(angle)
    made = np.eye(4)
    made[:3, :3] = [[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]]
    made[:3, 3] = about - made[:3, :3] @ about
    return made


class Head:
    """A head as a mesh: block with a marked port on its intake face, leaned with its bank."""

    def __init__(self, half: float, tilt: float) -> None:
        block = trimesh.creation.box([150.0, 400.0, 90.0])
        block.apply_translation([85.0, 0.0, 245.0])  # deck at z 200, intake edge at x 10
        port = trimesh.creation.icosphere(subdivisions=1, radius=3.0)
        port.apply_translation([12.0, 20.0, 255.0])
        self.block, self.port = block, port
        self.lean = turned(half, np.zeros(3))
        upright = tilt - half
        self.up = np.array([math.sin(upright), 0.0, math.cos(upright)])

    def milled(self, t: float, edge: float) -> Array:
        """Transform that sets the head down on a deck cut at an angle, deeper at the exhaust."""
        hinge = np.array([10.0, 0.0, 200.0 + edge])
        normal = np.array([-math.sin(t), 0.0, math.cos(t)])
        cut = self.block.slice_plane(hinge, normal, cap=False)
        rim = cut.vertices[np.abs((cut.vertices - hinge) @ normal) < 1e-9]
        assert len(rim) >= 4
        turn = turned(t, hinge)
        down = np.eye(4)
        down[2, 3] = -edge
        made: Array = down @ turn
        flat = trimesh.transform_points(rim, made)
        np.testing.assert_allclose(flat[:, 2], 200.0, atol=1e-9)
        return made

    def moved(self, made: Array) -> tuple[Array, Array]:
        """Port centre before and after, leaned with the bank: outwards and up."""
        before, after = self.port.copy(), self.port.copy()
        after.apply_transform(made)
        for mesh in (before, after):
            mesh.apply_transform(self.lean)
        return before.centroid[[0, 2]], after.centroid[[0, 2]]


def left_over(shift: Array, tilt: float, cut: float, drop: float) -> tuple[float, float]:
    """Gap and step left at the face after a cut and a drop of the manifold."""
    up = np.array([math.sin(tilt), math.cos(tilt)])
    into = np.array([-math.cos(tilt), math.sin(tilt)])  # from the head into the valley
    between = -shift - np.array([0.0, drop])  # head's port to the manifold's
    return float(between @ into) + cut, float(between @ up)


ANGLES = [(45, 45), (45, 50), (45, 55), (30, 40), (30, -10)]


@pytest.mark.parametrize(("half", "tilt"), ANGLES)
def test_the_face_cut_and_drop_bring_a_milled_head_back_in_line(half: float, tilt: float) -> None:
    a, p = math.radians(half), math.radians(tilt)
    head = Head(a, p)
    before, after = head.moved(head.milled(0.0, 0.826))
    found = line_up(VFace(a, p), 0.826 * MM)
    gap, step = left_over(after - before, p, found.face_cut / MM, found.manifold_drop / MM)
    assert gap == pytest.approx(0.0, abs=1e-9)
    assert step == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("half", "tilt"), [(45, 50), (30, 40)])
def test_the_same_for_a_head_milled_at_an_angle(half: float, tilt: float) -> None:
    a, p, t = math.radians(half), math.radians(tilt), math.radians(1.5)
    head = Head(a, p)
    before, after = head.moved(head.milled(t, 0.3))
    work = AngleCut(t, DeepSide.EXHAUST, 150.0 * MM, 0.3 * MM)
    found = angle_line_up(VFace(a, p), work, 2.0 * MM, 55.0 * MM).line_up
    gap, step = left_over(after - before, p, found.face_cut / MM, found.manifold_drop / MM)
    assert gap == pytest.approx(0.0, abs=1e-9)
    assert step == pytest.approx(0.0, abs=1e-9)
