"""How much volume a deck cut takes from a chamber: straight walls, a table, or a round cap."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.optimize import brentq

from portwright.core.chamber.checks import need_number, need_size
from portwright.errors import RangeError

_CLOSEST = 1e-6  # planes nearer than a thousandth of a millimetre say nothing of a slope [m]


class Walls(Protocol):
    """Open area of a chamber against depth below its present deck."""

    @property
    def deepest(self) -> float:
        """Deepest cut the shape is known for. [m]"""
        ...

    def area(self, depth: float) -> float:
        """Open area at a plane. [m2]"""
        ...

    def volume(self, depth: float) -> float:
        """Volume between the present deck and a plane. [m3]"""
        ...

    def depth(self, volume: float) -> float:
        """Depth of the cut that takes a volume. [m]"""
        ...


def _inside(depth: float, deepest: float) -> float:
    if not 0.0 <= need_number(depth, "cut") <= deepest:
        raise RangeError(
            f"A cut of {depth * 1e3:.4g} mm lies outside what is known of the chamber, 0 to "
            f"{deepest * 1e3:.4g} mm.",
            "Trace the outline at a deeper plane, or cut less; milling cannot add metal.",
        )
    return depth


def _to_take(volume: float, most: float) -> float:
    if not 0.0 <= need_number(volume, "volume to mill away") <= most:
        raise RangeError(
            f"Milling cannot take {volume * 1e6:.4g} cc: between 0 and {most * 1e6:.4g} cc is "
            "known of this chamber.",
            "To make a chamber larger, open it or fit a thicker gasket; to go deeper, trace the "
            "outline at a deeper plane.",
        )
    return volume


@dataclass(frozen=True, slots=True)
class StraightWalls:
    """Walls square to the deck: every plane has the area of the deck outline.

    Parameters
    ----------
    open_area : float
        Outline of the chamber on the deck. [m2]
    deepest : float
        Depth to which the walls are straight. [m]
    """

    open_area: float
    deepest: float = 5e-3

    def __post_init__(self) -> None:
        need_size(self.open_area, "open area")
        need_size(self.deepest, "depth of the walls")

    def area(self, depth: float) -> float:
        """Open area at a plane. [m2]"""
        _inside(depth, self.deepest)
        return self.open_area

    def volume(self, depth: float) -> float:
        """Volume between deck and plane, ``A d``. [m3]"""
        return self.open_area * _inside(depth, self.deepest)

    def depth(self, volume: float) -> float:
        """Depth of the cut that takes a volume. [m]"""
        # the last bit of a division must not carry a full cut beyond the depth that is known
        wanted = _to_take(volume, self.open_area * self.deepest) / self.open_area
        return min(wanted, self.deepest)


@dataclass(frozen=True, slots=True)
class AreaTable:
    """Area traced at several planes, straight lines between.

    Parameters
    ----------
    depths : tuple of float
        Planes below the present deck, 0 first. [m]
    areas : tuple of float
        Open area at each. [m2]

    Raises
    ------
    RangeError
        Fewer than two planes, planes out of order, or areas that cannot be.
    """

    depths: tuple[float, ...]
    areas: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.depths) != len(self.areas) or len(self.depths) < 2:
            raise RangeError(
                "Sloped walls need an area at two planes or more.",
                "Trace the outline at the deck and at a deeper plane.",
            )
        for value in self.areas:
            need_size(value, "open area")
        for value in self.depths:
            need_number(value, "depth of a plane")
        if self.depths[0] != 0.0 or any(np.diff(self.depths) < _CLOSEST):
            raise RangeError(
                "The planes must start at the deck and go deeper one after the other.",
                "Give depths like 0, 1 and 2 mm.",
            )

    @property
    def deepest(self) -> float:
        """Deepest plane traced. [m]"""
        return self.depths[-1]

    def _totals(self) -> list[float]:
        steps = np.diff(self.depths)
        means = 0.5 * (np.array(self.areas[1:]) + np.array(self.areas[:-1]))
        return [0.0, *np.cumsum(steps * means).tolist()]

    def area(self, depth: float) -> float:
        """Open area at a plane. [m2]"""
        return float(np.interp(_inside(depth, self.deepest), self.depths, self.areas))

    def volume(self, depth: float) -> float:
        """Volume between deck and plane: trapezia. [m3]"""
        area = self.area(depth)
        i = min(int(np.searchsorted(self.depths, depth, "right")), len(self.depths) - 1) - 1
        step = depth - self.depths[i]
        return float(self._totals()[i] + 0.5 * (self.areas[i] + area) * step)

    def depth(self, volume: float) -> float:
        """Depth of the cut that takes a volume, exact inside each step. [m]"""
        totals = self._totals()
        _to_take(volume, totals[-1])
        i = min(int(np.searchsorted(totals, volume, "right")), len(totals) - 1) - 1
        width = self.depths[i + 1] - self.depths[i]
        slope = (self.areas[i + 1] - self.areas[i]) / width
        left, first = volume - totals[i], self.areas[i]
        # quadratic in the form that loses no digits where the walls are nearly straight
        root = math.sqrt(max(first**2 + 2.0 * slope * left, 0.0))
        return float(self.depths[i] + min(2.0 * left / (first + root), width))


@dataclass(frozen=True, slots=True)
class SphericalCap:
    """A chamber that is a cut of a sphere, the round worked example.

    Parameters
    ----------
    radius : float
        Of the sphere. [m]
    height : float
        Deck to roof, at most the radius. [m]
    """

    radius: float
    height: float

    def __post_init__(self) -> None:
        if need_size(self.height, "chamber height") > need_size(self.radius, "sphere radius"):
            raise RangeError("A cap is not higher than its radius.", "Check both sizes.")

    @property
    def deepest(self) -> float:
        """Roof of the chamber. [m]"""
        return self.height

    def area(self, depth: float) -> float:
        """Open area at a plane, ``pi (2 R z - z^2)`` with z the height left. [m2]"""
        left = self.height - _inside(depth, self.deepest)
        return math.pi * left * (2.0 * self.radius - left)

    def volume(self, depth: float) -> float:
        """Volume between deck and plane. [m3]

        Notes
        -----
        Difference of two caps ``pi/3 z^2 (3 R - z)``, written so that no digits cancel.
        """
        x, h, r = _inside(depth, self.deepest), self.height, self.radius
        return math.pi * x * (r * (2.0 * h - x) - h * (h - x) - x**2 / 3.0)

    def depth(self, volume: float) -> float:
        """Depth of the cut that takes a volume. [m]"""
        most = self.volume(self.height)
        if _to_take(volume, most) in {0.0, most}:
            return self.height if volume else 0.0
        return float(
            brentq(lambda x: self.volume(x) - volume, 0.0, self.height, xtol=1e-18, rtol=1e-15)
        )


def volume_per_depth(walls: Walls, depth: float) -> float:
    """Volume that one more unit of depth takes at the plane of a cut. [m2]

    Parameters
    ----------
    walls : Walls
        Shape of the chamber.
    depth : float
        Final plane below the present deck. [m]

    Raises
    ------
    RangeError
        Deeper than the shape is known.

    Notes
    -----
    ``dV/dd = A(d)``: the area at the final plane, not at the deck cut away.
    """
    return walls.area(depth)
