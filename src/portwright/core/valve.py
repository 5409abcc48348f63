"""Valve and lift arithmetic: areas the air can use, and discharge coefficients on each of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array, Number, as_array, unwrapped
from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class ValveShape:
    """Valve, seat and throat of one port.

    Parameters
    ----------
    head_diameter : float
        Valve head diameter, taken as the outside of the seat contact; where the contact band sits
        inside the edge of the head, give the outside diameter of the band. [m]
    stem_diameter : float
        Stem diameter in the throat. [m]
    seat_angle : float
        Seat angle, measured from the plane of the valve head, so that a 45 degree seat is
        pi/4; 0 is a flat seat. [rad]
    seat_width : float
        Width of the seat contact in the radial direction, as seen along the stem; a width taken
        along the face is made radial by :func:`radial_seat_width`. [m]
    throat_diameter : float
        Smallest diameter under the seat. [m]
    count : int
        Number of such valves in the port. [-]

    Raises
    ------
    RangeError
        Sizes that cannot belong to one valve.
    """

    head_diameter: float
    stem_diameter: float
    seat_angle: float
    seat_width: float
    throat_diameter: float
    count: int = 1

    def __post_init__(self) -> None:
        sizes = (
            self.head_diameter,
            self.stem_diameter,
            self.seat_angle,
            self.seat_width,
            self.throat_diameter,
        )
        if not all(math.isfinite(size) for size in sizes):
            raise RangeError("A valve needs a number for every size.", "Measure what is missing.")
        if not 0.0 <= self.stem_diameter < self.throat_diameter < self.head_diameter:
            raise RangeError(
                f"Stem {self.stem_diameter * 1e3:.4g} mm, throat {self.throat_diameter * 1e3:.4g} "
                f"mm and valve {self.head_diameter * 1e3:.4g} mm must grow in this order.",
                "Check that all three are diameters of the same valve.",
            )
        if not 0.0 <= self.seat_angle < math.pi / 2.0:
            raise RangeError(
                f"Seat angle of {math.degrees(self.seat_angle):.4g} degrees cannot be.",
                "It is measured from the valve head and lies between 0 and 90 degrees.",
            )
        if not 0.0 < self.seat_width < 0.5 * (self.head_diameter - self.stem_diameter):
            raise RangeError(
                f"Seat width of {self.seat_width * 1e3:.4g} mm does not fit on the valve.",
                "Usual widths are 1 to 2 mm.",
            )
        if self.count < 1:
            raise RangeError("A port has at least one valve.")

    @property
    def mean_seat_diameter(self) -> float:
        """Diameter in the middle of the seat contact, ``Dm = Dv - w``. [m]"""
        return self.head_diameter - self.seat_width

    @property
    def inner_seat_diameter(self) -> float:
        """Inside diameter of the seat contact, ``Dv - 2 w``. [m]"""
        return self.head_diameter - 2.0 * self.seat_width


@dataclass(frozen=True, slots=True)
class StageLimits:
    """Lifts at which the place of the smallest area changes.

    Parameters
    ----------
    first : float
        Above it the shortest gap runs from the seat edge, not square to the seat. [m]
    second : float
        Above it the net throat is smaller than the gap; equal to or below ``first`` when the
        throat takes over early. [m]
    """

    first: float
    second: float


def radial_seat_width(face_width: Number, seat_angle: Number) -> Array:
    """Convert a seat width taken along the face to the radial width.

    Parameters
    ----------
    face_width : float or ndarray
        Width along the seat face. [m]
    seat_angle : float or ndarray
        Seat angle from the plane of the valve head. [rad]

    Returns
    -------
    ndarray
        Width in the radial direction. [m]

    Notes
    -----
    Definition: ``w = face cos(beta)``.
    """
    width: Array = as_array(face_width) * np.cos(as_array(seat_angle))
    return width


def lift_over_diameter(lift: Number, head_diameter: Number) -> Array:
    """Compute lift over valve diameter (L/D).

    Parameters
    ----------
    lift : float or ndarray
        Valve lift. [m]
    head_diameter : float or ndarray
        Valve head diameter. [m]

    Returns
    -------
    ndarray
        L/D. [-]

    Notes
    -----
    Definition.
    """
    return as_array(lift) / as_array(head_diameter)


def curtain_area(shape: ValveShape, lift: Number) -> Array:
    """Compute the simple curtain area of all valves.

    Parameters
    ----------
    shape : ValveShape
        Valve and seat.
    lift : float or ndarray
        Valve lift. [m]

    Returns
    -------
    ndarray
        Area. [m2]

    Notes
    -----
    Definition: ``n pi D L``; equal to the valve disc at L/D 0.25.
    """
    return shape.count * math.pi * shape.head_diameter * as_array(lift)


def valve_disc_area(shape: ValveShape) -> float:
    """Compute the area of all valve discs.

    Parameters
    ----------
    shape : ValveShape
        Valve and seat.

    Returns
    -------
    float
        Area. [m2]

    Notes
    -----
    Definition: ``n pi/4 D^2``.
    """
    return shape.count * 0.25 * math.pi * shape.head_diameter**2


def net_throat_area(shape: ValveShape) -> float:
    """Compute the throat area less the stem, of all valves.

    Parameters
    ----------
    shape : ValveShape
        Valve and seat.

    Returns
    -------
    float
        Area. [m2]

    Notes
    -----
    Definition: ``n pi/4 (Dp^2 - Ds^2)``.
    """
    return shape.count * 0.25 * math.pi * (shape.throat_diameter**2 - shape.stem_diameter**2)


def stage_limits(shape: ValveShape) -> StageLimits:
    """Compute the lifts at which the smallest area moves from one place to the next.

    Parameters
    ----------
    shape : ValveShape
        Valve and seat.

    Returns
    -------
    StageLimits
        Both lifts; infinite ``first`` for a flat seat.

    Notes
    -----
    ``L1 = w/(sin b cos b)``; ``L2 = sqrt([(Dp^2 - Ds^2)/(4 Dm)]^2 - w^2) + w tan b``.  Where the
    throat is smaller than the gap already in the first stage, L2 is the lift at which the
    first-stage area reaches it.

    References
    ----------
    Heywood, Internal Combustion Engine Fundamentals (1988), equations 6.7 to 6.9 (from memory).
    """
    w, b = shape.seat_width, shape.seat_angle
    slope = math.sin(b) * math.cos(b)
    first = w / slope if slope > 0.0 else math.inf
    throat = net_throat_area(shape) / shape.count
    if throat <= float(_gap_area(shape, as_array(min(first, shape.head_diameter)))):
        return StageLimits(first, _lift_of_first_stage_area(shape, throat))
    gap = throat / (math.pi * shape.mean_seat_diameter)
    return StageLimits(first, math.sqrt(gap**2 - w**2) + w * math.tan(b))


def _lift_of_first_stage_area(shape: ValveShape, area: float) -> float:
    """Lift at which ``pi L cos b (Di + L/2 sin 2b)`` reaches an area."""
    b = shape.seat_angle
    target = area / (math.pi * math.cos(b))
    curve, inner = 0.5 * math.sin(2.0 * b), shape.inner_seat_diameter
    # root of curve L^2 + inner L - target, in the form that keeps digits for a flat seat
    return 2.0 * target / (inner + math.sqrt(inner**2 + 4.0 * curve * target))


def _gap_area(shape: ValveShape, lift: Array) -> Array:
    """Area of the gap between the seat faces of one valve, stages one and two."""
    w, b = shape.seat_width, shape.seat_angle
    square = math.pi * lift * math.cos(b)
    square = square * (shape.inner_seat_diameter + 0.5 * lift * math.sin(2.0 * b))
    slant = np.sqrt((lift - w * math.tan(b)) ** 2 + w**2)
    edge = math.pi * shape.mean_seat_diameter * slant
    return np.where(lift * math.sin(b) * math.cos(b) < w, square, edge)


def minimum_area(shape: ValveShape, lift: Number) -> Array:
    """Compute the smallest geometric area between seat, valve and throat.

    Parameters
    ----------
    shape : ValveShape
        Valve and seat.
    lift : float or ndarray
        Valve lift, not below zero. [m]

    Returns
    -------
    ndarray
        Area of all valves; NaN where the lift is NaN. [m2]

    Raises
    ------
    RangeError
        Lift below zero.

    Notes
    -----
    Three stages, limits in :func:`stage_limits`::

        1  A = pi L cos b (Dv - 2 w + L/2 sin 2b)
        2  A = pi Dm sqrt((L - w tan b)^2 + w^2),   Dm = Dv - w
        3  A = pi/4 (Dp^2 - Ds^2)

    The third is a cap on the other two, also where a tight throat takes over early.

    References
    ----------
    Heywood, Internal Combustion Engine Fundamentals (1988), equations 6.7 to 6.9 (from memory;
    continuous at both joints).

    Examples
    --------
    >>> shape = ValveShape(0.040, 0.008, math.radians(45), 0.0015, 0.035)
    >>> round(float(minimum_area(shape, 0.005)) * 1e6, 1)
    460.6
    """
    height = checked_lift(lift)
    area = np.minimum(shape.count * _gap_area(shape, height), net_throat_area(shape))
    return unwrapped(np.asarray(area))


def checked_lift(lift: Number) -> Array:
    """Lift as an array, refused below zero. [m]

    Parameters
    ----------
    lift : float or ndarray
        Valve lift. [m]

    Raises
    ------
    RangeError
        A lift below zero.
    """
    height = as_array(lift)
    if np.any(height < 0.0):
        raise RangeError("Valve lift below zero.", "Check sign and zero of the lift indicator.")
    return height
