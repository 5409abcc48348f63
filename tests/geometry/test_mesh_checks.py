"""Meshes that are broken in the ways scans are."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.mesh.checks import repaired
from portwright.core.mesh.mesh import Mesh, group_mean, simplified, welded
from portwright.core.mesh.slicing import Slicer
from portwright.errors import GeometryError
from tests.geometry.shapes import bent_line, circle, tube

AXIS = np.array([1.0, 0.0, 0.0])


def straight(count: int = 41, *, caps: bool = True) -> Mesh:
    """Tube of 17.5 mm radius along x, 80 mm long."""
    points, tangents = bent_line(0.05, 0.0, 0.04, count)
    return tube(points, tangents, circle(0.0175), np.ones(count), caps=caps)


EXACT = math.pi * 0.0175**2


def cut_area(mesh: Mesh, at: float = 0.0333) -> float:
    return Slicer(mesh).cut(np.array([at, 0.0, 0.0]), AXIS).area


def test_a_clean_tube() -> None:
    mesh, report = repaired(straight())
    assert report.watertight
    assert (report.shells, report.flipped, report.degenerate, report.non_manifold) == (1, 0, 0, 0)
    assert mesh.volume == pytest.approx(EXACT * 0.08, rel=1e-12)
    assert cut_area(mesh) == pytest.approx(EXACT, rel=1e-12)


def test_flipped_triangles_are_turned_and_do_not_matter_to_sections() -> None:
    whole = straight()
    dice = np.random.default_rng(2)
    wrong = dice.random(len(whole.faces)) < 0.3
    faces = np.where(wrong[:, np.newaxis], whole.faces[:, ::-1], whole.faces)
    mixed = Mesh(whole.vertices, faces)
    assert cut_area(mixed) == pytest.approx(EXACT, rel=1e-12)
    mesh, report = repaired(mixed)
    assert report.flipped == int(np.count_nonzero(wrong))
    assert mesh.volume == pytest.approx(whole.volume, rel=1e-12)


def test_a_mesh_inside_out_is_turned() -> None:
    whole = straight()
    mesh, report = repaired(Mesh(whole.vertices, whole.faces[:, ::-1]))
    assert report.flipped == len(whole.faces)
    assert mesh.volume > 0.0


def test_holes_are_counted_and_bridged() -> None:
    whole = straight()
    middle = whole.vertices[whole.faces].mean(axis=1)
    near = np.linalg.norm(middle - np.array([0.0333, 0.0175, 0.0]), axis=1) < 3e-3
    mesh, report = repaired(Mesh(whole.vertices, whole.faces[~near]))
    assert len(report.openings) == 1
    assert not report.watertight
    cut = Slicer(mesh).cut(np.array([0.0333, 0.0, 0.0]), AXIS)
    assert len(cut.loops) == 1
    assert 3e-3 < cut.gap < 9e-3
    # a chord takes a segment of c^3/(12 R) off; the next term is (c/R)^2/40 of it
    segment = cut.gap**3 / (12.0 * 0.0175)
    assert EXACT - cut.area == pytest.approx(segment, rel=0.02)


def test_two_holes_in_one_outline_are_bridged_in_order() -> None:
    whole = straight()
    middle = whole.vertices[whole.faces].mean(axis=1)
    left = np.zeros(len(middle), dtype=bool)
    for angle in (0.4, 2.6, 4.4):
        place = np.array([0.0333, 0.0175 * math.cos(angle), 0.0175 * math.sin(angle)])
        left |= np.linalg.norm(middle - place, axis=1) < 2.5e-3
    cut = Slicer(Mesh(whole.vertices, whole.faces[~left])).cut(np.array([0.0333, 0, 0]), AXIS)
    assert len(cut.loops) == 1
    assert cut.area == pytest.approx(EXACT, rel=2e-3)


def test_open_ends_are_openings_with_their_plane() -> None:
    _, report = repaired(straight(caps=False))
    assert len(report.openings) == 2
    for opening in report.openings:
        assert abs(float(opening.normal @ AXIS)) == pytest.approx(1.0, abs=1e-9)
        assert opening.flatness < 1e-9
        assert opening.length == pytest.approx(2.0 * math.pi * 0.0175, rel=1e-3)  # 128 sides


def test_a_fin_makes_edges_non_manifold_and_sections_stay() -> None:
    whole = straight()
    a, b, _ = whole.faces[1000]
    tip = len(whole.vertices)
    vertices = np.vstack([whole.vertices, whole.vertices[a] + np.array([0.0, 0.004, 0.004])])
    mesh, report = repaired(Mesh(vertices, np.vstack([whole.faces, [[a, b, tip]]])))
    assert report.non_manifold == 1
    at = float(whole.vertices[[a, b], 0].mean()) + 1e-5
    assert cut_area(mesh, at) == pytest.approx(EXACT, rel=2e-2)


def test_empty_and_repeated_triangles_are_left_out() -> None:
    whole = straight()
    extra = np.array([[5, 5, 9], whole.faces[7], whole.faces[8][::-1]])
    mesh, report = repaired(Mesh(whole.vertices, np.vstack([whole.faces, extra])))
    assert (report.degenerate, report.repeated) == (1, 2)
    assert report.watertight
    assert len(mesh.faces) == len(whole.faces)


def test_corners_at_one_place_become_one() -> None:
    whole = straight()
    corners = whole.vertices[whole.faces].reshape(-1, 3)
    soup = np.arange(len(corners)).reshape(-1, 3)
    mesh = welded(corners, soup)
    assert len(mesh.vertices) == len(whole.vertices)
    assert repaired(mesh)[1].watertight


def test_a_plane_through_corners_closes() -> None:
    mesh = straight()
    at = float(mesh.vertices[10 * 128, 0])  # exactly a ring of corners
    cut = Slicer(mesh).cut(np.array([at, 0.0, 0.0]), AXIS)
    assert len(cut.loops) == 1
    assert cut.gap == 0.0
    assert cut.area == pytest.approx(EXACT, rel=1e-12)


def test_a_plane_beside_the_mesh_cuts_nothing() -> None:
    assert Slicer(straight()).cut(np.array([1.0, 0.0, 0.0]), AXIS).loops == ()


def test_shreds_are_refused() -> None:
    whole = straight()
    dice = np.random.default_rng(4)
    corners = whole.vertices[whole.faces].reshape(-1, 3)
    loose = corners + 1e-5 * dice.standard_normal(corners.shape)
    dense = np.concatenate([loose, loose + 1e-4, loose - 1e-4])
    mesh = Mesh(dense, np.arange(len(dense)).reshape(-1, 3))
    with pytest.raises(GeometryError, match="shreds"):
        Slicer(mesh).cut(np.array([0.0333, 0.0, 0.0]), AXIS)


def test_normals_without_direction_are_refused() -> None:
    with pytest.raises(GeometryError, match="direction"):
        Slicer(straight()).cut(np.zeros(3), np.zeros(3))


def test_a_coarser_copy_keeps_the_shape() -> None:
    fine = straight(200)
    coarse, group = simplified(fine, 6000)
    assert 2000 < len(coarse.faces) < 8000
    # means of cells of about 2 mm lie up to c^2/(8 R) inside the wall
    assert coarse.volume == pytest.approx(fine.volume, rel=0.03)
    assert group_mean(fine.vertices[:, 0], group) == pytest.approx(coarse.vertices[:, 0])
    assert simplified(fine, 10**6)[0] is fine


@pytest.mark.parametrize(
    ("vertices", "faces"),
    [
        (np.zeros((3, 3)), np.empty((0, 3), dtype=np.int64)),
        (np.full((3, 3), np.nan), np.array([[0, 1, 2]])),
        (np.zeros((3, 3)), np.array([[0, 1, 3]])),
    ],
)
def test_arrays_that_are_no_mesh(vertices: np.ndarray, faces: np.ndarray) -> None:
    with pytest.raises(GeometryError):
        Mesh(vertices, faces)
