"""Mass and stiffness of a valve, and the force that opens it against pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.chamber.checks import need_number, need_size
from portwright.core.seat.profile import ValveProfile
from portwright.errors import RangeError

_LARGEST_MODULUS = 1e13  # far above diamond
_LARGEST_PRESSURE = 1e9


@dataclass(frozen=True, slots=True)
class Material:
    """What a valve is made of.

    Parameters
    ----------
    name : str
    density : tuple of float
        Lowest and highest figure found. [kg/m3]
    modulus : tuple of float
        Lowest and highest figure found. [Pa]
    label : str
        Where they come from.
    """

    name: str
    density: tuple[float, float]
    modulus: tuple[float, float]
    label: str

    def __post_init__(self) -> None:
        for low, high in (self.density, self.modulus):
            if not 0.0 < low <= high <= _LARGEST_MODULUS:
                raise RangeError(f"Figures of {self.name} must be above zero, the lower first.")


def valve_volume(valve: ValveProfile) -> float:
    """Compute the volume of a solid valve, its length counted from the edge of the face. [m3]

    Parameters
    ----------
    valve : ValveProfile
        With its length.

    Raises
    ------
    RangeError
        No length, or one that ends under the head.

    Notes
    -----
    Definition: frusta ``pi/3 h (r1^2 + r1 r2 + r2^2)`` over the half section.  Tip, lock grooves
    and a dished or hollow head are not in it.
    """
    points = valve.outline().points
    neck = float(points[1, 1])
    if valve.length <= -neck:
        raise RangeError(
            f"A valve {valve.length * 1e3:.4g} mm long ends under its own head.",
            "Give the length from the edge of the face to the tip.",
        )
    points = points.copy()
    points[0, 1] = -valve.length
    r, h = points[:, 0], np.diff(points[:, 1])
    return float(np.sum(math.pi / 3.0 * h * (r[:-1] ** 2 + r[:-1] * r[1:] + r[1:] ** 2)))


def stiffness_ratio(stem: float, modulus: float, other_stem: float, other_modulus: float) -> float:
    """Compute the bending stiffness of one stem over that of another of the same length. [-]

    Parameters
    ----------
    stem, other_stem : float
        Diameters. [m]
    modulus, other_modulus : float
        Of elasticity. [Pa]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    Definition: ``E d^4 / (E0 d0^4)``, a solid round bar.
    """
    need_size(stem, "stem diameter")
    need_size(other_stem, "stem diameter")
    for value in (modulus, other_modulus):
        if not 0.0 < value <= _LARGEST_MODULUS:
            raise RangeError("A modulus of elasticity must be above zero.")
    try:
        ratio = (stem / other_stem) ** 4 * (modulus / other_modulus)
    except OverflowError:
        ratio = math.inf
    if not math.isfinite(ratio):
        raise RangeError("One of the two stems is too thin to be one.")
    return ratio


def opening_force(
    cylinder_pressure: float, port_pressure: float, seal_diameter: float, stem_diameter: float
) -> float:
    """Compute the force that lifts a valve off its seat against the gas, spring not counted. [N]

    Parameters
    ----------
    cylinder_pressure, port_pressure : float
        Above the surroundings. [Pa]
    seal_diameter : float
        Where valve and seat touch. [m]
    stem_diameter : float
        In the guide. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    Definition: ``p_cyl A - p_port (A - A_stem)`` with the areas of seal and stem; negative where
    the gas helps.
    """
    for value in (cylinder_pressure, port_pressure):
        if not math.isfinite(value) or abs(value) > _LARGEST_PRESSURE:
            raise RangeError(f"A pressure of {value:.4g} Pa cannot be.", "Check number and unit.")
    need_size(seal_diameter, "seal diameter")
    need_number(stem_diameter, "stem diameter")
    if not 0.0 <= stem_diameter < seal_diameter:
        raise RangeError("A stem is thinner than its seat.", "Check both diameters.")
    seal, stem = (0.25 * math.pi * d**2 for d in (seal_diameter, stem_diameter))
    return cylinder_pressure * seal - port_pressure * (seal - stem)
