"""The marks of a frame from its lines or edges: along each a hundred places are known, not two."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.optimize import minimize_scalar

from portwright.core.constants import Array
from portwright.core.trace.camera import Camera, undistorted
from portwright.core.trace.homography import project, view_of_square
from portwright.core.trace.light import linear_light
from portwright.errors import GeometryError

_PLACES = 160  # along each side
_ENDS = 0.04  # of a side left out at either corner, where two lines run into each other
_REACH = 0.02  # how far a hand's mark may lie from the line, of the picture's longer side
_LEAST_REACH = 8.0  # [px]
_OFF_LINE = 1.0  # distance from the common line at which a place is left out [px]
_ENOUGH = 0.5  # of the places of a side that must lie on one line
_STANDS_OUT = 3.0  # depth of a line over the unrest beside it
_MOST_LENS = 0.1
_PASSES = 4
_CLOSER = (8.0, 4.0, 2.0)  # how far a place may lie from the course, pass by pass [px]


@dataclass(frozen=True, slots=True, eq=False)
class FrameLines:
    """What the lines of a frame say.

    Parameters
    ----------
    marks : ndarray, shape (8, 2)
        Corner, middle of the side, corner and so on, in the order marked. [px]
    lens : float
        Radial lens coefficient that makes the lines straight. [-]
    scatter : float
        Root mean square distance of single places from the lines. [px]
    """

    marks: Array
    lens: float
    scatter: float


def frame_lines(picture: NDArray[np.uint8], corners: Array) -> FrameLines:
    """Find the printed lines, or the edges of a sheet, between four corners marked by hand.

    Parameters
    ----------
    picture : ndarray, shape (height, width, 3)
        Picture in sRGB. [-]
    corners : ndarray, shape (4, 2)
        Corners in order round the frame, each within a fiftieth of the picture's longer side. [px]

    Returns
    -------
    FrameLines
        Marks in the middle of the lines or on the edges, and the lens.

    Raises
    ------
    GeometryError
        Nothing straight stands out between two of the corners, or they do not go round a frame.

    Notes
    -----
    A printed line is straight, and so is the edge of a cut sheet: whatever bends it is the lens.
    Across an edge the light changes most where it lies, so its slope is looked at as a line is;
    each side is taken for whichever of both more of its places agree on.  The lens coefficient is
    the one that leaves the least squares of distances from four straight lines.  At half the
    picture's width a lens of 0.005 bends a side by a third of a pixel, too little for a hand's
    marks to show, and ten times what the mean of a hundred places is known to.  Corners are where
    the lines meet; the middle of a side follows from the perspective of the four corners (the
    middle of a rectangle's side whatever its two sizes).
    """
    height, width = picture.shape[:2]
    camera = Camera(float(width), float(height))
    reach = max(_LEAST_REACH, _REACH * max(height, width))
    light = linear_light(picture).mean(axis=-1, dtype=np.float32)
    ends = zip(corners, np.roll(corners, -1, axis=0), strict=True)
    sides = [_line(light, a, b, reach) for a, b in ends]

    def missed(lens: float) -> float:
        return math.fsum(_fit(undistorted(side, camera, lens))[2] for side in sides)

    found = minimize_scalar(missed, bounds=(-_MOST_LENS, _MOST_LENS), method="bounded")
    lens = float(found.x)
    scatter = math.sqrt(missed(lens) / sum(len(side) for side in sides))
    fitted = [_fit(undistorted(side, camera, lens))[:2] for side in sides]
    met = np.array([_meeting(fitted[i - 1], fitted[i]) for i in range(4)])
    view = view_of_square(met)
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    middles = project(view, 0.5 * (square + np.roll(square, -1, axis=0)))
    straight = np.stack((met, middles), axis=1).reshape(8, 2)
    return FrameLines(_bent(straight, camera, lens), lens, scatter)


def _line(light: Array, start: Array, end: Array, reach: float) -> Array:
    """Places on the line or edge between two marks, shape (n, 2). [px]"""
    along = end - start
    length = float(np.hypot(*along))
    if length < 4.0 * reach:
        raise GeometryError("The corners of the frame lie too close together.", "Mark them again.")
    along = along / length
    across = np.array([-along[1], along[0]])
    share = np.linspace(_ENDS, 1.0 - _ENDS, _PLACES)
    base = start + share[:, np.newaxis] * (end - start)
    offset = np.arange(-math.ceil(reach), math.ceil(reach) + 0.25, 0.5)
    place = base[:, np.newaxis] + offset[:, np.newaxis] * across
    seen = ndimage.map_coordinates(
        light, [place[..., 1] - 0.5, place[..., 0] - 0.5], order=1, mode="nearest"
    )
    line = np.median(seen, axis=1, keepdims=True) - seen
    # even smoothing leaves the steepest place where it is
    edge = ndimage.gaussian_filter1d(seen, 2.0, axis=1, order=1)
    traced = [one for apart in (line, edge) if (one := _traced(apart, share, offset))]
    if not traced:
        raise _no_line()
    at, kept = max(traced, key=lambda one: int(one[1].sum()))
    found: Array = base[kept] + at[kept, np.newaxis] * across
    return found


def _traced(apart: Array, share: Array, offset: Array) -> tuple[Array, NDArray[np.bool_]] | None:
    """Where what stands out lies at each place, and which places agree; None if too few do."""
    calm = ndimage.gaussian_filter(apart, (3.0, 2.0))
    if np.median(calm.max(axis=1)) < np.median(-calm.min(axis=1)):
        apart, calm = -apart, -calm  # a light line on a dark sheet, an edge to the other side
    unrest = 1.4826 * float(np.median(np.abs(calm - np.median(calm))))
    peak = np.argmax(calm, axis=1)
    stands = calm.max(axis=1) > max(_STANDS_OUT * unrest, 1e-4)
    try:
        course = _course(share, offset[peak], stands)
        for _ in range(_PASSES):
            at, kept = _centres(apart, offset, course)
            kept &= np.abs(at - course) < 2.0
            course = _course(share, at, kept)
    except GeometryError:
        return None
    kept &= np.abs(at - course) < _OFF_LINE
    return (at, kept) if kept.sum() >= _ENOUGH * _PLACES else None


def _no_line() -> GeometryError:
    return GeometryError(
        "Neither a printed line nor the edge of a sheet stands out between the marked corners.",
        "Mark the four corners closer to them, or mark eight points by hand.",
    )


def _course(share: Array, at: Array, kept: NDArray[np.bool_]) -> Array:
    """Smooth course of a nearly straight line through most of the places."""
    if kept.sum() < _ENOUGH * len(share):
        raise _no_line()
    x = 2.0 * share - 1.0
    rise, run = (np.subtract.outer(v[kept], v[kept]) for v in (at, x))
    far = run > 0.5
    # the median of slopes and heights: the first course must not follow stray places
    course: Array = (slope := float(np.median(rise[far] / run[far]))) * x
    course = course + float(np.median((at - slope * x)[kept]))
    for bound in _CLOSER:
        near = kept & (np.abs(at - course) < bound)
        if near.sum() < _ENOUGH * len(share):
            raise _no_line()
        course = np.polynomial.Polynomial.fit(x[near], at[near], 3, domain=[-1.0, 1.0])(x)
    return course


def _centres(apart: Array, offset: Array, course: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Middle of the line at each place: centre of gravity of what stands out near its course."""
    near = np.abs(offset - course[:, np.newaxis])
    deep = np.where(near < 1.0, apart, -np.inf).max(axis=1, keepdims=True)
    wide = 2.5 + _half_width(apart, offset, course)
    # what the sheet is beside the line, on either side, sloping light included
    ring = (near >= wide) & (near < wide + 4.0)
    left, right = ring & (offset < course[:, np.newaxis]), ring & (offset > course[:, np.newaxis])
    with np.errstate(invalid="ignore", divide="ignore"):
        low = np.sum(apart * left, axis=1) / left.sum(axis=1)
        high = np.sum(apart * right, axis=1) / right.sum(axis=1)
    slope = (high - low)[:, np.newaxis] / (2.0 * (wide + 2.0))
    ground = 0.5 * (low + high)[:, np.newaxis] + slope * (offset - course[:, np.newaxis])
    weight = np.where(near < wide, apart - ground, 0.0)
    total = weight.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        at = np.sum(weight * (offset - course[:, np.newaxis]), axis=1) / total + course
    usable = np.isfinite(at) & (total > 0.0) & (deep[:, 0] > 0.0)
    return np.where(usable, at, course), usable


def _half_width(apart: Array, offset: Array, course: Array) -> float:
    """Half the width of the line at half its depth. [px]"""
    near = np.array(
        [
            np.interp(np.arange(0.0, 8.0, 0.25), offset - c, row)
            for c, row in zip(course, apart, strict=True)
        ]
    ).mean(axis=0)
    below = np.flatnonzero(near < 0.5 * near[0])
    return 0.25 * float(below[0]) if below.size else 8.0


def _fit(points: Array) -> tuple[Array, Array, float]:
    """Point on and direction of the straight line of least squares, and the sum of squares."""
    middle = points.mean(axis=0)
    values, vectors = np.linalg.eigh((points - middle).T @ (points - middle))
    return middle, vectors[:, 1], float(max(values[0], 0.0))


def _meeting(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array:
    """Where two lines meet."""
    try:
        share = np.linalg.solve(np.column_stack((one[1], -other[1])), other[0] - one[0])
    except np.linalg.LinAlgError as error:
        raise _no_line() from error
    met: Array = one[0] + share[0] * one[1]
    return met


def _bent(points: Array, camera: Camera, lens: float) -> Array:
    """Picture points that :func:`undistorted` brings to these."""
    bent = points.copy()
    for _ in range(30):  # contracts by 3 k
        bent = bent + points - undistorted(bent, camera, lens)
    return bent
