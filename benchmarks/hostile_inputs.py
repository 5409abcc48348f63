"""Files made to harm: sound ones changed at random, and known tricks, for each kind."""

from __future__ import annotations

import io
import json
import random
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from openpyxl import Workbook
from PIL import Image

from benchmarks.fault_writer import begin
from portwright.archive.archive import Archive
from portwright.io.export import export_json

SHEET = (
    "job,port,stage,bench,repeat,date,lift_mm,flow_cfm_28,note\n"
    + "".join(f"J-1,I1,S0,B1,1,2026-02-10,{n},{20 * n}.5,as typed\n" for n in range(1, 13))
).encode()
_PIECES = (
    b"\x00", b"\xff\xfe", b"=1+1", b"=cmd|' /C calc'!A0", b"@SUM(A1)", b"<script>alert(1)</script>",
    b"1e999", b"-0", b"NaN", b"inf", b'"', b"\r", b";", b"\t" * 300, b"9" * 400, b"\xe2\x80\xae",
    b"../../etc/passwd", b"%s%n", b"${x}", b"{" * 2000, b"[" * 2000, b"\xed\xa0\x80", b"',", b"1/0",
    b"<!DOCTYPE x [<!ENTITY a 'b'>]>", b"\xf0\x9f\x94\xa9",
)  # fmt: skip
_BORDERS = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF)


def changed(content: bytes, dice: random.Random) -> bytes:
    """A sound file with a few things wrong."""
    data = bytearray(content)
    for _ in range(dice.choice((1, 1, 2, 5, 20))):
        at = dice.randrange(len(data) + 1)
        way = dice.randrange(7)
        if way == 0 and data:
            data[at % len(data)] ^= 1 << dice.randrange(8)
        elif way == 1:
            del data[at : at + dice.choice((1, 4, 100, 10_000))]
        elif way == 2:
            data[at:at] = dice.choice(_PIECES)
        elif way == 3:
            data[at:at] = data[dice.randrange(len(data) + 1) :][: dice.randrange(1, 400)]
        elif way == 4:
            data[at : at + 4] = struct.pack("<I", dice.choice(_BORDERS))
        elif way == 5:
            data[at : at + 8] = dice.randbytes(8)
        else:
            data = data[:at] if dice.random() < 0.3 else data
    return bytes(data)


