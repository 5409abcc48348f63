"""Area and perimeter of a traced outline with everything that makes them uncertain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from portwright.core.constants import Array
from portwright.core.outline import Outline
from portwright.core.trace.camera import Camera, PictureErrors
from portwright.core.trace.curve import (
    Curve,
    Join,
    area_pull,
    closed_curve,
    closed_length,
    enclosed_area,
    hand_smoothing,
    length_pull,
    outwards,
    untangled,
)
from portwright.core.trace.scale import Pose, Scale, ToPlane
from portwright.errors import GeometryError

COVERAGE_FACTOR = 1.96
"""Standard uncertainties in half a 95 % interval of a normal error (definition). [-]"""

MOST_POINTS = 1000
"""Points an outline may have; a hand gives some hundred. [-]"""


_SQUARE = Pose()
_SMOOTHING_DOUBT = (0.1, 10.0)  # cross-validation finds the smoothing to about such a factor


class Cause(StrEnum):
    """What makes a traced area uncertain."""

    MARKS = "marks of the scale"
    SIZE = "size of the scale"
    TRACING = "tracing hand"
    EDGE = "where the edge lies"
    BETWEEN = "course between points"
    LENS = "lens"
    TILT = "tilt of the camera"
    PERSPECTIVE = "perspective beside the circle"
    HEIGHT = "scale above or below the outline"


@dataclass(frozen=True, slots=True)
class Doubt:
    """Standard uncertainty one cause gives.

    Parameters
    ----------
    area : float
        Relative, of the area. [-]
    perimeter : float
        Relative, of the perimeter. [-]
    """

    area: float
    perimeter: float


@dataclass(frozen=True, slots=True, eq=False)
class TracedSection:
    """What an outline on a photograph measures.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points in the plane. [m]
    area, perimeter : float
        Sizes of the closed curve. [m2, m]
    doubts : dict of Cause to Doubt
        Independent causes.
    pixel : float
        Length one pixel stands for at the outline. [m]
    """

    points: Array
    area: float
    perimeter: float
    doubts: dict[Cause, Doubt]
    pixel: float

    @property
    def area_uncertainty(self) -> float:
        """Standard uncertainty of the area. [m2]"""
        return self.area * math.hypot(*(d.area for d in self.doubts.values()))

    @property
    def perimeter_uncertainty(self) -> float:
        """Standard uncertainty of the perimeter. [m]"""
        return self.perimeter * math.hypot(*(d.perimeter for d in self.doubts.values()))


def measure_outline(
    outline: Array,
    scale: Scale,
    camera: Camera,
    errors: PictureErrors,
    join: Join = Join.SMOOTH,
) -> TracedSection:
    """Area and perimeter of an outline traced on a photograph.

    Parameters
    ----------
    outline : ndarray, shape (n, 2)
        Traced points in order round the section. [px]
    scale : Scale
        Bar, circle or frame in the plane of the section.
    camera : Camera
        The picture.
    errors : PictureErrors
        Stated errors of hand and camera.
    join : Join
        Course of the edge between traced points.

    Returns
    -------
    TracedSection
        Sizes and their uncertainty.

    Raises
    ------
    GeometryError
        Outline or marks enclose nothing, cross themselves or lie behind the camera.

    Notes
    -----
    Law of propagation (JCGM 100:2008, equation 10) with central differences over one standard
    uncertainty for marks, sizes, lens and edge; exact first order for the tracing of each point.
    Tilt of a bar picture has no first-order effect on average, so second moments of its
    second-order effect are counted as well.  The course between points is taken as rectangular:
    half the difference between smooth and straight, either way; the length is as uncertain as a
    ten times stronger or weaker smoothing makes it.  Points closer together than about four
    tracing errors still make the perimeter too long; a screen sets them farther apart.
    """
    if outline.ndim != 2 or outline.shape[1:] != (2,) or len(outline) > MOST_POINTS:
        raise GeometryError(f"An outline has 3 to {MOST_POINTS} points with two coordinates.")
    if len(outline) < 3:
        raise GeometryError("An outline has at least three points.", "Trace it all round.")
    to_plane = scale.to_plane(camera, errors, Pose())
    points = _on_plane(outline, to_plane)
    smoothing = hand_smoothing(outline)
    # refuses what encloses nothing or crosses itself; a hand that trembles in place may
    Outline(to_plane(untangled(outline)))
    curve = closed_curve(outline, join, smoothing)
    look = _Look(camera, errors)
    best = look.size(curve, scale)
    # middle of the curve, not of the points: they need not be evenly spaced
    off = scale.unseen_perspective(camera, curve.for_area.mean(axis=0))
    pixel = math.sqrt(best.area / enclosed_area(curve.for_area))
    away = errors.height / (camera.focal * pixel)  # of the distance to the camera
    normal = outwards(outline)
    moved = [
        closed_curve(outline + sign * errors.edge * normal, join, smoothing) for sign in (1.0, -1.0)
    ]
    doubts = {
        Cause.MARKS: best.spread(look.with_marks(curve, scale)),
        Cause.SIZE: best.spread(look.with_sizes(curve, scale)),
        Cause.TRACING: look.tracing(outline, scale, best, smoothing),
        Cause.EDGE: best.spread([look.size(c, scale) for c in moved]),
        Cause.BETWEEN: look.between(outline, scale, best, join, smoothing),
        Cause.LENS: best.spread(
            [look.size(curve, scale, Pose(lens=sign * errors.lens)) for sign in (1.0, -1.0)]
        ),
        Cause.TILT: look.tilt(curve, scale, best),
        Cause.PERSPECTIVE: Doubt(3.0 * off, 1.5 * off),
        Cause.HEIGHT: Doubt(2.0 * away, away),
    }
    return TracedSection(points, best.area, best.length, doubts, pixel)


def _on_plane(points: Array, to_plane: ToPlane) -> Array:
    placed = to_plane(points)
    if not np.all(np.isfinite(placed)):
        raise GeometryError("The outline leaves the part of the picture that shows the plane.")
    return placed


@dataclass(frozen=True, slots=True)
class _Size:
    """Area and length of one reading of the picture."""

    area: float
    length: float

    def spread(self, pairs: Sequence[_Size]) -> Doubt:
        """Root sum of squares of half the differences, taken two by two."""
        area = [0.5 * (u.area - d.area) for u, d in zip(pairs[::2], pairs[1::2], strict=True)]
        length = [0.5 * (u.length - d.length) for u, d in zip(pairs[::2], pairs[1::2], strict=True)]
        return Doubt(math.hypot(*area) / self.area, math.hypot(*length) / self.length)


@dataclass(frozen=True, slots=True)
class _Look:
    """Ways of reading one picture."""

    camera: Camera
    errors: PictureErrors

    def size(self, curve: Curve, scale: Scale, pose: Pose = _SQUARE) -> _Size:
        to_plane = scale.to_plane(self.camera, self.errors, pose)
        return _Size(
            enclosed_area(_on_plane(curve.for_area, to_plane)),
            closed_length(_on_plane(curve.for_length, to_plane)),
        )

    def with_marks(self, curve: Curve, scale: Scale) -> list[_Size]:
        """Each mark moved one standard uncertainty either way, across and down."""
        found = []
        for index in np.ndindex(*scale.marks.shape):
            step = np.zeros_like(scale.marks)
            step[index] = self.errors.marking
            found += [
                self.size(curve, replace(scale, marks=marks))
                for marks in (scale.marks + step, scale.marks - step)
            ]
        return found

    def with_sizes(self, curve: Curve, scale: Scale) -> list[_Size]:
        """Each size of the scale one standard uncertainty larger and smaller."""
        found = []
        for index in range(scale.sizes.size):
            step = np.zeros_like(scale.sizes)
            step[index] = min(float(scale.size_errors[index]), 0.5 * float(scale.sizes[index]))
            found += [
                self.size(curve, replace(scale, sizes=sizes))
                for sizes in (scale.sizes + step, scale.sizes - step)
            ]
        return found

    def tracing(self, outline: Array, scale: Scale, best: _Size, smoothing: float) -> Doubt:
        """Every point moved on its own, to first order."""
        to_plane = scale.to_plane(self.camera, self.errors, _SQUARE)
        points = to_plane(outline)
        # a whole pixel: small against any outline, large against round-off
        across, down = (
            to_plane(outline + step) - to_plane(outline - step) for step in 0.5 * np.eye(2)
        )

        def felt(pull: Array) -> float:
            each = np.sum(pull * across, axis=1) ** 2 + np.sum(pull * down, axis=1) ** 2
            return self.errors.tracing * math.sqrt(float(np.sum(each)))

        return Doubt(
            felt(area_pull(points)) / best.area, felt(length_pull(points, smoothing)) / best.length
        )

    def between(
        self, outline: Array, scale: Scale, best: _Size, join: Join, smoothing: float
    ) -> Doubt:
        """Course between points, and for the length how much of the hand is smoothed away."""
        other = Join.STRAIGHT if join is Join.SMOOTH else Join.SMOOTH
        apart = self.size(closed_curve(outline, other, 0.0), scale)
        width = 1.0 / math.sqrt(12.0)
        length = width * abs(best.length - apart.length)
        if smoothing > 0.0:  # then the length is that of a smooth curve whatever the choice
            more, less = (
                self.size(closed_curve(outline, join, smoothing * factor), scale).length
                for factor in _SMOOTHING_DOUBT
            )
            length = 0.5 * abs(less - more)
        return Doubt(width * abs(best.area - apart.area) / best.area, length / best.length)

    def tilt(self, curve: Curve, scale: Scale, best: _Size) -> Doubt:
        """Camera turned about both axes of the picture, to second order."""
        area, length = 0.0, 0.0
        for axis in np.eye(2):
            up, down = (
                self.size(curve, scale, Pose(tilt=(angle * axis[0], angle * axis[1])))
                for angle in (self.errors.tilt, -self.errors.tilt)
            )
            area += _second_moment(up.area, down.area, best.area)
            length += _second_moment(up.length, down.length, best.length)
        return Doubt(math.sqrt(area) / best.area, math.sqrt(length) / best.length)


def _second_moment(up: float, down: float, at: float) -> float:
    """Mean square of ``b t + c t^2`` about 0 for a normal t, from its values at one deviation."""
    slope, bend = 0.5 * (up - down), 0.5 * (up + down) - at
    return slope**2 + 3.0 * bend**2
