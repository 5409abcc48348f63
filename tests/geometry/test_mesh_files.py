"""Mesh files as scanners and mould programs write them, good and bad."""

from __future__ import annotations

import json
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.exit_codes import ExitCode, exit_code
from portwright.cli.main import app
from portwright.core.mesh.mesh import Mesh
from portwright.errors import GeometryError, ImportFileError, InputError, UnitError
from portwright.io import meshes
from portwright.io.meshes import read_mesh
from portwright.services.demo import DEMO_JOB
from portwright.services.port_profile import port_profile
from portwright.services.scan import open_scan, plane_section
from portwright.services.scan_ends import read_direction, read_point
from tests.geometry.shapes import bent_line, circle, tube

EXACT = np.pi * 17.5**2  # mm2


@pytest.fixture(scope="module")
def pipe() -> Mesh:
    """Tube of 17.5 mm radius, 80 mm long, in millimetres as files have it."""
    points, tangents = bent_line(50.0, 0.0, 40.0, 21)
    return tube(points, tangents, circle(17.5, 64), np.ones(21))


def stl_binary(mesh: Mesh, path: Path) -> None:
    corners = mesh.vertices[mesh.faces].astype("<f4")
    rows = np.zeros(len(corners), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    rows["c"] = corners
    # many programs begin a binary file with the word of the text form
    path.write_bytes(b"solid scan".ljust(80) + struct.pack("<I", len(rows)) + rows.tobytes())


def stl_text(mesh: Mesh, path: Path) -> None:
    lines = ["solid port"]
    for triangle in mesh.vertices[mesh.faces]:
        lines += ["facet normal 0 0 0", " outer loop"]
        lines += [f"  vertex {x:.9g} {y:.9e} {z:.9g}" for x, y, z in triangle]
        lines += [" endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid"]), encoding="ascii")


def obj(mesh: Mesh, path: Path) -> None:
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in mesh.vertices]
    count = len(mesh.vertices)
    for i, (a, b, c) in enumerate(mesh.faces):  # both ways of counting, with texture and normal
        lines.append(f"f {a + 1}/1/1 {b + 1}//2 {c + 1}" if i % 2 else
                     f"f {a - count} {b - count} {c - count}")  # fmt: skip
    path.write_text("\n".join(["# scan", "o port", *lines, ""]), encoding="utf-8")


def ply_header(mesh: Mesh, form: str, kind: str) -> str:
    return (
        f"ply\nformat {form} 1.0\ncomment scan\nelement vertex {len(mesh.vertices)}\n"
        f"property {kind} x\nproperty {kind} y\nproperty {kind} z\nproperty uchar red\n"
        f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )


def ply_text(mesh: Mesh, path: Path) -> None:
    rows = [f"{x:.9g} {y:.9g} {z:.9g} 255" for x, y, z in mesh.vertices]
    rows += [f"3 {a} {b} {c}" for a, b, c in mesh.faces]
    path.write_text(ply_header(mesh, "ascii", "float") + "\n".join(rows) + "\n", encoding="ascii")


def ply_binary(mesh: Mesh, path: Path) -> None:
    vertices = np.zeros(len(mesh.vertices), np.dtype([("p", ">f8", 3), ("red", "u1")]))
    vertices["p"] = mesh.vertices
    faces = np.zeros(len(mesh.faces), np.dtype([("n", "u1"), ("c", ">i4", 3)]))
    faces["n"], faces["c"] = 3, mesh.faces
    head = ply_header(mesh, "binary_big_endian", "double").encode("ascii")
    path.write_bytes(head + vertices.tobytes() + faces.tobytes())


def threemf(mesh: Mesh, path: Path, unit: str = "millimeter") -> None:
    corners = "".join(f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in mesh.vertices)
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces)
    text = (
        f'<?xml version="1.0"?><model unit="{unit}" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
        f'<object id="1"><mesh><vertices>{corners}</vertices><triangles>{faces}</triangles>'
        '</mesh></object><object id="2"><components><component objectid="1" '
        'transform="1 0 0 0 1 0 0 0 1 5 0 0"/></components></object></resources>'
        '<build><item objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 0"/></build></model>'
    )
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("3D/3dmodel.model", text)


