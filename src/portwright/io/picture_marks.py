"""Arrows, rings and words drawn into a copy of a photo."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image, ImageDraw, ImageFont

from portwright.io.pictures import open_picture

ARROW, RING, WORDS = "arrow", "ring", "words"
_LINE, _HALO = (255, 200, 0), (20, 20, 20)
_QUALITY = 90


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark, placed by shares of the picture's width and height so that any size fits.

    Parameters
    ----------
    kind : str
        "arrow", "ring" or "words".
    x, y, x2, y2 : float
        Tail and head of an arrow, two corners around a ring, begin of the words. [-]
    words : str
    """

    kind: str
    x: float
    y: float
    x2: float
    y2: float
    words: str = ""

    def place(self) -> dict[str, float]:
        """The four numbers by name."""
        return {"x": self.x, "y": self.y, "x2": self.x2, "y2": self.y2}


def marked_jpeg(data: bytes, marks: Sequence[Mark], edge: int, name: str = "The picture") -> bytes:
    """A copy of a photo with marks drawn in and nothing in the file but its pixels.

    Parameters
    ----------
    edge : int
        Longest side. [px]

    Raises
    ------
    ImportFileError
        The photo cannot be opened.
    """
    picture = Image.fromarray(open_picture(data, name).pixels)
    picture.thumbnail((edge, edge))
    pen = ImageDraw.Draw(picture)
    thick = max(3, round(max(picture.size) / 220))
    for mark in marks:
        for colour, width in ((_HALO, thick + max(2, thick // 2)), (_LINE, thick)):
            _draw(pen, mark, picture.size, colour, width, thick)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def _draw(
    pen: ImageDraw.ImageDraw,
    mark: Mark,
    size: tuple[int, int],
    colour: tuple[int, int, int],
    width: int,
    thick: int,
) -> None:
    x, y, x2, y2 = mark.x * size[0], mark.y * size[1], mark.x2 * size[0], mark.y2 * size[1]
    if mark.kind == RING:
        box = (min(x, x2), min(y, y2), max(x, x2), max(y, y2))
        pen.ellipse(box, outline=colour, width=width)
    elif mark.kind == ARROW:
        pen.line((x, y, x2, y2), fill=colour, width=width)
        angle, head = math.atan2(y2 - y, x2 - x), 7.0 * thick
        for side in (-0.45, 0.45):
            end = x2 - head * math.cos(angle + side), y2 - head * math.sin(angle + side)
            pen.line((x2, y2, *end), fill=colour, width=width)
    else:
        font = ImageFont.load_default(8.0 * thick)
        edge = width if colour == _HALO else 0
        pen.text((x, y), mark.words, fill=colour, font=font, stroke_width=edge, stroke_fill=colour)
