"""Opening photographs: upright, bounded, and no foreign error gets out."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from portwright.errors import ImportFileError
from portwright.io.pictures import MAX_BYTES, open_picture, picture_size

WIDE = np.zeros((60, 100, 3), dtype=np.uint8)
WIDE[:30, :50] = (250, 10, 10)  # the upper left quarter is red


def encoded(kind: str, orientation: int = 1, pixels: NDArray[np.uint8] = WIDE) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, kind, exif=exif, quality=95)  # PNG has no quality
    return out.getvalue()


# Corner in which the red quarter stands once the picture is upright (EXIF 2.3, tag 0x0112).
CORNERS = {1: (0, 0), 2: (0, 1), 3: (1, 1), 4: (1, 0), 5: (0, 0), 6: (0, 1), 7: (1, 1), 8: (1, 0)}


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
@pytest.mark.parametrize("orientation", list(CORNERS))
def test_a_photograph_stands_upright(kind: str, orientation: int) -> None:
    data = encoded(kind, orientation)
    picture = open_picture(data)
    size = (100, 60) if orientation < 5 else (60, 100)
    assert picture.size == picture_size(data) == size
    down, across = CORNERS[orientation]
    height, width = picture.pixels.shape[:2]
    red = picture.pixels[height // 4 + down * height // 2, width // 4 + across * width // 2].astype(
        int
    )
    assert red[0] > 200
    assert red[1] < 60  # JPEG keeps colours to some grey steps
    other = picture.pixels[height // 4 + (1 - down) * height // 2, width // 4].astype(int)
    assert other[0] < 60 or across == 1


@pytest.mark.parametrize("mode", ["L", "LA", "RGBA", "P", "1", "I;16", "CMYK"])
def test_any_colour_mode_becomes_plain_colours(mode: str) -> None:
    out = io.BytesIO()
    made = Image.new(mode, (40, 30))
    made.save(out, "JPEG" if mode == "CMYK" else "PNG")
    pixels = open_picture(out.getvalue()).pixels
    assert pixels.shape == (30, 40, 3)
    assert pixels.dtype == np.uint8


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def bomb(width: int, height: int) -> bytes:
    """A small PNG file that claims to be huge."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 100_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("side", [8_100, 12_000, 60_000])
def test_a_picture_that_would_unpack_too_far_is_refused_before_unpacking(side: int) -> None:
    data = bomb(side, side)
    for read in (open_picture, picture_size):
        with pytest.raises(ImportFileError, match=r"million|any camera"):
            read(data, "huge.png")


def test_a_text_bomb_in_a_picture_is_refused() -> None:
    text = b"Comment\0\0" + zlib.compress(b"x" * 80_000_000, 9)
    data = encoded("PNG")
    end = data.index(b"IDAT") - 4
    with pytest.raises(ImportFileError, match="cannot be read"):
        open_picture(data[:end] + chunk(b"zTXt", text) + data[end:])


def damaged(kind: str) -> list[bytes]:
    whole = encoded(kind)
    rng = np.random.default_rng(8)
    found = [whole[:cut] for cut in (4, 20, len(whole) // 2)]
    for _ in range(40):
        mixed = bytearray(whole)
        for place in rng.integers(2, len(mixed), 12):
            mixed[place] = int(rng.integers(256))
        found.append(bytes(mixed))
    return found


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_damaged_file_opens_or_says_so(kind: str) -> None:
    refused = 0
    for data in damaged(kind):
        try:
            assert open_picture(data, "hurt").pixels.ndim == 3
        except ImportFileError as error:
            assert "hurt" in str(error)  # noqa: PT017 - most damage may be readable
            refused += 1
    assert refused >= 3, "the cut files at least"


@pytest.mark.parametrize("kind", ["GIF", "TIFF", "BMP", "WEBP"])
def test_other_kinds_of_pictures_are_refused(kind: str) -> None:
    out = io.BytesIO()
    Image.fromarray(WIDE).save(out, kind)
    with pytest.raises(ImportFileError, match="JPEG or PNG"):
        open_picture(out.getvalue())


def test_files_that_are_no_photograph_are_refused() -> None:
    for data in (b"", b"PK\x03\x04" + b"0" * 100, b"\xff\xd8\xff"):
        with pytest.raises(ImportFileError):
            open_picture(data)
    with pytest.raises(ImportFileError, match="MB"):
        open_picture(b"0" * (MAX_BYTES + 1))
    with pytest.raises(ImportFileError, match="only"):
        open_picture(encoded("PNG", pixels=WIDE[:8, :8]))
