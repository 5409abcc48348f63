"""What is known and not known about the camera, and what its lens does to straight lines."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.errors import RangeError

FOCAL_SHARE = 0.75
"""Focal length over the longer side of the picture: a 27 mm lens on 36 mm film; main cameras of
phones have 24 to 28 mm (from memory).  Only sizes of errors depend on it, never an area from four
known points. [-]"""


@dataclass(frozen=True, slots=True)
class Camera:
    """Picture as the camera made it, turned upright.

    Picture coordinates count pixels to the right and down from the upper left corner of the
    picture.

    Parameters
    ----------
    width, height : float
        Size of the picture. [px]
    focal_share : float
        Focal length over the longer side. [-]
    """

    width: float
    height: float
    focal_share: float = FOCAL_SHARE

    def __post_init__(self) -> None:
        sizes = (self.width, self.height, self.focal_share)
        if not all(math.isfinite(size) and size > 0.0 for size in sizes):
            raise RangeError("Width, height and focal length of a picture are above zero.")

    @property
    def centre(self) -> Array:
        """Middle of the picture, where the lens looks straight. [px]"""
        return np.array([0.5 * self.width, 0.5 * self.height])

    @property
    def half_diagonal(self) -> float:
        """Distance from the middle to a corner. [px]"""
        return 0.5 * math.hypot(self.width, self.height)

    @property
    def focal(self) -> float:
        """Focal length. [px]"""
        return self.focal_share * max(self.width, self.height)


@dataclass(frozen=True, slots=True)
class PictureErrors:
    """Standard uncertainties of what the porter and the camera do; every one a stated value.

    The defaults are common practice for a careful hand and a phone, from memory.

    Parameters
    ----------
    tracing : float
        One traced point across the edge, independent from point to point. [px]
    edge : float
        Where the edge is taken to lie: shared by all points of an outline. [px]
    marking : float
        Each mark of the scale, in each direction. [px]
    lens : float
        Radial distortion at the corner of the picture, as a share of the distance from the
        middle. [-]
    tilt : float
        Camera against square to the plane, in each direction; counts for a bar only. [rad]
    height : float
        Scale above or below the plane of the outline. [m]
    """

    tracing: float = 1.5
    edge: float = 0.5
    marking: float = 1.5
    lens: float = 0.005
    tilt: float = math.radians(3.0)
    height: float = 0.3e-3

    def __post_init__(self) -> None:
        values = (self.tracing, self.edge, self.marking, self.lens, self.tilt, self.height)
        if not all(math.isfinite(v) and v >= 0.0 for v in values):
            raise RangeError("Stated errors are numbers of zero or more.")
        if self.tilt >= math.radians(30.0) or self.lens >= 0.1:
            raise RangeError("A tilt below 30 degrees and a lens error below 10 % are needed.")


def undistorted(points: Array, camera: Camera, lens: float) -> Array:
    """Picture points as a lens without distortion would have made them.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Picture points. [px]
    camera : Camera
        The picture.
    lens : float
        Coefficient k of the radial model. [-]

    Returns
    -------
    ndarray, shape (n, 2)
        Corrected points. [px]

    Notes
    -----
    One-parameter radial model about the middle of the picture,
    ``x' = c + (x - c) (1 + k r^2)`` with r the distance from the middle over half the diagonal
    (definition of k; the first term of the polynomial models of photogrammetry).
    """
    offset = points - camera.centre
    share = np.sum(offset**2, axis=1, keepdims=True) / camera.half_diagonal**2
    moved: Array = camera.centre + offset * (1.0 + lens * share)
    return moved


def straightened(points: Array, camera: Camera, tilt: tuple[float, float]) -> Array:
    """Picture points as a camera square to the plane would have made them.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Picture points without distortion. [px]
    camera : Camera
        The picture.
    tilt : tuple of float
        Turn of the camera about the picture's across and upright axes. [rad]

    Returns
    -------
    ndarray, shape (n, 2)
        Points of the plane, in an arbitrary common scale near one unit per pixel. [-]

    Notes
    -----
    Pinhole camera: a ray ``((x - c)/f, 1)`` is turned and cut with a plane square to the axis
    (definition).
    """
    about_across, about_upright = tilt
    ca, sa = math.cos(about_across), math.sin(about_across)
    cu, su = math.cos(about_upright), math.sin(about_upright)
    turn = np.array([[1.0, 0.0, 0.0], [0.0, ca, -sa], [0.0, sa, ca]])
    turn = turn @ np.array([[cu, 0.0, su], [0.0, 1.0, 0.0], [-su, 0.0, cu]])
    rays = np.column_stack(((points - camera.centre) / camera.focal, np.ones(len(points))))
    rays = rays @ turn.T
    plane: Array = camera.focal * rays[:, :2] / rays[:, 2:]
    return plane