WRITERS: list[tuple[str, Callable[[Mesh, Path], None]]] = [
    ("a.stl", stl_binary),
    ("b.stl", stl_text),
    ("c.obj", obj),
    ("d.ply", ply_text),
    ("e.ply", ply_binary),
]


@pytest.mark.parametrize(("name", "write"), WRITERS, ids=lambda v: getattr(v, "__name__", v))
def test_formats_hold_the_same_pipe(
    pipe: Mesh, tmp_path: Path, name: str, write: Callable[[Mesh, Path], None]
) -> None:
    write(pipe, tmp_path / name)
    scan = open_scan(tmp_path / name, "mm")
    assert scan.report.watertight
    assert scan.findings == ()
    found = plane_section(scan, np.array([0.03, 0.0, 0.0]), np.array([1.0, 0.0, 0.0]))
    assert found.area * 1e6 == pytest.approx(EXACT, rel=1e-6)  # corners to single precision


def test_3mf_parts_are_placed(pipe: Mesh, tmp_path: Path) -> None:
    threemf(pipe, tmp_path / "a.3mf")
    mesh = read_mesh(tmp_path / "a.3mf", "mm")
    # moved 5 mm along x, then turned so that x becomes y
    assert mesh.vertices[:, 1].min() == pytest.approx(5e-3, abs=1e-9)
    assert mesh.vertices[:, 1].max() == pytest.approx(85e-3, abs=1e-9)


def test_a_3mf_knows_its_unit(pipe: Mesh, tmp_path: Path) -> None:
    threemf(pipe, tmp_path / "a.3mf", "inch")
    with pytest.raises(ImportFileError, match="unit is inch"):
        read_mesh(tmp_path / "a.3mf", "mm")


@pytest.mark.parametrize(("unit", "offered"), [("in", "mm"), ("m", "mm")])
def test_a_wrong_unit_is_questioned_and_never_changed(
    pipe: Mesh, tmp_path: Path, unit: str, offered: str
) -> None:
    stl_binary(pipe, tmp_path / "a.stl")
    scan = open_scan(tmp_path / "a.stl", unit)
    asked = [f for f in scan.findings if f.code == "scan-size"]
    assert len(asked) == 1
    assert f"80 mm as {offered}" in asked[0].hint
    assert float(scan.mesh.size.max()) > 1.0


def test_millimetres_read_from_an_inch_file_are_questioned(pipe: Mesh, tmp_path: Path) -> None:
    stl_binary(Mesh(pipe.vertices / 25.4, pipe.faces), tmp_path / "a.stl")
    asked = [f for f in open_scan(tmp_path / "a.stl", "mm").findings if f.code == "scan-size"]
    assert "80 mm as in" in asked[0].hint


def test_the_unit_must_be_named(tmp_path: Path, pipe: Mesh) -> None:
    stl_binary(pipe, tmp_path / "a.stl")
    with pytest.raises(UnitError):
        read_mesh(tmp_path / "a.stl", "")
    done = CliRunner().invoke(
        app, ["section", str(tmp_path / "a.stl"), "--plane", "0,0,0", "1,0,0"]
    )
    assert done.exit_code == ExitCode.USAGE


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.stl", b""),
        ("empty.obj", b""),
        ("points.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n"),
        ("short.stl", b"x" * 80 + struct.pack("<I", 1000) + b"y" * 60),
        ("words.obj", b"v one two three\nf 1 2 3\n"),
        ("far.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n"),
        ("nan.obj", b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"),
        ("head.ply", b"ply\nformat ascii 1.0\n"),
        ("early.ply", (b"ply\nformat binary_little_endian 1.0\nelement vertex 9\nproperty float x\n"
                      b"property float y\nproperty float z\nelement face 1\n"
                      b"property list uchar int vertex_indices\nend_header\n123")),
        ("no.3mf", b"PK nothing"),
        ("scan.txt", b"1 2 3"),
    ],
)  # fmt: skip
def test_files_that_are_no_mesh_are_refused(tmp_path: Path, name: str, content: bytes) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(ImportFileError):
        read_mesh(tmp_path / name, "mm")


def test_a_3mf_with_a_document_type_is_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.3mf", "w") as packed:
        packed.writestr("3D/a.model", '<!DOCTYPE m [<!ENTITY a "b">]><model>&a;</model>')
    with pytest.raises(ImportFileError, match="document type"):
        read_mesh(tmp_path / "a.3mf", "mm")


