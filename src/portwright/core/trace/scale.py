"""Ways to give a photograph its scale: a bar, a circle of known diameter, a frame."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.core.trace.camera import Camera, PictureErrors, straightened, undistorted
from portwright.core.trace.ellipse import FittedEllipse, fit_ellipse
from portwright.core.trace.homography import Perspective, fit_perspective, project
from portwright.errors import GeometryError, RangeError

ToPlane = Callable[[Array], Array]
"""From picture points [px] to points of the plane [m]."""


@dataclass(frozen=True, slots=True)
class Pose:
    """What is assumed about the camera where the scale cannot tell.

    Parameters
    ----------
    lens : float
        Expected radial lens coefficient. [-]
    tilt : tuple of float
        Tilt about the across and the upright axis. [rad]
    """

    lens: float = 0.0
    tilt: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Scale(ABC):
    """Marks on a picture and the sizes they stand for.

    Parameters
    ----------
    marks : ndarray, shape (n, 2)
        Marks on the picture. [px]
    sizes : ndarray, shape (k,)
        Known sizes. [m]
    size_errors : ndarray, shape (k,)
        Their standard uncertainties. [m]
    """

    marks: Array
    sizes: Array
    size_errors: Array

    def __post_init__(self) -> None:
        if self.marks.ndim != 2 or self.marks.shape[1] != 2 or not np.all(np.isfinite(self.marks)):
            raise GeometryError("Marks of a scale are points with two coordinates.")
        sizes = np.concatenate((self.sizes, 1.0 + self.size_errors))
        if self.sizes.shape != self.size_errors.shape or not np.all(
            np.isfinite(sizes) & (sizes > 0.0)
        ):
            raise RangeError("Sizes of a scale are above zero.", "Type the size of the scale.")

    @abstractmethod
    def to_plane(self, camera: Camera, errors: PictureErrors, pose: Pose) -> ToPlane:
        """Map from the picture to the plane under some assumption about the camera."""

    def unseen_perspective(self, camera: Camera, middle: Array) -> float:
        """Relative change of length towards a point that the scale cannot tell the sign of. [-]"""
        return 0.0


@dataclass(frozen=True, slots=True, eq=False)
class BarScale(Scale):
    """Two marks a known length apart, camera taken to be square to the plane."""

    def __post_init__(self) -> None:
        Scale.__post_init__(self)
        if len(self.marks) != 2 or len(self.sizes) != 1:
            raise GeometryError("A bar has two marks and one length.", "Mark both of its ends.")
        if np.hypot(*(self.marks[1] - self.marks[0])) < 1.0:
            raise GeometryError("Both ends of the bar are on one spot.", "Mark both of its ends.")

    def to_plane(self, camera: Camera, errors: PictureErrors, pose: Pose) -> ToPlane:
        """Map with the scale of the bar, whatever its direction."""

        def flat(points: Array) -> Array:
            return straightened(undistorted(points, camera, pose.lens), camera, pose.tilt)

        ends = flat(self.marks)
        scale = float(self.sizes[0]) / float(np.hypot(*(ends[1] - ends[0])))
        return lambda points: scale * flat(points)


@dataclass(frozen=True, slots=True, eq=False)
class CircleScale(Scale):
    """Five or more marks on the rim of a circle: corrects the tilt its ellipse shows."""

    def __post_init__(self) -> None:
        Scale.__post_init__(self)
        if len(self.sizes) != 1:
            raise GeometryError("A circle has one diameter.")
        fit_ellipse(self.marks)

    def _ellipse(self, camera: Camera, lens: float) -> FittedEllipse:
        return fit_ellipse(undistorted(self.marks, camera, lens))

    def to_plane(self, camera: Camera, errors: PictureErrors, pose: Pose) -> ToPlane:
        """Map that turns the ellipse into the circle, the same over the whole picture."""
        ellipse = self._ellipse(camera, pose.lens)
        values, vectors = np.linalg.eigh(ellipse.matrix)
        root = 0.5 * float(self.sizes[0]) * (vectors * np.sqrt(values)) @ vectors.T
        return lambda points: (undistorted(points, camera, pose.lens) - ellipse.centre) @ root

    def unseen_perspective(self, camera: Camera, middle: Array) -> float:
        """Relative change of length from the circle to a point, sign unknown. [-]

        Notes
        -----
        An ellipse shows the size of a tilt, not which side is nearer.  Depth changes by
        ``tan(tilt)/focal`` per pixel along the shorter axis; lengths along it go with the square
        of depth and across it with depth, so an area changes by three and a length by about one
        and a half times that (first order of the pinhole camera).
        """
        ellipse = self._ellipse(camera, 0.0)
        longer, shorter = ellipse.semi_axes
        tilt = math.acos(min(1.0, shorter / longer))
        along = float((middle - ellipse.centre) @ ellipse.shorter_direction)
        return math.tan(tilt) * abs(along) / camera.focal


@dataclass(frozen=True, slots=True, eq=False)
class FrameScale(Scale):
    """Corners of a rectangle in order round it, with or without the middles of its sides.

    Four marks are the corners; eight marks are corner, middle, corner, middle and so on, which
    also shows the lens.  The first size is that of the side that is marked first.
    """

    def __post_init__(self) -> None:
        Scale.__post_init__(self)
        if len(self.marks) not in {4, 8} or len(self.sizes) != 2:
            raise GeometryError(
                "A frame has four corners, or four corners and four middles, and two sides."
            )
        if not _convex(self._corners):
            raise GeometryError(
                "The marks do not go round the frame.", "Mark its corners in order round it."
            )

    @property
    def _corners(self) -> Array:
        return self.marks[:: len(self.marks) // 4]

    @property
    def known(self) -> Array:
        """Places of the marks in the plane, shape (4, 2) or (8, 2). [m]"""
        corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * self.sizes
        if len(self.marks) == 4:
            return corners
        middles = 0.5 * (corners + np.roll(corners, -1, axis=0))
        return np.stack((corners, middles), axis=1).reshape(8, 2)

    def to_plane(self, camera: Camera, errors: PictureErrors, pose: Pose) -> ToPlane:
        """Map with the perspective of the frame and, from eight marks, the lens."""
        seen = self.perspective(camera, errors, pose.lens)
        return lambda points: project(seen.matrix, undistorted(points, camera, seen.lens))

    def perspective(self, camera: Camera, errors: PictureErrors, lens: float = 0.0) -> Perspective:
        """Perspective and lens as fitted."""
        return fit_perspective(
            self.marks,
            self.known,
            camera,
            marking=errors.marking,
            lens_mean=lens,
            lens=errors.lens,
        )


def _convex(corners: Array) -> bool:
    side = np.roll(corners, -1, axis=0) - corners
    following = np.roll(side, -1, axis=0)
    turn = side[:, 0] * following[:, 1] - side[:, 1] * following[:, 0]
    return bool(np.all(turn > 0.0) or np.all(turn < 0.0))
