"""Inlet and outlet of a scan: typed, touched, or at an opening."""

from __future__ import annotations

import math
import re

import numpy as np

from portwright.core.mesh.centreline import End
from portwright.core.mesh.checks import Opening
from portwright.errors import GeometryError, InputError
from portwright.services.scan import Array, Scan, unit_scale

_TOUCHED = 4e-3  # a finger means this much of the surface, our choice [m]
_FLAT = 0.8  # length of the mean normal; noise of a tenth of the triangles leaves 0.9 [-]


def read_point(text: str, unit: str, what: str) -> Array:
    """Read "x,y,z" in the unit of the file. [m]

    Raises
    ------
    InputError
        Not three numbers.
    """
    return _three(text, what) * unit_scale(unit)


def read_direction(text: str, what: str) -> Array:
    """Read a direction "x,y,z" of any length but zero.

    Raises
    ------
    InputError
        Not three numbers, or no direction.
    """
    found = _three(text, what)
    if not float(np.linalg.norm(found)) > 0.0:
        raise InputError(f"The normal of the {what} has no direction.", "Give one such as 0,0,1.")
    return found


def _three(text: str, what: str) -> Array:
    parts = [p for p in re.split(r"[,;\s]+", text.strip()) if p]
    try:
        values = [float(p) for p in parts]
    except ValueError:
        values = []
    if len(values) != 3 or not all(math.isfinite(v) for v in values):
        raise InputError(
            f"'{text}' is not a point of the {what}.",
            "Give three numbers with commas between them and decimal points: 12.5,0,40.",
        )
    return np.array(values)


def end_at_opening(opening: Opening) -> End:
    """Inlet or outlet at an opening of the scan."""
    return End(opening.centre, opening.normal)


def end_touched(scan: Scan, place: Array) -> End:
    """Inlet or outlet where a person touched a closed scan: the flat face round that place.

    Parameters
    ----------
    place : ndarray, shape (3,)
        On or near the surface. [m]

    Raises
    ------
    GeometryError
        The surface is not flat there.

    Notes
    -----
    The normal is the area-weighted mean of the triangles within 4 mm; the direction of a face of a
    mould or of the machined opening, whatever its roughness.
    """
    corners = scan.mesh.vertices[scan.mesh.faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # distance to the nearest point of each triangle is not needed: corners and middle will do
    spots = np.concatenate([corners, corners.mean(axis=1, keepdims=True)], axis=1)
    gap = np.min(np.linalg.norm(spots - place, axis=2), axis=1)
    near = gap <= max(_TOUCHED, float(gap.min()) * 1.01)
    normal = across[near].sum(axis=0)
    length = float(np.linalg.norm(normal))
    if not length > _FLAT * float(np.linalg.norm(across[near], axis=1).sum()):
        raise GeometryError(
            "The scan is not flat at that place.", "Touch the middle of the end of the port."
        )
    return End(place, normal / length)


def ring_at(end: End, radius: float = 6e-3) -> Array:
    """Small circle that marks an end in a picture. [m]"""
    across = np.cross(end.normal, np.eye(3)[int(np.argmin(np.abs(end.normal)))])
    across /= np.linalg.norm(across)
    above = np.cross(end.normal, across)
    angle = np.linspace(0.0, 2.0 * np.pi, 25)[:, np.newaxis]
    ring: Array = end.point + radius * (np.cos(angle) * across + np.sin(angle) * above)
    return ring


def end_of(point: str, normal: str, unit: str, what: str) -> End:
    """Inlet or outlet as typed.

    Raises
    ------
    InputError
    """
    return End(read_point(point, unit, what), read_direction(normal, what))


def opening_words(opening: Opening, unit: str) -> tuple[str, str]:
    """Centre and normal of an opening as a person would type them."""
    point = ",".join(f"{v / unit_scale(unit):.4g}" for v in opening.centre)
    return point, ",".join(f"{v:.4f}" for v in opening.normal)
