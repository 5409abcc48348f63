"""An opening traced on a photograph, for tests: lopsided, so that a swapped side shows."""

from __future__ import annotations

from portwright.core.trace.camera import PictureErrors
from portwright.core.trace.curve import Join
from portwright.services.trace import Points, ScaleKind, Tracing
from portwright.units import Kind, typed

WIDE = 1000
# 0.2 mm a pixel: 40 mm wide and high, the lower right corner cut back by 8 mm
LOPSIDED: Points = ((400.0, 300.0), (600.0, 300.0), (560.0, 500.0), (400.0, 500.0))


def turned_over(points: Points) -> Points:
    return tuple((WIDE - x, y) for x, y in points)


def tracing(photo: int, outline: Points = LOPSIDED) -> Tracing:
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
    )
