"""An opening traced on a photograph, for tests: lopsided, so that a swapped side shows."""

from __future__ import annotations

import math

from portwright.core.trace.camera import PictureErrors
from portwright.core.trace.curve import Join
from portwright.services.trace import Points, ScaleKind, Tracing
from portwright.units import Kind, typed

WIDE = 1000
# 0.2 mm a pixel: 40 mm wide and high, the lower right corner cut back by 8 mm
HOLES: Points = ((320.0, 380.0), (700.0, 420.0))  # of dowels, 76.4 mm apart
LOPSIDED: Points = ((400.0, 300.0), (600.0, 300.0), (560.0, 500.0), (400.0, 500.0))


def turned_over(points: Points) -> Points:
    return tuple((WIDE - x, y) for x, y in points)


def askew(points: Points, degrees: float) -> Points:
    """As a camera held askew shows it: turned clockwise on the picture, and shifted."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return tuple((c * x - s * y + 60.0, s * x + c * y - 40.0) for x, y in points)


def tracing(photo: int, outline: Points = LOPSIDED, holes: Points = ()) -> Tracing:
    return Tracing(
        photo=photo,
        width=WIDE,
        height=750,
        scale=ScaleKind.BAR,
        marks=((100.0, 700.0), (600.0, 700.0)),
        sizes=(typed(100.0, "mm", Kind.LENGTH),),
        size_limit=typed(0.1, "mm", Kind.LENGTH),
        outline=outline,
        join=Join.STRAIGHT,
        errors=PictureErrors(),
        holes=holes,
    )
