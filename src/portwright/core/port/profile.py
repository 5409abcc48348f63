"""Area along a port: smallest section, volume and taper, each with what it is uncertain by."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from portwright.core.constants import Array
from portwright.errors import RangeError, ShapeError

_TWO_SIGMA = 2.0  # a difference within twice its standard uncertainty is not told apart


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its standard uncertainty, both in the same SI unit."""

    value: float
    uncertainty: float


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Sections along the centreline of a port.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        Along the centreline from the port opening, increasing. [m]
    area : ndarray, shape (n,)
        Section area, what stands in it taken off. [m2]
    uncertainty : ndarray, shape (n,)
        Standard uncertainty of each area, independent from section to section. [m2]

    Raises
    ------
    ShapeError
        Columns of different length, or fewer than two sections.
    RangeError
        Distance not increasing, area not above zero.
    """

    distance: Array
    area: Array
    uncertainty: Array

    def __post_init__(self) -> None:
        n = self.distance.size
        if {a.shape for a in (self.distance, self.area, self.uncertainty)} != {(n,)} or n < 2:
            raise ShapeError("A profile needs at least two sections, each with distance and area.")
        if not np.all(np.diff(self.distance) > 0.0):
            raise RangeError("Distances along the port must increase.", "Is one section twice in?")
        if not (np.all(np.isfinite(self.area)) and np.all(self.area > 0.0)):
            raise RangeError("Section areas must be numbers above zero.")


@dataclass(frozen=True, slots=True)
class Smallest:
    """Smallest of some sections.

    Parameters
    ----------
    index : int
        Its place among the sections. [-]
    rivals : tuple of int
        Other narrow places that cannot be told from it. [-]
    """

    index: int
    rivals: tuple[int, ...]


def narrow_places(area: Array) -> tuple[int, ...]:
    """Sections smaller than both neighbours; an end counts where its one neighbour is larger.

    Parameters
    ----------
    area : ndarray, shape (n,)
        Areas in order along the port. [m2]
    """
    padded = np.concatenate(([np.inf], area, [np.inf]))
    lower = (padded[1:-1] < padded[:-2]) & (padded[1:-1] <= padded[2:])
    return tuple(int(i) for i in np.flatnonzero(lower))


def smallest_section(area: Array, uncertainty: Array) -> Smallest:
    """Find the smallest section and the narrow places that cannot be told from it.

    Parameters
    ----------
    area, uncertainty : ndarray, shape (n,)
        Areas in order along the port and their standard uncertainties. [m2]

    Returns
    -------
    Smallest
        Index and rivals, smallest rival first.

    Notes
    -----
    Two areas are told apart beyond twice the standard uncertainty of their difference, about 95 %.
    """
    index = int(np.argmin(area))
    rivals = []
    for other in narrow_places(area):
        apart = float(area[other] - area[index])
        doubt = math.hypot(float(uncertainty[other]), float(uncertainty[index]))
        if other != index and apart <= _TWO_SIGMA * doubt:
            rivals.append(other)
    return Smallest(index, tuple(sorted(rivals, key=lambda i: float(area[i]))))


def profile_volume(profile: Profile, common: float = 0.0) -> Estimate:
    """Volume between the first and the last section.

    Parameters
    ----------
    profile : Profile
        Sections along the port.
    common : float
        Relative standard uncertainty all sections share, such as a scale or a mould's shrinkage.
        [-]

    Returns
    -------
    Estimate
        Volume. [m3]

    Notes
    -----
    Integral of a shape-preserving cubic through the areas (definition ``V = integral A ds``, exact
    where the distance runs through the centroids: Pappus).  The difference to the trapezium rule
    is counted as what the shape between the sections may do.
    """
    s, a = profile.distance, profile.area
    smooth = float(PchipInterpolator(s, a).integrate(s[0], s[-1]))
    straight = float(np.trapezoid(a, s))
    weight = np.gradient(s) * np.where((np.arange(s.size) % (s.size - 1)) == 0, 0.5, 1.0)
    scatter = float(np.sqrt(np.sum((weight * profile.uncertainty) ** 2)))
    return Estimate(smooth, math.hypot(scatter, smooth - straight, common * smooth))


def included_taper(profile: Profile, index: int) -> float:
    """Included angle of the cone with the same areas, from the first section to another one.

    Parameters
    ----------
    profile : Profile
        Sections along the port.
    index : int
        The other section. [-]

    Returns
    -------
    float
        Angle, above zero where the port narrows; NaN for the first section itself. [rad]

    Notes
    -----
    Definition: ``2 atan((d1 - d2)/(2 L))`` with diameters of circles of equal area.
    """
    if index == 0:
        return math.nan
    wide, narrow = (math.sqrt(4.0 * float(profile.area[i]) / math.pi) for i in (0, index))
    length = float(profile.distance[index] - profile.distance[0])
    return 2.0 * math.atan2(0.5 * (wide - narrow), length)
