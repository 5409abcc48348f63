"""Section shapes a porter measures: which sizes each needs, its outline, its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from portwright.core.constants import Array
from portwright.core.cornered_sections import DShape, RoundedRectangle
from portwright.core.sections import Circle, Ellipse, Oval, Section
from portwright.errors import RangeError, ShapeError

_STEP = 1e-6  # relative step of the sensitivity: round-off and curvature both far below 1e-6
_CORNER_POINTS = 24  # of a quarter circle: the polygon's area is short by 0.07 % of the corner


class Shape(StrEnum):
    """Shape of a section, chosen by the person who measures it and stored with it."""

    CIRCLE = "circle"
    OVAL = "oval"
    ELLIPSE = "ellipse"
    RECTANGLE = "rounded rectangle"
    FOUR_RADII = "rounded rectangle, four radii"
    D = "D shape"


@dataclass(frozen=True, slots=True)
class _Kind:
    """Sizes a shape needs and how it is made of them."""

    sizes: tuple[str, ...]
    make: Callable[..., Section]


_KINDS = {
    Shape.CIRCLE: _Kind(("diameter",), Circle),
    Shape.OVAL: _Kind(("width", "height"), Oval),
    Shape.ELLIPSE: _Kind(("width", "height"), Ellipse),
    Shape.RECTANGLE: _Kind(
        ("width", "height", "corner radius"), RoundedRectangle.with_equal_corners
    ),
    Shape.FOUR_RADII: _Kind(
        (
            "width",
            "height",
            "top left radius",
            "top right radius",
            "bottom right radius",
            "bottom left radius",
        ),
        RoundedRectangle,
    ),
    Shape.D: _Kind(("width", "height", "roof height", "corner radius"), DShape),
}


def sizes_of(shape: Shape) -> tuple[str, ...]:
    """Names of the sizes a shape needs, in the order to measure them."""
    return _KINDS[shape].sizes


def section_of(shape: Shape, sizes: Mapping[str, float]) -> Section:
    """Make a section of its sizes.

    Parameters
    ----------
    shape : Shape
    sizes : mapping of str to float
        One value for each of :func:`sizes_of`. [m]

    Raises
    ------
    ShapeError
        A size is missing.
    RangeError
        Sizes that do not fit together.
    """
    kind = _KINDS[shape]
    missing = [name for name in kind.sizes if name not in sizes]
    if missing:
        raise ShapeError(f"The {shape.value} still needs its {' and '.join(missing)}.")
    return kind.make(*(sizes[name] for name in kind.sizes))


def area_uncertainty(
    shape: Shape, sizes: Mapping[str, float], size_error: float, radius_error: float
) -> float:
    """Standard uncertainty of an area from the errors of caliper and radius gauge.

    Parameters
    ----------
    shape : Shape
    sizes : mapping of str to float
        As in :func:`section_of`. [m]
    size_error : float
        Standard uncertainty of every width, height and diameter, independent. [m]
    radius_error : float
        Standard uncertainty of every radius, independent. [m]

    Returns
    -------
    float
        Standard uncertainty of the area. [m2]

    Notes
    -----
    First order, ``u^2 = sum (dA/dx u_x)^2`` (JCGM 100:2008, equation 10).  The slopes are taken
    over a millionth of each size, one-sided where the shape allows no other: a corner of half the
    width cannot grow.
    """
    here = float(section_of(shape, sizes).area)
    total = 0.0
    for name in sizes_of(shape):
        error = radius_error if name.endswith("radius") else size_error
        total += (_slope(shape, sizes, name, here) * error) ** 2
    return math.sqrt(total)


def _slope(shape: Shape, sizes: Mapping[str, float], name: str, here: float) -> float:
    step = _STEP * max(sizes[name], 1e-3)
    ends: list[tuple[float, float]] = []
    for way in (step, -step):
        try:
            moved = section_of(shape, {**sizes, name: sizes[name] + way})
        except RangeError:
            ends.append((0.0, here))
        else:
            ends.append((way, float(moved.area)))
    (up, high), (down, low) = ends
    if up == down:  # hemmed in on both sides: the other sizes carry the error
        return 0.0
    return (high - low) / (up - down)


def outline_of(shape: Shape, sizes: Mapping[str, float]) -> Array:
    """Outline of a section as a polygon, to draw it and to share it among places.

    Parameters
    ----------
    shape : Shape
    sizes : mapping of str to float
        As in :func:`section_of`. [m]

    Returns
    -------
    ndarray, shape (n, 2)
        Points across and up from the lower left corner of the box, counter-clockwise. [m]

    Raises
    ------
    ShapeError, RangeError
        As :func:`section_of`.
    """
    section_of(shape, sizes)
    if shape is Shape.CIRCLE:
        return _ring(sizes["diameter"], sizes["diameter"])
    width, height = sizes["width"], sizes["height"]
    match shape:
        case Shape.ELLIPSE:
            return _ring(width, height)
        case Shape.OVAL:
            radius = 0.5 * min(width, height)
            return _rounded(width, height, (radius,) * 4)
        case Shape.RECTANGLE:
            return _rounded(width, height, (sizes["corner radius"],) * 4)
        case Shape.FOUR_RADII:
            names = ("bottom left", "bottom right", "top right", "top left")
            return _rounded(width, height, tuple(sizes[f"{n} radius"] for n in names))
        case Shape.D:
            return _lying_d(width, height, sizes["roof height"], sizes["corner radius"])


def _ring(width: float, height: float) -> Array:
    angle = np.linspace(0.0, 2.0 * np.pi, 4 * _CORNER_POINTS, endpoint=False)
    return 0.5 * np.column_stack([width * (1 + np.cos(angle)), height * (1 + np.sin(angle))])


def _corner(x: float, y: float, radius: float, start: float) -> Array:
    angle = start + np.linspace(0.0, 0.5 * np.pi, _CORNER_POINTS if radius > 0.0 else 1)
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


def _rounded(width: float, height: float, radii: tuple[float, ...]) -> Array:
    """Corners from the lower left, counter-clockwise."""
    bl, br, tr, tl = radii
    return np.vstack(
        [
            _corner(bl, bl, bl, np.pi),
            _corner(width - br, br, br, 1.5 * np.pi),
            _corner(width - tr, height - tr, tr, 0.0),
            _corner(tl, height - tl, tl, 0.5 * np.pi),
        ]
    )


def _lying_d(width: float, height: float, roof: float, corner: float) -> Array:
    radius = (0.25 * width**2 + roof**2) / (2.0 * roof)
    half = 2.0 * math.atan2(2.0 * roof, width)
    angle = np.linspace(0.5 * np.pi - half, 0.5 * np.pi + half, 2 * _CORNER_POINTS)
    middle = height - radius
    arc = np.column_stack([0.5 * width + radius * np.cos(angle), middle + radius * np.sin(angle)])
    return np.vstack(
        [
            _corner(corner, corner, corner, np.pi),
            _corner(width - corner, corner, corner, 1.5 * np.pi),
            arc,
        ]
    )
