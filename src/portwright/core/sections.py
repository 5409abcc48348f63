"""Cross-sections of a port: area, perimeter, hydraulic diameter and centroid of each shape.

Sizes may be floats or arrays of equal (or broadcastable) shape.  The centroid is measured from the
lower left corner of the box round the section.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe

from portwright.core.constants import Array, Number, as_array, unwrapped
from portwright.errors import RangeError


class Section(ABC):
    """A plane section of a port."""

    __slots__ = ()

    @property
    @abstractmethod
    def area(self) -> Array:
        """Area. [m2]"""

    @property
    @abstractmethod
    def perimeter(self) -> Array:
        """Length of the wetted edge. [m]"""

    @property
    @abstractmethod
    def centroid(self) -> tuple[Array, Array]:
        """Centroid, across and up. [m]"""

    @property
    def hydraulic_diameter(self) -> Array:
        """Four times area over perimeter: small where corners carry little. [m]"""
        return 4.0 * self.area / self.perimeter


@dataclass(frozen=True, slots=True, eq=False)
class Circle(Section):
    """Round section.

    Parameters
    ----------
    diameter : float or ndarray
        Diameter. [m]
    """

    diameter: Number

    def __post_init__(self) -> None:
        need_sizes(self.diameter)

    @property
    def area(self) -> Array:
        """Area, ``pi/4 D^2``. [m2]"""
        return 0.25 * np.pi * as_array(self.diameter) ** 2

    @property
    def perimeter(self) -> Array:
        """Perimeter, ``pi D``. [m]"""
        return np.pi * as_array(self.diameter)

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Centre of the circle. [m]"""
        return middle_of_box(self.diameter, self.diameter)


@dataclass(frozen=True, slots=True, eq=False)
class Annulus(Section):
    """Round section with a round hole: a throat with the stem in it.

    Parameters
    ----------
    outer_diameter : float or ndarray
        Outside diameter. [m]
    inner_diameter : float or ndarray
        Diameter of what stands in the middle. [m]
    """

    outer_diameter: Number
    inner_diameter: Number

    def __post_init__(self) -> None:
        need_sizes(self.outer_diameter, self.inner_diameter)
        if np.any(as_array(self.inner_diameter) >= as_array(self.outer_diameter)):
            raise RangeError("The inside of a ring must be smaller than its outside.")

    @property
    def area(self) -> Array:
        """Area, ``pi/4 (D^2 - d^2)``. [m2]"""
        return (
            0.25 * np.pi * (as_array(self.outer_diameter) ** 2 - as_array(self.inner_diameter) ** 2)
        )

    @property
    def perimeter(self) -> Array:
        """Perimeter of both circles. [m]"""
        return np.pi * (as_array(self.outer_diameter) + as_array(self.inner_diameter))

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Common centre. [m]"""
        return middle_of_box(self.outer_diameter, self.outer_diameter)


@dataclass(frozen=True, slots=True, eq=False)
class Oval(Section):
    """Oval with two straight sides and half circles at the ends.

    Parameters
    ----------
    width : float or ndarray
        Size across. [m]
    height : float or ndarray
        Size upwards; the smaller of the two is the diameter of the ends. [m]
    """

    width: Number
    height: Number

    def __post_init__(self) -> None:
        need_sizes(self.width, self.height)

    @property
    def _ends(self) -> tuple[Array, Array]:
        """Diameter of the ends and length of the straight sides."""
        w, h = as_array(self.width), as_array(self.height)
        return np.minimum(w, h), np.abs(w - h)

    @property
    def area(self) -> Array:
        """Area, circle plus rectangle. [m2]"""
        end, straight = self._ends
        return 0.25 * np.pi * end**2 + end * straight

    @property
    def perimeter(self) -> Array:
        """Perimeter. [m]"""
        end, straight = self._ends
        return np.pi * end + 2.0 * straight

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Middle of the oval. [m]"""
        return middle_of_box(self.width, self.height)


@dataclass(frozen=True, slots=True, eq=False)
class Ellipse(Section):
    """Ellipse.

    Parameters
    ----------
    width : float or ndarray
        Size across. [m]
    height : float or ndarray
        Size upwards. [m]
    """

    width: Number
    height: Number

    def __post_init__(self) -> None:
        need_sizes(self.width, self.height)

    @property
    def area(self) -> Array:
        """Area, ``pi/4 w h``. [m2]"""
        return 0.25 * np.pi * as_array(self.width) * as_array(self.height)

    @property
    def perimeter(self) -> Array:
        """Perimeter, ``2 w E(1 - h^2/w^2)``, E the complete elliptic integral, w >= h. [m]"""
        w, h = as_array(self.width), as_array(self.height)
        longer, shorter = np.maximum(w, h), np.minimum(w, h)
        length: Array = 2.0 * longer * ellipe(1.0 - (shorter / longer) ** 2)
        return length

    @property
    def centroid(self) -> tuple[Array, Array]:
        """Middle of the ellipse. [m]"""
        return middle_of_box(self.width, self.height)


def stem_blockage(guide_diameter: Number, exposed_length: Number) -> Array:
    """Estimate the area guide or stem take away in the plane of a section.

    Parameters
    ----------
    guide_diameter : float or ndarray
        Diameter of what stands in the plane. [m]
    exposed_length : float or ndarray
        Length of it in the plane. [m]

    Returns
    -------
    ndarray
        Area to take off the section. [m2]

    Raises
    ------
    RangeError
        A size below zero.

    Notes
    -----
    Definition of the shadow of a cylinder lying in the plane, ``d l``; an estimate where it stands
    oblique.
    """
    diameter, length = as_array(guide_diameter), as_array(exposed_length)
    if np.any(diameter < 0.0) or np.any(length < 0.0):
        raise RangeError("Guide diameter and exposed length cannot be below zero.")
    return diameter * length


def middle_of_box(width: Number, height: Number) -> tuple[Array, Array]:
    """Middle of the box round a section, from its lower left corner. [m]

    Parameters
    ----------
    width, height : float or ndarray
        Of the box. [m]
    """
    return 0.5 * as_array(width), 0.5 * as_array(height)


def need_sizes(*sizes: Number) -> None:
    """Refuse sizes of a section that are not numbers above zero.

    Parameters
    ----------
    *sizes : float or ndarray
        [m]

    Raises
    ------
    RangeError
        One of them is not.
    """
    for size in sizes:
        value = unwrapped(as_array(size))
        if not np.all(np.isfinite(value) & (value > 0.0)):
            raise RangeError("Sizes of a section must be numbers above zero.", "Measure it again.")
