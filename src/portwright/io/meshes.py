"""Scans and moulds as triangle meshes: STL, OBJ, PLY and 3MF.

Units are always asked: none of the first three formats says what its numbers mean, and a file is
never guessed to be in inches because it would be a strange size in millimetres.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from itertools import islice
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from portwright import units
from portwright.core.mesh.mesh import Mesh, welded
from portwright.errors import GeometryError, ImportFileError
from portwright.io.limits import check_archive
from portwright.units import Kind

MOST_TRIANGLES = 2_000_000
_FARTHEST = 1000.0  # of a corner from the origin [m]
_MOST_BYTES = 700 * 1024 * 1024  # two million triangles as STL text
SUFFIXES = (".stl", ".obj", ".ply", ".3mf")

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Corners = tuple[_Floats, _Ints]

_STL = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_PLY_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1", "short": "i2", "int16": "i2",
    "ushort": "u2", "uint16": "u2", "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4",
    "float": "f4", "float32": "f4", "double": "f8", "float64": "f8",
}  # fmt: skip
_3MF_UNITS = {"micron": 1e-6, "millimeter": 1e-3, "centimeter": 1e-2, "inch": 0.0254,
              "foot": 0.3048, "meter": 1.0}  # fmt: skip


def read_mesh(path: Path, unit: str, name: str = "") -> Mesh:
    """Read a mesh file, corners at one place joined.

    Parameters
    ----------
    path : Path
        STL (binary or text), OBJ, PLY (binary or text) or 3MF.
    unit : str
        Unit of the numbers in the file; a 3MF names its own, which must be the same.
    name : str
        What a person calls the file, if not as it is kept.

    Returns
    -------
    Mesh
        In metres.

    Raises
    ------
    ImportFileError
        Not readable as a mesh, too large, or a 3MF in another unit.
    UnitError
        No such unit of length.
    """
    scale = units.to_si(1.0, units.unit(unit, Kind.LENGTH).name, Kind.LENGTH)
    suffix, name = path.suffix.lower(), name or path.name
    if suffix not in SUFFIXES:
        raise ImportFileError(
            f"{name} is not a mesh file.", f"Save it as one of {', '.join(SUFFIXES)}."
        )
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise _too_large(name)
        data = path.read_bytes()
    except OSError as error:
        raise ImportFileError(f"{name} cannot be read: {error.strerror}.") from error
    try:
        with np.errstate(all="ignore"):  # what is no number is refused below, in words
            vertices, faces = _corners(data, suffix, name, scale)
    except ImportFileError:
        raise
    except (ValueError, IndexError, KeyError, UnicodeDecodeError, OverflowError) as error:
        raise ImportFileError(
            f"{name} cannot be read as {suffix[1:].upper()}: {error}.",
            "Export it again, binary if there is a choice.",
        ) from error
    if not len(faces):
        raise ImportFileError(f"{name} holds no triangles.", "Export the mesh, not points.")
    if len(faces) > MOST_TRIANGLES:
        raise _too_large(name)
    if not np.all(np.abs(vertices) * scale < _FARTHEST):  # neither for what is no number
        raise ImportFileError(
            f"{name} has corners that are no numbers or absurdly far away.", "Export it again."
        )
    try:
        return welded(vertices * scale, faces)
    except GeometryError as error:
        raise ImportFileError(f"{name}: {error.message}", error.hint) from error


def _corners(data: bytes, suffix: str, name: str, scale: float) -> _Corners:
    if suffix == ".3mf":
        return _read_3mf(data, name, scale)
    return {".stl": _read_stl, ".obj": _read_obj, ".ply": _read_ply}[suffix](data)


def _too_large(name: str) -> ImportFileError:
    return ImportFileError(
        f"{name} has more than {MOST_TRIANGLES:,} triangles.",
        "Reduce it in the scanner's program; half a million are plenty for a port.",
    )


def _soup(corners: _Floats) -> _Corners:
    """Triangles that share no corners."""
    flat = np.ascontiguousarray(corners, dtype=np.float64).reshape(-1, 3)
    return flat, np.arange(len(flat), dtype=np.int64).reshape(-1, 3)


def _read_stl(data: bytes) -> _Corners:
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    # the text form also begins with "solid", so does many a binary header: the length decides
    if count >= 0 and len(data) == 84 + count * _STL.itemsize:
        return _soup(np.frombuffer(data, _STL, count, 84)["corners"].astype(np.float64))
    if not data.lstrip()[:5].lower() == b"solid":
        raise ValueError("neither text nor a binary file of the length it states")
    numbers = re.findall(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)", data)
    if len(numbers) % 3:
        raise ValueError("a triangle without three corners")
    return _soup(np.array(numbers, dtype=np.float64).reshape(-1, 3, 3))


def _fan(polygons: list[list[int]]) -> _Ints:
    """Triangles of polygons, each split from its first corner."""
    out = [(p[0], p[i], p[i + 1]) for p in polygons for i in range(1, len(p) - 1)]
    return np.array(out, dtype=np.int64).reshape(-1, 3)


def _read_obj(data: bytes) -> _Corners:
    vertices: list[list[float]] = []
    polygons: list[list[int]] = []
    for line in data.decode("utf-8", errors="replace").splitlines():
        parts = line.split()
        if not parts:
            continue
        if parts[0] == "v":
            vertices.append([float(v) for v in parts[1:4]])
        elif parts[0] == "f":
            named = [int(p.split("/")[0]) for p in parts[1:]]
            # counted from one, or backwards from the newest corner
            polygons.append([n - 1 if n > 0 else len(vertices) + n for n in named])
    return np.array(vertices, dtype=np.float64).reshape(-1, 3), _fan(polygons)


def _read_ply(data: bytes) -> _Corners:
    end = data.find(b"end_header")
    if not data.startswith(b"ply") or end < 0:
        raise ValueError("no PLY heading")
    body = data.index(b"\n", end) + 1
    lines = [line.split() for line in data[:end].decode("ascii").splitlines()]
    form = next((line[1] for line in lines if line[:1] == ["format"]), "")
    if not form:
        raise ValueError("no PLY format")
    elements: list[tuple[str, int, list[list[str]]]] = []
    for line in lines:
        if line[:1] == ["element"]:
            elements.append((line[1], int(line[2]), []))
        elif line[:1] == ["property"]:
            elements[-1][2].append(line[1:])
    if form == "ascii":
        return _ply_text(data[body:].decode("ascii"), elements)
    return _ply_binary(data, body, "<" if "little" in form else ">", elements)


def _ply_text(text: str, elements: list[tuple[str, int, list[list[str]]]]) -> _Corners:
    lines = iter(text.splitlines())
    vertices, faces = np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    for name, count, properties in elements:
        rows = [line.split() for line in islice(lines, count)]
        if len(rows) < count:
            raise ValueError("the file ends early")
        if name == "vertex":
            at = [[p[-1] for p in properties].index(axis) for axis in "xyz"]
            vertices = np.array([[float(row[i]) for i in at] for row in rows]).reshape(-1, 3)
        elif name == "face":
            faces = _fan([[int(v) for v in row[1 : 1 + int(row[0])]] for row in rows])
    return vertices, faces


def _ply_binary(
    data: bytes, place: int, order: str, elements: list[tuple[str, int, list[list[str]]]]
) -> _Corners:
    vertices, faces = np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    for name, count, properties in elements:
        if any(p[0] == "list" for p in properties):
            if len(properties) == 1:
                polygons, place = _ply_lists(data, place, order, count, properties[0])
                faces = polygons if name == "face" else faces
                continue
            raise ValueError(f"{name} holds lists beside other values")
        row = np.dtype([(p[-1], order + _PLY_TYPES[p[0]]) for p in properties])
        if place + count * row.itemsize > len(data):
            raise ValueError("the file ends early")
        table = np.frombuffer(data, row, count, place)
        place += count * row.itemsize
        if name == "vertex":
            vertices = np.column_stack([table[axis].astype(np.float64) for axis in "xyz"])
    return vertices, faces


def _ply_lists(
    data: bytes, place: int, order: str, count: int, form: list[str]
) -> tuple[_Ints, int]:
    """Polygons of a binary list, and where the next element begins."""
    size, item = np.dtype(order + _PLY_TYPES[form[1]]), np.dtype(order + _PLY_TYPES[form[2]])
    if "f" in size.kind + item.kind:
        raise ValueError("corners that are not counted in whole numbers")
    row = np.dtype([("n", size), ("corners", item, 3)])
    if place + count * row.itemsize <= len(data):
        table = np.frombuffer(data, row, count, place)
        if np.all(table["n"] == 3):
            return table["corners"].astype(np.int64), place + count * row.itemsize
    polygons = []
    for _ in range(count):
        n = int(np.frombuffer(data, size, 1, place)[0])
        place += size.itemsize
        polygons.append(np.frombuffer(data, item, n, place).astype(np.int64).tolist())
        place += n * item.itemsize
    return _fan(polygons), place


def _read_3mf(data: bytes, name: str, scale: float) -> _Corners:
    """Build items of a 3MF in the unit asked for, which must be the file's own."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            inner = next(n for n in packed.namelist() if n.lower().endswith(".model"))
            check_archive(packed, name, _MOST_BYTES)
            text = packed.read(inner)
        if b"<!DOCTYPE" in text[:4096].upper():  # no entities: 3MF has none
            raise ValueError("a document type inside")
        root = ET.fromstring(text)  # noqa: S314  document types are refused above
    except (
        zipfile.BadZipFile,
        zlib.error,
        StopIteration,
        ET.ParseError,
        EOFError,
        OSError,
        RuntimeError,  # packed in a way that cannot be read here, or with a password
    ) as error:
        raise ValueError("no model inside") from error
    space = root.tag.split("}")[0] + "}" if "}" in root.tag else ""
    own = root.get("unit", "millimeter")
    if abs(_3MF_UNITS[own] / scale - 1.0) > 1e-9:
        raise ImportFileError(
            f"{name} says its unit is {own}.", "Name that unit; a 3MF knows its own."
        )
    objects = {o.get("id", ""): o for o in root.iter(f"{space}object")}
    parts: list[_Corners] = []
    for item in root.iter(f"{space}item"):
        _collect(objects, item.get("objectid", ""), _transform(item), space, parts, 0)
    if not parts:
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    offsets = np.cumsum([0, *(len(v) for v, _ in parts[:-1])])
    faces = [f + offset for (_, f), offset in zip(parts, offsets, strict=True)]
    return np.concatenate([v for v, _ in parts]), np.concatenate(faces)