def _packed(names: dict[str, bytes]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in names.items():
            archive.writestr(name, content)
    return file.getvalue()


def _members_changed(content: bytes, dice: random.Random) -> bytes:
    """A packed file whose insides are changed, or the packing itself."""
    if dice.random() < 0.3:
        return changed(content, dice)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        names = {name: archive.read(name) for name in archive.namelist()}
    chosen = dice.choice(list(names))
    names[chosen] = changed(names[chosen], dice)
    return _packed(names)


BOMB = 900_000_000  # size of a packed trap inside [bytes]


def _bomb(name: str, start: bytes = b"", size: int = BOMB) -> bytes:
    """A packed file far larger inside than out."""
    file = io.BytesIO()
    with (
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open(name, "w") as out,
    ):
        out.write(start)
        for _ in range(size // 10_000_000):
            out.write(bytes(10_000_000))
    return file.getvalue()


def _book() -> bytes:
    book = Workbook()
    sheet = book.active
    if sheet is None:
        raise RuntimeError("a new workbook has no sheet")
    for line in SHEET.decode().splitlines():
        sheet.append(line.split(","))
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _triangles() -> np.ndarray:
    angles = np.linspace(0.0, 2.0 * np.pi, 13)
    ring = np.column_stack([np.cos(angles), np.sin(angles)])
    low = np.column_stack([ring, np.zeros(13)])
    high = np.column_stack([ring, np.ones(13)])
    sides = [(low[i], low[i + 1], high[i]) for i in range(12)]
    sides += [(high[i], low[i + 1], high[i + 1]) for i in range(12)]
    return 10.0 * np.array(sides)


def _meshes() -> dict[str, bytes]:
    corners = _triangles()
    count = len(corners)
    row = np.zeros(count, [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    row["c"] = corners
    flat = corners.reshape(-1, 3)
    points = "".join("{:g} {:g} {:g}\n".format(*p) for p in flat)
    faces = [(3 * i, 3 * i + 1, 3 * i + 2) for i in range(count)]
    text = "solid a\n" + "".join(
        "facet normal 0 0 0\nouter loop\n"
        + "".join("vertex {:g} {:g} {:g}\n".format(*p) for p in t)
        + "endloop\nendfacet\n"
        for t in corners
    )
    head = (
        f"ply\nformat {{}} 1.0\nelement vertex {len(flat)}\nproperty float x\nproperty float y\n"
        f"property float z\nelement face {count}\nproperty list uchar int vertex_indices\n"
        "end_header\n"
    )
    binary = flat.astype("<f4").tobytes() + b"".join(struct.pack("<Biii", 3, *f) for f in faces)
    model = (
        '<model unit="millimeter"><resources><object id="1"><mesh><vertices>'
        + "".join('<vertex x="{:g}" y="{:g}" z="{:g}"/>'.format(*p) for p in flat)
        + "</vertices><triangles>"
        + "".join('<triangle v1="{}" v2="{}" v3="{}"/>'.format(*f) for f in faces)
        + '</triangles></mesh></object></resources><build><item objectid="1"/></build></model>'
    )
    return {
        "a.stl": bytes(80) + struct.pack("<I", count) + row.tobytes(),
        "text.stl": text.encode(),
        "a.obj": (
            "".join(f"v {line}\n" for line in points.splitlines())
            + "".join("f {} {} {}\n".format(*(n + 1 for n in f)) for f in faces)
        ).encode(),
        "text.ply": (
            head.format("ascii") + points + "".join("3 {} {} {}\n".format(*f) for f in faces)
        ).encode(),
        "a.ply": head.format("binary_little_endian").encode() + binary,
        "a.3mf": _packed({"3D/3dmodel.model": model.encode()}),
    }


def _pictures() -> dict[str, bytes]:
    pixels = np.arange(64 * 48 * 3, dtype=np.uint8).reshape(48, 64, 3)
    found = {}
    for ending, form in (("png", "PNG"), ("jpg", "JPEG")):
        file = io.BytesIO()
        Image.fromarray(pixels).save(file, form)
        found[f"a.{ending}"] = file.getvalue()
    return found


def giant_picture(width: int, height: int) -> bytes:
    """A small PNG that says it is enormous."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    lines = zlib.compress(bytes(20_000_000), 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", lines) + chunk(b"IEND", b"")
    )


def _shop() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.shop"
        begin(path)
        with Archive.open(path) as archive:
            archive.backup(Path(folder) / "copy.shop")
        return (Path(folder) / "copy.shop").read_bytes()


def _export() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.shop"
        begin(path)
        with Archive.open(path) as archive:
            return export_json(archive.contents()).encode()


def _deep(export: bytes, bomb: int) -> dict[str, bytes]:
    deep = b'{"format": "x", "version": 1, "contents": ' + b"[" * 200_000
    plain = json.loads(export)
    plain["contents"] = {"shop": {"name": ["<b>"]}, "jobs": [{"job": None}]}
    return {
        "deep.json": deep,
        "wrong.json": json.dumps(plain).encode(),
        "outside.zip": _packed({"../../../tmp/portwright.json": export, "/etc/x": b"x"}),
        "bomb.zip": _bomb("portwright.json", b"{", bomb),
    }


def sound(kind: str) -> dict[str, bytes]:
    """Name and content of the sound files of a kind that the others are made from."""
    if kind == "csv":
        return {"a.csv": SHEET}
    if kind == "xlsx":
        return {"a.xlsx": _book()}
    if kind == "mesh":
        return _meshes()
    if kind == "picture":
        return _pictures()
    return {"a.shop": _shop()} if kind == "shop file" else {"portwright.json": _export()}


def _tricks(kind: str, whole: dict[str, bytes], bomb: int) -> dict[str, bytes]:
    """Known tricks of a kind."""
    if kind == "csv":
        return {"long.csv": b"lift_mm," * 500_000, "quote.csv": b'"' * 3_000_000}
    if kind == "xlsx":
        return {"bomb.xlsx": _bomb("xl/worksheets/sheet1.xml", b"<worksheet>", bomb)}
    if kind == "mesh":
        return {
            "bomb.3mf": _bomb("3D/3dmodel.model", b"<model>", bomb),
            "many.stl": bytes(80) + struct.pack("<I", 0xFFFFFFFF) + bytes(1000),
            "many.ply": whole["a.ply"].replace(b"face 24", b"face 2000000000"),
        }
    if kind == "picture":
        return {
            "giant.png": giant_picture(60_000, 60_000),
            "large.png": giant_picture(8_000, 7_900),
            "thin.png": giant_picture(2_000_000_000, 1),
        }
    return {} if kind == "shop file" else _deep(whole["portwright.json"], bomb)


def inputs(
    kind: str, number: int, dice: random.Random, bomb: int = BOMB
) -> Iterator[tuple[str, bytes]]:
    """File name and content of so many hostile files of a kind, the known tricks first."""
    whole = sound(kind)
    tricks = _tricks(kind, whole, bomb)
    yield from tricks.items()
    names = list(whole)
    for index in range(number - len(tricks)):
        name = names[index % len(names)]
        packed = name.endswith((".3mf", ".xlsx"))
        yield name, (_members_changed if packed else changed)(whole[name], dice)


KINDS = ("csv", "xlsx", "mesh", "picture", "shop file", "json")
