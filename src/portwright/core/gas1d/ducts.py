"""From what a person measures on a duct to the tube the solver sees."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import PchipInterpolator

from portwright.core.curve import Array
from portwright.core.gas1d.network import Tube
from portwright.errors import RangeError, ShapeError

# Drawn or cast and cleaned-up metal (common practice): stated with every result.
DEFAULT_ROUGHNESS = 25e-6


def end_correction(radius: float, *, flanged: bool) -> float:
    """Length an open end adds to a pipe for its low tones.

    Parameters
    ----------
    radius : float
        Inner radius of the end. [m]
    flanged : bool
        Whether the end sits in a large flat wall.

    Returns
    -------
    float
        Added length. [m]

    Notes
    -----
    0.6133 a unflanged, 0.8216 a with an infinite flange, low-frequency limit.

    References
    ----------
    J.-P. Dalmont, C. J. Nederveen, N. Joly, Radiation impedance of tubes with different flanges,
    J. Sound Vib. 244 (2001).
    """
    return (0.8216 if flanged else 0.6133) * radius


@dataclass(frozen=True, slots=True, eq=False)
class Duct:
    """A duct by its sections, in the direction of the flow of a running engine.

    Parameters
    ----------
    name : str
        Shown in messages.
    position : ndarray, shape (n,)
        Distance of the sections from the start, increasing, first one zero. [m]
    area : ndarray, shape (n,)
        Area of the sections. [m2]
    perimeter : ndarray, shape (n,), optional
        Wetted perimeter; round sections where not given. [m]
    roughness : float
        Wall roughness. [m]
    wall_temperature : float
        Wall temperature. [K]
    heat_factor : float
        Wall heat relative to the Reynolds analogy. [-]
    area_factor : float
        Share of the area at the smallest section that the flow really fills; 1 means all.
        The reduction fades out over half the distance to either end. [-]

    Raises
    ------
    ShapeError
        Arrays of different length or fewer than two sections.
    RangeError
        Positions not increasing, areas not above zero.
    """

    name: str
    position: Array
    area: Array
    perimeter: Array | None = None
    roughness: float = DEFAULT_ROUGHNESS
    wall_temperature: float = 330.0
    heat_factor: float = 1.0
    area_factor: float = 1.0

    def __post_init__(self) -> None:
        n = self.position.size
        if n < 2 or self.area.shape != (n,):
            raise ShapeError(f"Duct '{self.name}' needs one area for each of two or more sections.")
        if self.perimeter is not None and self.perimeter.shape != (n,):
            raise ShapeError(f"Duct '{self.name}' needs one perimeter for each section.")
        if not (self.position[0] == 0.0 and np.all(np.diff(self.position) > 0.0)):
            raise RangeError(f"Sections of duct '{self.name}' must start at zero and increase.")
        if not (np.all(self.area > 0.0) and np.all(np.isfinite(self.area))):
            raise RangeError(f"Areas of duct '{self.name}' must be above zero.")
        if not 0.0 < self.area_factor <= 1.0:
            raise RangeError(f"Area factor {self.area_factor:g} must be above 0 and at most 1.")

    @property
    def length(self) -> float:
        """Length. [m]"""
        return float(self.position[-1])

    def area_at(self, x: Array) -> Array:
        """Area the flow fills, shape-preserving between sections. [m2]"""
        if self.position.size == 2:
            # A cone: diameter straight between the ends.
            share = x / self.length
            root = np.sqrt(self.area)
            plain: Array = (root[0] + (root[1] - root[0]) * share) ** 2
        else:
            plain = PchipInterpolator(self.position, self.area)(x)
        if self.area_factor == 1.0:
            return plain
        k = int(np.argmin(self.area))
        at = self.position[k]
        reach = np.where(x < at, max(at, 1e-9), max(self.length - at, 1e-9)) * 0.5
        fade = np.clip(1.0 - np.abs(x - at) / reach, 0.0, 1.0)
        smooth = fade * fade * (3.0 - 2.0 * fade)
        filled: Array = plain * (1.0 - (1.0 - self.area_factor) * smooth)
        return filled

    def diameter_at(self, x: Array) -> Array:
        """Hydraulic diameter, four areas over the perimeter. [m]"""
        if self.perimeter is None:
            return np.sqrt(4.0 / np.pi * self.area_at(x))
        perimeter = np.interp(x, self.position, self.perimeter)
        diameter: Array = 4.0 * self.area_at(x) / perimeter
        return diameter

    def smallest(self) -> float:
        """Smallest area the flow fills. [m2]"""
        return float(np.min(self.area_at(np.linspace(0.0, self.length, 400))))


def plain_pipe(
    name: str,
    length: float,
    diameter: float,
    *,
    end_diameter: float | None = None,
    wall_temperature: float = 330.0,
    roughness: float = DEFAULT_ROUGHNESS,
    heat_factor: float = 1.0,
) -> Duct:
    """Straight or conical round pipe.

    Parameters
    ----------
    name : str
        Shown in messages.
    length, diameter : float
        Length and diameter at the start. [m]
    end_diameter : float, optional
        Diameter at the other end, where different. [m]
    wall_temperature : float
        Wall temperature. [K]
    roughness : float
        Wall roughness. [m]
    heat_factor : float
        Wall heat relative to the Reynolds analogy. [-]

    Returns
    -------
    Duct
    """
    ends = np.array([diameter, diameter if end_diameter is None else end_diameter])
    return Duct(
        name,
        np.array([0.0, length]),
        0.25 * np.pi * ends**2,
        wall_temperature=wall_temperature,
        roughness=roughness,
        heat_factor=heat_factor,
    )


def join(name: str, first: Duct, second: Duct) -> Duct:
    """One duct out of two that follow each other (runner and port).

    Where the sections do not match, the step is spread over two millimetres. Roughness, wall
    temperature and area factor are those of the second.

    Parameters
    ----------
    name : str
        Name of the result.
    first, second : Duct
        In flow direction.

    Returns
    -------
    Duct
    """
    step = 2e-3 if abs(first.area[-1] / second.area[0] - 1.0) > 1e-6 else 0.0
    x1 = np.linspace(0.0, first.length, max(first.position.size, 9))
    x2 = np.linspace(0.0, second.length, max(3 * second.position.size, 9))
    if second.position.size > 2:
        x2 = np.union1d(x2, second.position)
    start = 1 if step == 0.0 else 0
    position = np.concatenate((x1, first.length + step + x2[start:]))
    plain = Duct(second.name, second.position, second.area)
    area = np.concatenate((first.area_at(x1), plain.area_at(x2)[start:]))

    def edge(duct: Duct, x: Array) -> Array:
        if duct.perimeter is None:
            return 2.0 * np.sqrt(np.pi * Duct(duct.name, duct.position, duct.area).area_at(x))
        return np.interp(x, duct.position, duct.perimeter)

    perimeter = np.concatenate((edge(first, x1), edge(second, x2)[start:]))
    return Duct(
        name,
        position,
        area,
        perimeter,
        second.roughness,
        second.wall_temperature,
        second.heat_factor,
        second.area_factor,
    )


@lru_cache(maxsize=64)  # cylinders share ducts, and each speed cuts them again
def to_tube(duct: Duct, cell: float, *, reverse: bool = False, friction: bool = True) -> Tube:
    """Cut a duct into cells.

    Parameters
    ----------
    duct : Duct
        Duct to cut.
    cell : float
        Wanted cell length; the real one divides the length evenly. [m]
    reverse : bool
        Whether the tube runs against the duct.
    friction : bool
        Whether walls rub and exchange heat.

    Returns
    -------
    Tube

    Raises
    ------
    RangeError
        Cell length not above zero.
    """
    if not cell > 0.0:
        raise RangeError("Cell length must be above zero.", "5 to 10 mm is usual.")
    n = max(4, round(duct.length / cell))
    x = np.linspace(0.0, duct.length, n + 1)
    area = duct.area_at(x)
    diameter = duct.diameter_at(0.5 * (x[1:] + x[:-1])) if friction else np.zeros(n)
    if reverse:
        area, diameter = area[::-1].copy(), diameter[::-1].copy()
    return Tube(
        duct.name,
        duct.length,
        area,
        diameter,
        duct.roughness,
        duct.wall_temperature,
        duct.heat_factor if friction else 0.0,
    )
