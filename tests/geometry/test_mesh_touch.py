"""Ends of a closed scan, chosen by touching them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from portwright.core.mesh.mesh import Mesh
from portwright.errors import GeometryError
from portwright.services.scan import Scan, open_scan, profile_of
from portwright.services.scan_ends import end_touched, ring_at
from tests.geometry.shapes import bent_line, circle, noisy, tube
from tests.geometry.test_mesh_files import stl_binary

POINTS, TANGENTS = bent_line(50.0, 1.2, 20.0, 120)


@pytest.fixture(scope="module", params=[0.0, 0.05], ids=["clean", "noisy"])
def mould(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Scan:
    """Closed bent mould of 17.5 mm radius, in millimetres."""
    made: Mesh = tube(POINTS, TANGENTS, circle(17.5, 96), np.ones(120))
    path = tmp_path_factory.mktemp("mould") / "mould.stl"
    stl_binary(noisy(made, request.param) if request.param else made, path)
    return open_scan(path, "mm")


def test_a_touch_beside_the_middle_of_an_end_is_enough(mould: Scan) -> None:
    aside = 4e-3 * np.array([0.0, 0.0, 1.0])
    ends = [end_touched(mould, at * 1e-3 + aside) for at in (POINTS[0], POINTS[-1])]
    for end, tangent in zip(ends, TANGENTS[[0, -1]], strict=True):
        assert abs(float(end.normal @ tangent)) == pytest.approx(1.0, abs=1e-3)  # 2.5 degrees
    found = profile_of(mould, ends[0], ends[1], 60)
    # promised: 0.5 % on clean, 1 % on noisy scans
    assert found.area == pytest.approx(np.pi * 17.5e-3**2, rel=0.01)
    assert float(found.line.distance[-1]) == pytest.approx((40.0 + 60.0) * 1e-3, rel=0.01)
    # the spline overshoots where straight meets arc
    assert float(found.inner_radius[found.tightest]) == pytest.approx(32.5e-3, rel=0.15)
    ring = ring_at(ends[0])
    assert np.linalg.norm(ring - ends[0].point, axis=1) == pytest.approx(6e-3)


def test_a_touch_on_the_side_is_no_end(tmp_path: Path, mould: Scan) -> None:
    edge = POINTS[0] * 1e-3 + np.array([0.0, 0.0, 17.5e-3])
    with pytest.raises(GeometryError, match="not flat"):
        end_touched(mould, edge)
    same = end_touched(mould, POINTS[0] * 1e-3)
    with pytest.raises(GeometryError, match="same place"):
        profile_of(mould, same, same)
