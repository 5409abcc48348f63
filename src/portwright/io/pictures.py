"""Opening a photograph: upright, in plain colours, and never larger than a camera makes it."""

from __future__ import annotations

import io
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from portwright.errors import ImportFileError

MAX_BYTES = 60_000_000
MAX_PIXELS = 64_000_000  # the largest pictures of phones in use; 192 MB once opened
FORMATS = ("JPEG", "PNG")
_QUALITY = 88  # of JPEG: no difference is seen on paper
_SMALLEST = 16  # px; anything less is no photograph


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A photograph as a person sees it.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3)
        sRGB, turned upright. [-]
    """

    pixels: NDArray[np.uint8]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height. [px]"""
        return self.pixels.shape[1], self.pixels.shape[0]


def open_picture(data: bytes, name: str = "The picture") -> Picture:
    """Open a JPEG or PNG photograph.

    Parameters
    ----------
    data : bytes
        Content of the file.
    name : str
        How to call it in an error.

    Returns
    -------
    Picture
        Turned as its EXIF orientation says, without transparency.

    Raises
    ------
    ImportFileError
        Neither JPEG nor PNG, damaged, or larger than a camera makes it.
    """
    with _opened(data, name) as picture, _translated(name):
        upright = ImageOps.exif_transpose(picture)
        return Picture(np.asarray(upright.convert("RGB"), dtype=np.uint8))


def plain_jpeg(data: bytes, edge: int, name: str = "The picture") -> bytes:
    """A photograph upright and no larger than asked, with nothing its camera wrote into it.

    Only the pixels are kept: place, time, camera, thumbnails and remarks stay behind.

    Parameters
    ----------
    edge : int
        Longest side. [px]

    Raises
    ------
    ImportFileError
        As :func:`open_picture`.
    """
    return _packed(open_picture(data, name).pixels, edge, "JPEG")


def plain_png(data: bytes, edge: int, name: str = "The picture") -> bytes:
    """As :func:`plain_jpeg`, keeping what is see-through."""
    with _opened(data, name) as picture, _translated(name):
        upright = ImageOps.exif_transpose(picture).convert("RGBA")
        return _packed(np.asarray(upright, dtype=np.uint8), edge, "PNG")


def _packed(pixels: NDArray[np.uint8], edge: int, kind: str) -> bytes:
    picture = Image.fromarray(pixels)
    picture.thumbnail((edge, edge))
    out = io.BytesIO()
    picture.save(out, kind, quality=_QUALITY, optimize=True)
    return out.getvalue()


def picture_size(data: bytes, name: str = "The picture") -> tuple[int, int]:
    """Width and height of a photograph turned upright, read from its head only. [px]

    Raises
    ------
    ImportFileError
        As :func:`open_picture`, except that damage further on is not seen.
    """
    with _opened(data, name) as picture, _translated(name):
        width, height = picture.size
        turned = picture.getexif().get(_ORIENTATION, 1) in _ON_ITS_SIDE
    return (height, width) if turned else (width, height)


_ORIENTATION = 0x0112  # EXIF tag
_ON_ITS_SIDE = {5, 6, 7, 8}  # of its eight values


def _opened(data: bytes, name: str) -> Image.Image:
    if len(data) > MAX_BYTES:
        raise ImportFileError(
            f"{name} has {len(data) / 1e6:.0f} MB, more than {MAX_BYTES / 1e6:.0f} MB.",
            "Store a smaller copy.",
        )
    with _translated(name):  # only the head is read here; sizes are judged before unpacking
        picture = Image.open(io.BytesIO(data), formats=FORMATS)
    width, height = picture.size
    if width * height > MAX_PIXELS:
        raise ImportFileError(
            f"{name} has {width} x {height} pixels, more than {MAX_PIXELS / 1e6:.0f} million.",
            "Store a smaller copy.",
        )
    if min(width, height) < _SMALLEST:
        raise ImportFileError(
            f"{name} has only {width} x {height} pixels.", "Is this the right file?"
        )
    return picture


@contextmanager
def _translated(name: str) -> Iterator[None]:
    """Turn whatever the picture library raises about a file into our own error."""
    try:
        with warnings.catch_warnings():  # a damaged tag is no reason to trouble anybody
            warnings.simplefilter("ignore")
            yield
    except Image.DecompressionBombError as error:
        raise ImportFileError(
            f"{name} would unpack to far more than any camera makes.", "Do not open this file."
        ) from error
    except (OSError, ValueError, SyntaxError, LookupError, TypeError, struct.error) as error:
        raise ImportFileError(
            f"{name} cannot be read as a JPEG or PNG picture.", "Choose another copy."
        ) from error