def _transform(item: ET.Element) -> _Floats:
    """Four rows of three: the last is the shift."""
    text = item.get("transform", "1 0 0 0 1 0 0 0 1 0 0 0")
    return np.array([float(v) for v in text.split()]).reshape(4, 3)


def _collect(
    objects: dict[str, ET.Element],
    name: str,
    move: _Floats,
    space: str,
    parts: list[_Corners],
    depth: int,
) -> None:
    if depth > 20:
        raise ValueError("parts that contain each other")
    thing = objects[name]
    mesh = thing.find(f"{space}mesh")
    if mesh is not None:
        corners = [[float(v.get(k, "")) for k in "xyz"] for v in mesh.iter(f"{space}vertex")]
        triangles = [
            [int(t.get(k, "")) for k in ("v1", "v2", "v3")] for t in mesh.iter(f"{space}triangle")
        ]
        moved = np.array(corners).reshape(-1, 3) @ move[:3] + move[3]
        parts.append((moved, np.array(triangles, dtype=np.int64).reshape(-1, 3)))
    for part in thing.iter(f"{space}component"):
        own = _transform(part)
        both = np.vstack([own[:3] @ move[:3], own[3] @ move[:3] + move[3]])
        _collect(objects, part.get("objectid", ""), both, space, parts, depth + 1)
