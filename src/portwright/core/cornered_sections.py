"""Sections with corners: rounded rectangle, D shape, superellipse."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import gammaln

from portwright.core.constants import Array, Number, as_array
from portwright.core.sections import Section, middle_of_box, need_sizes
from portwright.core.tolerances import COINCIDENT
from portwright.errors import RangeError

_CORNER_LOSS = 1.0 - 0.25 * np.pi
"""Area a rounded corner takes away, in units of its radius squared. [-]"""
_CORNER_CENTROID = (5.0 / 6.0 - 0.25 * np.pi) / _CORNER_LOSS
"""Distance of that area's centroid from the sharp corner, in radii along each side. [-]"""
_SUPERELLIPSE_EXPONENTS = (2.0, 50.0)
_QUADRATURE_NODES = 80


@dataclass(frozen=True, slots=True, eq=False)
class RoundedRectangle(Section):
    """Rectangle with four rounded corners, each with its own radius.

    Parameters
    ----------
    width : float or ndarray
        Size across. [m]
    height : float or ndarray
        Size upwards. [m]
    top_left, top_right, bottom_right, bottom_left : float or ndarray
        Corner radii; 0 is a sharp corner. [m]
    """

    width: Number
    height: Number
    top_left: Number
    top_right: Number
    bottom_right: Number
    bottom_left: Number

    @classmethod
    def with_equal_corners(cls, width: Number, height: Number, radius: Number) -> RoundedRectangle:
        """Make one with four equal corners.

        Parameters
        ----------
        width : float or ndarray
            Size across. [m]
        height : float or ndarray
            Size upwards. [m]
        radius : float or ndarray
            Radius of every corner. [m]

        Returns
        -------
        RoundedRectangle
            The section.
        """
        return cls(width, height, radius, radius, radius, radius)

    def __post_init__(self) -> None:
        need_sizes(self.width, self.height)
        tl, tr, br, bl = self._radii
        if any(np.any(r < 0.0) for r in (tl, tr, br, bl)):
            raise RangeError("A corner radius cannot be below zero.")
        w, h = as_array(self.width), as_array(self.height)
        wide = np.maximum(tl + tr, bl + br) > w * (1.0 + COINCIDENT)
        tall = np.maximum(tl + bl, tr + br) > h * (1.0 + COINCIDENT)
        if np.any(wide) or np.any(tall):
            raise RangeError(
                "Two corner radii on one side are together longer than the side.",
                "Measure width, height and radii in the same unit.",
            )

    @property
    def _radii(self) -> tuple[Array, Array, Array, Array]:
        return (
            as_array(self.top_left),
            as_array(self.top_right),
            as_array(self.bottom_right),
            as_array(self.bottom_left),
        )

    @property
    def area(self) -> Array:
        """Area, ``w h - (1 - pi/4) (r1^2 + r2^2 + r3^2 + r4^2)``. [m2]"""
        lost = sum((r**2 for r in self._radii), start=as_array(0.0))
        return as_array(self.width) * as_array(self.height) - _CORNER_LOSS * lost

    @property
    def perimeter(self) -> Array:
        """Perimeter, ``2 (w + h) - (2 - pi/2) (r1 + r2 + r3 + r4)``. [m]"""
        radii = sum(self._radii, start=as_array(0.0))
        return 2.0 * (as_array(self.width) + as_array(self.height)) - (2.0 - 0.5 * np.pi) * radii

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Centroid: the full rectangle less what the corners take. [m]"""
        w, h = as_array(self.width), as_array(self.height)
        tl, tr, br, bl = self._radii
        lost = [_CORNER_LOSS * r**2 for r in (tl, tr, br, bl)]
        reach = [_CORNER_CENTROID * r for r in (tl, tr, br, bl)]
        across = (reach[0], w - reach[1], w - reach[2], reach[3])
        up = (h - reach[0], h - reach[1], reach[2], reach[3])
        full = w * h
        x = 0.5 * w * full - sum(a * d for a, d in zip(lost, across, strict=True))
        y = 0.5 * h * full - sum(a * d for a, d in zip(lost, up, strict=True))
        return x / self.area, y / self.area


@dataclass(frozen=True, slots=True, eq=False)
class DShape(Section):
    """D lying on its flat side: flat floor, straight sides, round roof.

    Parameters
    ----------
    width : float or ndarray
        Width of floor and roof. [m]
    height : float or ndarray
        Height over the middle of the floor. [m]
    roof_height : float or ndarray
        Height of the round roof over the straight sides, up to half the width, which is a half
        circle. [m]
    corner_radius : float or ndarray
        Radius of the two floor corners. [m]
    """

    width: Number
    height: Number
    roof_height: Number
    corner_radius: Number = 0.0

    def __post_init__(self) -> None:
        need_sizes(self.width, self.height, self.roof_height)
        w, s, r = as_array(self.width), as_array(self.roof_height), as_array(self.corner_radius)
        slack = COINCIDENT * w
        if np.any(s > 0.5 * w + slack) or np.any(s > as_array(self.height) + slack):
            raise RangeError("The round roof of a D is at most a half circle and fits its height.")
        if np.any(r < 0.0) or np.any(r > 0.5 * w + slack) or np.any(r > self._side + slack):
            raise RangeError("Floor corners of a D fit under its roof and beside each other.")

    @property
    def _side(self) -> Array:
        return as_array(self.height) - as_array(self.roof_height)

    @property
    def _roof(self) -> tuple[Array, Array]:
        """Radius and opening angle of the arc."""
        w, s = as_array(self.width), as_array(self.roof_height)
        radius = (0.25 * w**2 + s**2) / (2.0 * s)
        return radius, 4.0 * np.arctan2(2.0 * s, w)

    @property
    def _roof_area(self) -> Array:
        radius, angle = self._roof
        return 0.5 * radius**2 * (angle - np.sin(angle))

    @property
    def area(self) -> Array:
        """Area: rectangle, circle segment, less the floor corners. [m2]"""
        corners = 2.0 * _CORNER_LOSS * as_array(self.corner_radius) ** 2
        return as_array(self.width) * self._side + self._roof_area - corners

    @property
    def perimeter(self) -> Array:
        """Perimeter: floor, sides and arc. [m]"""
        radius, angle = self._roof
        corners = (4.0 - np.pi) * as_array(self.corner_radius)
        return as_array(self.width) + 2.0 * self._side + radius * angle - corners

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Centroid, up from the floor. [m]"""
        w, r, side = as_array(self.width), as_array(self.corner_radius), self._side
        radius, angle = self._roof
        # centroid of a circle segment from the circle's centre
        reach = 4.0 * radius * np.sin(0.5 * angle) ** 3 / (3.0 * (angle - np.sin(angle)))
        roof_up = as_array(self.height) - radius + reach
        moment = 0.5 * w * side**2 + self._roof_area * roof_up
        moment = moment - 2.0 * _CORNER_LOSS * _CORNER_CENTROID * r**3
        return 0.5 * w + 0.0 * self.area, moment / self.area


