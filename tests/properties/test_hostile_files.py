"""Files made to harm are read or refused in words, whatever they are."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchmarks.hostile import throw
from benchmarks.hostile_inputs import KINDS, _bomb, _export, _meshes, _packed
from portwright.errors import ImportFileError
from portwright.io.export import read_export
from portwright.io.meshes import read_mesh
from portwright.services.guarded import Reader


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    made = Reader(seconds=900.0)  # a machine under load may take its time
    yield made
    made.close()


@pytest.mark.parametrize("kind", KINDS)
def test_no_hostile_file_gets_past_the_words(kind: str, tmp_path: Path, reader: Reader) -> None:
    outcome = throw(kind, 45, tmp_path, reader, bomb=60_000_000)
    assert outcome.crashes == []
    assert outcome.stopped == 0
    assert outcome.refused > 10
    assert outcome.read + outcome.refused == 45


def test_a_packed_trap_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    for name, inner in (("a.zip", "portwright.json"), ("a.3mf", "3D/3dmodel.model")):
        trap = tmp_path / name
        trap.write_bytes(_bomb(inner, size=60_000_000))
        with pytest.raises(ImportFileError, match="as only a trap does"):
            _ = read_export(trap) if name == "a.zip" else read_mesh(trap, "mm")


def test_names_that_lead_outside_a_packed_export_write_nothing_there(tmp_path: Path) -> None:
    packed = tmp_path / "inside" / "export.zip"
    packed.parent.mkdir()
    packed.write_bytes(_packed({"../../portwright.json": _export()}))
    assert zipfile.is_zipfile(packed)
    assert read_export(packed).jobs
    assert [p.name for p in tmp_path.rglob("*") if p.is_file()] == ["export.zip"]


@pytest.mark.parametrize("bad", [b"nan", b"1e300", b"-inf"])
def test_corners_that_are_no_numbers_are_refused(tmp_path: Path, bad: bytes) -> None:
    mesh = tmp_path / "a.obj"
    mesh.write_bytes(_meshes()["a.obj"].replace(b"v 10 0 0", b"v " + bad + b" 0 0", 1))
    with pytest.raises(ImportFileError, match="no numbers or absurdly far"):
        read_mesh(mesh, "mm")


def test_a_text_mesh_that_ends_early_is_refused(tmp_path: Path) -> None:
    mesh = tmp_path / "a.ply"
    mesh.write_bytes(_meshes()["text.ply"][:-40])
    with pytest.raises(ImportFileError, match="ends early"):
        read_mesh(mesh, "mm")
    broken = _meshes()["a.ply"].replace(b"format binary_little_endian 1.0\n", b"")
    mesh.write_bytes(broken)
    with pytest.raises(ImportFileError, match="no PLY format"):
        read_mesh(mesh, "mm")
