"""A tracing from marks and points written down as numbers, as the command line takes it."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

from portwright.archive.attachments import Attachment
from portwright.errors import InputError
from portwright.model.quantity import AsTyped
from portwright.services import trace
from portwright.services.shop_file import ShopFile
from portwright.services.trace import Join, PictureErrors, Points, ScaleKind, Tracing

_TYPED = 1.0  # a place written down is as good as one touched without enlarging


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be traced on a photo.

    Parameters
    ----------
    scale : ScaleKind
    marks : tuple of tuple of float
        [px]
    sizes : tuple of AsTyped
        [m]
    size_limit : AsTyped
        Most by which a size may be off. [m]
    lines : bool
        Whether lines or edges are looked for between four corners.
    inside : tuple of float or None
        Point round which an outline is suggested. [px]
    outline : tuple of tuple of float
        Traced points, in place of a suggestion. [px]
    join : Join
    holes : tuple of tuple of float
        [px]
    """

    scale: ScaleKind
    marks: Points
    sizes: tuple[AsTyped, ...]
    size_limit: AsTyped
    lines: bool = False
    inside: tuple[float, float] | None = None
    outline: Points = ()
    join: Join = Join.SMOOTH
    holes: Points = ()


def read_points(texts: Sequence[str]) -> Points:
    """Read places on a picture: "212.5,148" each, several of them with spaces between.

    Raises
    ------
    InputError
    """
    return tuple(_point(word) for text in texts for word in text.split())


def read_outline(data: bytes, name: str) -> Points:
    """Read an outline from a file of lines "X,Y" in pixels; a first line of words is passed over.

    Raises
    ------
    InputError
        A line without two numbers.
    """
    rows = [row for row in csv.reader(io.StringIO(data.decode("utf-8-sig", "replace"))) if row]
    if rows and not any(_number(cell) is not None for cell in rows[0]):
        rows = rows[1:]
    found = []
    for place, row in enumerate(rows, 1):
        numbers = [_number(cell) for cell in row[:2]]
        if len(numbers) != 2 or numbers[0] is None or numbers[1] is None:
            raise InputError(
                f"{name} has no place on the picture in point {place}: {','.join(row)[:40]}",
                "Write x and y in pixels, with a comma between and points for decimals.",
            )
        found.append((numbers[0], numbers[1]))
    return tuple(found)


def trace_asked(shop: ShopFile, kept: Attachment, asked: Asked) -> Tracing:
    """Put what was asked on a photo: find lines and outline where that is wanted.

    Raises
    ------
    ImportFileError
        The photo cannot be read.
    GeometryError
        No lines or no outline are found.
    InputError
        Neither an outline nor a point inside one.
    """
    width, height = trace.size_of(shop, kept)
    scale, marks = asked.scale, asked.marks
    mark_zoom: list[float | None] = [_TYPED] * len(marks)
    if asked.lines:
        marks = trace.find_lines(shop, kept, marks)
        scale, mark_zoom = ScaleKind.FRAME_WITH_MIDDLES, [None] * len(marks)
    outline = asked.outline
    framed = scale in {ScaleKind.FRAME, ScaleKind.FRAME_WITH_MIDDLES}
    zooms: list[float | None] = [_TYPED] * len(outline)
    if not outline:
        if asked.inside is None:
            raise InputError(
                "Nothing says which outline is meant.",
                "Give a place inside it, or the points round it.",
            )
        outline = trace.suggest(shop, kept, asked.inside, marks if framed else ())
        zooms = [None] * len(outline)
    return Tracing(
        kept.id,
        width,
        height,
        scale,
        marks,
        asked.sizes,
        asked.size_limit,
        outline,
        asked.join,
        trace.hand_errors(zooms, mark_zoom, PictureErrors()),
        asked.holes,
        trace.placing_error([_TYPED] * len(asked.holes)),
    )


def _point(text: str) -> tuple[float, float]:
    parts = [_number(part) for part in text.split(",")]
    if len(parts) != 2 or parts[0] is None or parts[1] is None:
        raise InputError(
            f"'{text}' is no place on a picture.",
            "Write pixels from the left and from the top like 212.5,148.",
        )
    return parts[0], parts[1]


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
