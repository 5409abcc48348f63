"""Plane sections of meshed solids against closed forms.

``data/mesh_sections.csv``: COMPUTED.  Each row holds what a solid of that many facets must give
(polygon areas and perimeters in closed form) and what the smooth solid has.  Prismatic sections are
short by the polygon factor ``(N/2 pi) sin(2 pi/N)``.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from portwright.core.mesh.mesh import Mesh
from portwright.core.mesh.slicing import Slicer

trimesh = pytest.importorskip("trimesh")
pytestmark = pytest.mark.published

DATA = Path(__file__).parent / "data" / "mesh_sections.csv"
ROWS = list(csv.DictReader(DATA.read_text(encoding="utf-8").splitlines()))


def _solid(case: str, sections: int) -> tuple[Mesh, np.ndarray, np.ndarray]:
    """Mesh in millimetres, point and normal of the cut the row is about."""
    make = trimesh.creation
    up, middle = np.array([0.0, 0.0, 1.0]), np.zeros(3)
    kind = case.split(maxsplit=1)[0]
    if kind == "cylinder":
        solid = make.cylinder(radius=17.5, height=40.0, sections=sections)
    elif kind == "annulus":
        solid = make.annulus(r_min=4.0, r_max=17.5, height=40.0, sections=sections)
    elif kind == "cone":
        solid = make.cone(radius=20.0, height=50.0, sections=sections)
        middle = np.array([0.0, 0.0, 20.0])
    else:
        solid = make.torus(50.0, 15.0, major_sections=sections, minor_sections=sections)
        up = np.array([0.0, 1.0, 0.0])
    return Mesh(np.array(solid.vertices), np.array(solid.faces, dtype=np.int64)), middle, up


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['case'].split()[0]}-{r['sections']}")
def test_section_of_a_solid(row: dict[str, str]) -> None:
    mesh, point, normal = _solid(row["case"], int(row["sections"]))
    cut = Slicer(mesh).cut(point, normal)
    # ten printed digits of computed figures, made by other software in another order of sums
    assert cut.area == pytest.approx(float(row["area_mesh_mm2"]), rel=1e-9)
    assert cut.perimeter == pytest.approx(float(row["perim_mesh_mm"]), rel=1e-9)
    assert mesh.volume == pytest.approx(float(row["vol_mesh_mm3"]), rel=1e-9)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['case'].split()[0]}-{r['sections']}")
def test_facets_explain_the_rest(row: dict[str, str]) -> None:
    mesh, point, normal = _solid(row["case"], int(row["sections"]))
    n = int(row["sections"])
    polygon = n / (2.0 * math.pi) * math.sin(2.0 * math.pi / n)
    exact = float(row["area_exact_mm2"])
    # printed digits
    assert Slicer(mesh).cut(point, normal).area == pytest.approx(exact * polygon, rel=1e-9)


@pytest.mark.parametrize("degrees", [10.0, 30.0, 45.0, 60.0])
def test_oblique_cut_of_a_cylinder(degrees: float) -> None:
    # closed form: a plane tilted by t cuts A / cos t out of any prism
    solid = trimesh.creation.cylinder(radius=17.5, height=200.0, sections=512)
    mesh = Mesh(np.array(solid.vertices), np.array(solid.faces, dtype=np.int64))
    slicer, t = Slicer(mesh), math.radians(degrees)
    square = slicer.cut(np.zeros(3), np.array([0.0, 0.0, 1.0])).area
    oblique = slicer.cut(np.zeros(3), np.array([math.sin(t), 0.0, math.cos(t)])).area
    assert oblique == pytest.approx(square / math.cos(t), rel=1e-12)