@dataclass(frozen=True, slots=True, eq=False)
class Superellipse(Section):
    """Shape between ellipse and rectangle: ``|2x/w|^n + |2y/h|^n = 1``.

    Parameters
    ----------
    width : float or ndarray
        Size across. [m]
    height : float or ndarray
        Size upwards. [m]
    exponent : float or ndarray
        n: 2 is the ellipse, 50 nearly the rectangle. [-]
    """

    width: Number
    height: Number
    exponent: Number

    def __post_init__(self) -> None:
        need_sizes(self.width, self.height)
        n = as_array(self.exponent)
        low, high = _SUPERELLIPSE_EXPONENTS
        if not np.all((n >= low) & (n <= high)):
            raise RangeError("Exponent of a superellipse must lie between 2 and 50.")

    @property
    def area(self) -> Array:
        """Area, ``w h Gamma(1 + 1/n)^2 / Gamma(1 + 2/n)``. [m2]"""
        n = as_array(self.exponent)
        share = np.exp(2.0 * gammaln(1.0 + 1.0 / n) - gammaln(1.0 + 2.0 / n))
        area: Array = as_array(self.width) * as_array(self.height) * share
        return area

    @property
    def perimeter(self) -> Array:
        """Perimeter by Gauss-Legendre quadrature of one quarter in two smooth halves. [m]"""
        w, h, n = np.broadcast_arrays(
            as_array(self.width), as_array(self.height), as_array(self.exponent)
        )
        return 2.0 * (_half_quarter(w, h, n) + _half_quarter(h, w, n))

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Middle of the section. [m]"""
        return middle_of_box(self.width, self.height)


@cache
def _quadrature() -> tuple[Array, Array]:
    """Gauss-Legendre nodes and weights; making them costs far more than using them."""
    node, weight = np.polynomial.legendre.leggauss(_QUADRATURE_NODES)
    return node, weight


def _half_quarter(width: Array, height: Array, exponent: Array) -> Array:
    """Twice the arc from the top to where both coordinates are the same share of their axis."""
    node, weight = _quadrature()
    n = exponent[..., np.newaxis]
    end = 0.5 ** (1.0 / n)
    u = 0.5 * end * (node + 1.0)
    slope = (height / width)[..., np.newaxis] * (u / (1.0 - u**n) ** (1.0 / n)) ** (n - 1.0)
    arc = np.sum(weight * np.sqrt(1.0 + slope**2), axis=-1) * 0.5 * end[..., 0]
    length: Array = width * arc
    return length