def test_too_many_triangles_are_refused(
    pipe: Mesh, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stl_binary(pipe, tmp_path / "a.stl")
    monkeypatch.setattr(meshes, "MOST_TRIANGLES", 100)
    with pytest.raises(ImportFileError, match="more than 100 triangles"):
        read_mesh(tmp_path / "a.stl", "mm")


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(ImportFileError, match="cannot be read"):
        read_mesh(tmp_path / "none.stl", "mm")


def test_points_and_directions_as_typed() -> None:
    assert read_point("1, 2;-3e1", "in", "plane") == pytest.approx([0.0254, 0.0508, -0.762])
    for text in ("1,2", "1,2,x", "1,2,inf", ""):
        with pytest.raises(InputError):
            read_point(text, "mm", "plane")
    with pytest.raises(InputError, match="direction"):
        read_direction("0,0,0", "plane")


def test_section_command(pipe: Mesh, tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    stl_binary(pipe, path)
    call = ["section", str(path), "--units", "mm", "--plane", "30,0,0", "1,0,0"]
    found = json.loads(CliRunner().invoke(app, [*call, "--json"]).stdout)
    assert found["area_mm2"] == pytest.approx(EXACT, rel=1e-6)
    # 64 sides of the polygon with the circle's area
    side = np.sqrt(2.0 * EXACT / (64 * np.sin(2 * np.pi / 64))) * 2.0 * np.sin(np.pi / 64)
    assert found["perimeter_mm"] == pytest.approx(64 * side, rel=1e-5)
    assert len(found["outlines"]) == 1
    assert "962.11 mm²" in CliRunner().invoke(app, call).stdout
    missed = CliRunner().invoke(app, [*call[:5], "300,0,0", "1,0,0"])
    assert isinstance(missed.exception, GeometryError)
    assert exit_code(missed.exception) is ExitCode.CALCULATION


def test_a_scan_becomes_the_sections_of_a_port(pipe: Mesh, tmp_path: Path, demo_path: Path) -> None:
    path = tmp_path / "a.stl"
    stl_binary(pipe, path)
    call = ["scan", str(path), "--units", "mm", "--inlet", "0,0,0", "1,0,0", "--outlet", "80,0,0",
            "1,0,0", "--stations", "30", "--store", DEMO_JOB, "I2", "S3", "--landmark",
            "pinch=40 mm", "--shop", str(demo_path), "--json"]  # fmt: skip
    found = json.loads(CliRunner().invoke(app, call).stdout)
    assert found["stored"] == 30
    assert found["profile"]["volume_cc"] == pytest.approx(EXACT * 80 / 1e3, rel=1e-3)
    with Archive.open(demo_path) as shop:
        profile = port_profile(shop.job(DEMO_JOB), "I2", "S3")
    assert len(profile.along) == 30
    pinch = next(s for s in profile.stations if s.landmark == "pinch")
    assert pinch.distance == pytest.approx(0.040, abs=1.4e-3)  # half a station
    assert pinch.area * 1e6 == pytest.approx(EXACT, rel=1e-3)
    again = CliRunner().invoke(app, call)
    assert isinstance(again.exception, InputError)


def test_a_rough_scan_says_its_perimeter_without_the_roughness(tmp_path: Path) -> None:
    points, tangents = bent_line(50.0, 1.2, 20.0, 120)
    smooth = tube(points, tangents, circle(17.5, 160), np.ones(120))
    dice = np.random.default_rng(4)
    rough = Mesh(smooth.vertices + 0.15 * dice.standard_normal(smooth.vertices.shape), smooth.faces)
    stl_binary(rough, tmp_path / "rough.stl")
    found = plane_section(
        open_scan(tmp_path / "rough.stl", "mm"),
        read_point("10,0,0", "mm", "plane"),
        read_direction("1,0,0", "plane"),
    )
    assert found.perimeter > 1.02 * found.smooth_perimeter
    # promised for noisy scans: 1 %
    assert found.smooth_perimeter == pytest.approx(2.0 * np.pi * 17.5e-3, rel=0.01)
    assert found.area == pytest.approx(np.pi * 17.5e-3**2, rel=0.01)
    assert found.hydraulic_diameter == pytest.approx(35e-3, rel=0.01)
    assert [f.code for f in found.findings] == ["section-rough"]
