"""Bent pipes of known area, perimeter, centreline and volume, clean and noisy."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.cornered_sections import RoundedRectangle
from portwright.core.mesh.centreline import End, find_centreline
from portwright.core.mesh.checks import repaired
from portwright.core.mesh.cut import Loop
from portwright.core.mesh.mesh import Mesh
from portwright.core.mesh.profile import ScanProfile, scan_profile, smooth_perimeter
from portwright.core.mesh.registration import register, removed_metal
from portwright.core.mesh.slicing import Slicer
from portwright.errors import GeometryError
from tests.geometry.shapes import bent_line, circle, noisy, rounded_rectangle, tube

RADIUS, ANGLE, STRAIGHT, RINGS = 0.045, np.pi / 2, 0.03, 180
LENGTH = 2.0 * STRAIGHT + RADIUS * ANGLE
SECTION = RoundedRectangle.with_equal_corners(0.0265, 0.0365, 0.006)
POINTS, TANGENTS = bent_line(RADIUS, ANGLE, STRAIGHT, RINGS)
ALONG = np.linspace(0.0, LENGTH, RINGS)
# a port with a pinch at 45 mm that widens to the other end
SCALE = 1.0 - 0.08 * np.exp(-(((ALONG - 0.045) / 0.012) ** 2)) + 0.06 * ALONG / LENGTH
INLET, OUTLET = End(POINTS[0], TANGENTS[0]), End(POINTS[-1], TANGENTS[-1])


def port() -> Mesh:
    return tube(POINTS, TANGENTS, rounded_rectangle(0.0265, 0.0365, 0.006, corner=12), SCALE)


def errors(found: ScanProfile) -> tuple[float, float]:
    """Largest relative error of area and perimeter along the port."""
    size = np.interp(found.line.distance, ALONG, SCALE)
    area = found.area / (float(SECTION.area) * size**2) - 1.0
    edge = found.perimeter / (float(SECTION.perimeter) * size) - 1.0
    return float(np.abs(area).max()), float(np.abs(edge).max())


def test_profile_of_a_clean_port() -> None:
    found = scan_profile(Slicer(port()), INLET, OUTLET, 60)
    area, edge = errors(found)
    assert area < 0.005  # the promise; about 0.0005 is reached
    assert edge < 0.005
    assert found.line.distance[found.smallest] == pytest.approx(0.0444, abs=1.5e-3)  # one station
    # section area times way, exact for centroids (Pappus); half a percent as promised
    assert found.volume == pytest.approx(port().volume, rel=0.005)


@pytest.mark.parametrize("size", [20e-6, 50e-6])
def test_profile_of_a_noisy_port(size: float) -> None:
    found = scan_profile(Slicer(noisy(port(), size)), INLET, OUTLET, 60)
    area, edge = errors(found)
    assert area < 0.01  # the promise
    assert edge < 0.01


def test_roughness_does_not_lengthen_the_outline() -> None:
    slicer = Slicer(noisy(port(), 120e-6))
    line = find_centreline(slicer, INLET, OUTLET, 8)
    cut = slicer.cut(line.points[4], line.tangents[4])
    at = np.interp(line.distance[4], ALONG, SCALE)
    true = float(SECTION.perimeter) * at
    assert cut.loops[0].perimeter / true - 1.0 > 0.01  # as cut it would break the promise
    assert smooth_perimeter(cut.loops[0]) == pytest.approx(true, rel=0.005)


def test_bend_radius_and_inner_wall() -> None:
    found = scan_profile(Slicer(port()), INLET, OUTLET, 60)
    bend = (found.line.distance > STRAIGHT + 0.02) & (
        found.line.distance < LENGTH - STRAIGHT - 0.02
    )
    # a cubic through centroids overshoots where straight and arc meet: a few percent of radius
    assert found.line.radius[bend] == pytest.approx(np.full(bend.sum(), RADIUS), rel=0.07)
    half = 0.5 * 0.0265 * np.interp(found.line.distance[bend], ALONG, SCALE)
    assert found.inner_radius[bend] == pytest.approx(RADIUS - half, abs=0.003)


def test_an_oblique_inlet_plane_does_not_tilt_the_profile() -> None:
    tilted = End(POINTS[0] + 0.012 * TANGENTS[0], TANGENTS[0] + np.array([0.0, 0.3, 0.1]))
    found = scan_profile(Slicer(port()), tilted, OUTLET, 60)
    near = np.argmin(
        np.linalg.norm(found.line.points[:, np.newaxis] - POINTS[np.newaxis], axis=2), axis=1
    )
    past = np.einsum("ij,ij->i", found.line.points - POINTS[near], TANGENTS[near])
    size = np.interp(ALONG[near] + past, ALONG, SCALE)
    middle = slice(5, -5)
    assert found.area[middle] == pytest.approx(float(SECTION.area) * size[middle] ** 2, rel=0.005)


def test_a_stem_in_the_port_is_taken_off() -> None:
    points, tangents = bent_line(0.05, 0.0, 0.04, 41)
    wall = tube(points, tangents, circle(0.0175), np.ones(41))
    stem = tube(points[20:], tangents[20:], circle(0.004), np.ones(21))
    both = Mesh(
        np.vstack([wall.vertices, stem.vertices]),
        np.vstack([wall.faces, stem.faces[:, ::-1] + len(wall.vertices)]),
    )
    ends = End(points[0], tangents[0]), End(points[-1], tangents[-1])
    found = scan_profile(Slicer(both), *ends, 20)
    assert found.area[2] == pytest.approx(np.pi * 0.0175**2, rel=0.005)
    assert found.area[-3] == pytest.approx(np.pi * (0.0175**2 - 0.004**2), rel=0.005)


def test_an_end_outside_the_port_is_refused() -> None:
    with pytest.raises(GeometryError, match="no port at the inlet"):
        scan_profile(Slicer(port()), End(np.array([0.5, 0.0, 0.0]), TANGENTS[0]), OUTLET)


def test_ends_in_two_different_ports_are_refused() -> None:
    points, tangents = bent_line(0.05, 0.0, 0.04, 41)
    far = np.array([0.0, 0.2, 0.0])
    first = tube(points, tangents, circle(0.0175), np.ones(41))
    both = Mesh(
        np.vstack([first.vertices, first.vertices + far]),
        np.vstack([first.faces, first.faces + len(first.vertices)]),
    )
    with pytest.raises(GeometryError, match="lost the port"):
        find_centreline(
            Slicer(both), End(points[0], tangents[0]), End(points[-1] + far, tangents[-1])
        )


def test_perimeter_of_a_smooth_outline_is_kept() -> None:
    loop = Loop(rounded_rectangle(0.0265, 0.0365, 0.006), 0.0)
    # corners of 6 mm lose a little to the 32 terms
    assert smooth_perimeter(loop) == pytest.approx(float(SECTION.perimeter), rel=0.001)


def cut_pair(noise: float) -> tuple[Mesh, Mesh, float]:
    """A port before and after 0.8 mm were taken off its roof, and the volume of that."""
    before = port()
    normals, ring = before.vertex_normals(), np.arange(len(before.vertices)) // _outline()
    where = (ring > 60) & (ring < 110) & (before.vertices[:, 2] > 0.0)
    depth = np.where(where, 0.8e-3 * np.sin(np.pi * (ring - 60) / 50.0) ** 2, 0.0)
    after = Mesh(before.vertices + depth[:, np.newaxis] * normals, before.faces)
    taken = after.volume - before.volume
    turn = np.array([[0.0, -0.8, 0.6], [1.0, 0.0, 0.0], [0.0, 0.6, 0.8]])
    if noise:
        before, after = noisy(before, noise, 1), noisy(after, noise, 2)
    return before, Mesh(after.vertices @ turn.T + np.array([0.1, -0.2, 0.05]), after.faces), taken


def _outline() -> int:
    return len(rounded_rectangle(0.0265, 0.0365, 0.006, corner=12))


@pytest.mark.parametrize(("noise", "within"), [(0.0, 0.01), (50e-6, 0.03)])
def test_metal_taken_between_two_scans(noise: float, within: float) -> None:
    before, after, taken = cut_pair(noise)
    found = removed_metal(before, after, register(before, after))
    assert found.volume == pytest.approx(taken, rel=within)
    assert found.shrunk < 0.03 * taken
    # roughness left after averaging over neighbours: half its size at most
    assert found.depth.max() == pytest.approx(0.8e-3, abs=2e-5 + 0.5 * noise)


def test_the_same_scan_twice_shows_nothing_taken() -> None:
    before = port()
    found = removed_metal(before, before, register(before, before))
    assert abs(found.volume) < 1e-12
    assert found.registration.residual < 1e-9


def test_open_ends_do_not_pull_the_line_out() -> None:
    points, tangents = bent_line(0.050, 1.2, 0.020, 60)
    mesh, report = repaired(tube(points, tangents, circle(0.0175, 64), np.ones(60), caps=False))
    ends = [End(o.centre, o.normal) for o in report.openings]
    found = scan_profile(Slicer(mesh), ends[0], ends[1], 100)
    # the polygon has the circle's area; a line off square by 1.5 degrees would cost 0.03 %
    assert found.area == pytest.approx(np.full(100, np.pi * 0.0175**2), rel=5e-4)
    assert found.line.distance[-1] == pytest.approx(0.1, rel=0.01)  # just inside the outlet
