"""A first outline from the picture itself, for the porter to correct."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.color import rgb2lab
from skimage.draw import polygon2mask
from skimage.filters import threshold_otsu
from skimage.measure import find_contours
from skimage.segmentation import watershed

from portwright.core.constants import Array
from portwright.core.trace.curve import closed_length, enclosed_area, outwards
from portwright.core.trace.light import encoded, linear_light
from portwright.errors import GeometryError

Mask = NDArray[np.bool_]

_WORKING_SIZE = 640  # longer side of the picture in which the region is looked for [px]
_SEED_SHARE = 0.012  # radius of the patch that shows what is inside, of the picture's longer side
_LEAST_AREA, _MOST_AREA = 0.0005, 0.9  # of the picture: smaller is a speck, larger the background
_REACH = 6  # how far across the rough outline the edge is looked for [px of the working picture]
_MOST_POINTS = 120
_WITHIN = 0.94  # of the frame, from its middle, that an outline is looked for in
_JUST_SEEN = 1.0  # colour difference an eye just notices, in CIELAB [-]
_LEAST_CONTRAST = 1.0  # below, what was found is grain [-]


@dataclass(frozen=True, slots=True, eq=False)
class Suggestion:
    """An outline found round a point.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Outline. [px]
    contrast : float
        Colour step across it over the unevenness on either side; below about 2 the edge is
        doubtful. [-]
    """

    points: Array
    contrast: float


def suggest_outline(
    picture: NDArray[np.uint8], seed: tuple[float, float], frame: Array | None = None
) -> Suggestion:
    """Find the outline of what a point lies in.

    Parameters
    ----------
    picture : ndarray, shape (height, width, 3)
        Picture in sRGB. [-]
    seed : tuple of float
        A point inside. [px]
    frame : ndarray, shape (n, 2), optional
        Corners of the scale's frame.  An outline is looked for well within it, so that the frame
        itself is none; not where the point lies beyond. [px]

    Returns
    -------
    Suggestion
        The better of two: the region of like colour, and the region within the strongest edges.

    Raises
    ------
    GeometryError
        The point lies outside the picture, or nothing can be told round it.

    Notes
    -----
    Region of like colour: CIELAB distance from the patch round the point, split by Otsu's
    threshold.  Region within edges: watershed of the colour gradient between the patch and the
    border of the picture.  Either outline is then drawn to the place of the steepest colour
    change across it, found in the full picture.  No scale or size is read from it: it is a
    starting line for a person.
    """
    height, width = picture.shape[:2]
    if not (0.0 <= seed[0] < width and 0.0 <= seed[1] < height):
        raise GeometryError("That point lies outside the picture.", "Tap inside the outline.")
    step = max(1.0, max(height, width) / _WORKING_SIZE)
    lab = _colours(picture, step)
    patch = _patch(lab.shape[:2], (seed[0] / step, seed[1] / step))
    field = _field(lab.shape[:2], None if frame is None else frame / step)
    if not field[patch].all():
        field = _field(lab.shape[:2], None)
    found = [
        _sharpened(picture, contour * step, _REACH * step)
        for region in (_like(lab, patch, field), _within_edges(lab, patch, field))
        if (contour := _contour(region)) is not None
    ]
    best = max(found, key=lambda s: s.contrast, default=None)
    if best is None or best.contrast < _LEAST_CONTRAST:
        raise GeometryError(
            "No outline stands out round that point.", "Tap another place, or trace it by hand."
        )
    return best


def _colours(picture: NDArray[np.uint8], step: float) -> Array:
    """CIELAB of the picture made smaller, grain smoothed away."""
    share = 1.0 / step
    smooth = ndimage.gaussian_filter(picture.astype(np.float64), (0.5 * step, 0.5 * step, 0.0))
    rows, columns = (max(2, round(n * share)) for n in picture.shape[:2])
    at = np.minimum(((np.arange(rows) + 0.5) * step).astype(int), picture.shape[0] - 1)
    across = np.minimum(((np.arange(columns) + 0.5) * step).astype(int), picture.shape[1] - 1)
    small = smooth[np.ix_(at, across)] / 255.0
    lab: Array = ndimage.gaussian_filter(rgb2lab(small), (1.0, 1.0, 0.0))
    return lab


def _patch(shape: tuple[int, ...], seed: tuple[float, float]) -> Mask:
    radius = max(3.0, _SEED_SHARE * max(shape))
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]] + 0.5
    near: Mask = np.hypot(x - seed[0], y - seed[1]) <= radius
    return near


def _field(shape: tuple[int, ...], frame: Array | None) -> Mask:
    """Where an outline may lie: all but the rim of the picture, or of the frame in it."""
    field = np.zeros(shape, dtype=np.bool_)
    field[2:-2, 2:-2] = True
    if frame is not None:
        middle = frame.mean(axis=0)
        within = middle + _WITHIN * (frame - middle)
        field &= polygon2mask(shape, within[:, ::-1] - 0.5)
    return field


def _like(lab: Array, patch: Mask, field: Mask) -> Mask:
    colour = np.median(lab[patch], axis=0)
    apart = np.sqrt(np.sum((lab - colour) ** 2, axis=-1))
    region = field & (apart < threshold_otsu(apart[field]))
    return _one_piece(ndimage.binary_opening(region, iterations=2), patch)


def _within_edges(lab: Array, patch: Mask, field: Mask) -> Mask:
    slope = np.sqrt(
        sum(
            ndimage.gaussian_gradient_magnitude(lab[..., channel], 1.5) ** 2 for channel in range(3)
        )
    )
    markers = patch.astype(np.int32)
    markers[~field] = 2
    return _one_piece(watershed(slope, markers) == 1, patch)


def _one_piece(region: Mask, patch: Mask) -> Mask:
    """The piece of a region that holds most of the patch, without holes."""
    label, _ = ndimage.label(region)
    inside = label[patch]
    inside = inside[inside > 0]
    if inside.size == 0:
        return np.zeros_like(region)
    whole: Mask = ndimage.binary_fill_holes(label == np.bincount(inside).argmax())
    return whole


def _contour(region: Mask) -> Array | None:
    """Outline of a region in picture order (across, down), None if it is no usable region."""
    share = float(region.mean())
    if not _LEAST_AREA <= share <= _MOST_AREA:
        return None
    soft = ndimage.gaussian_filter(np.pad(region, 2).astype(np.float64), 1.0)
    longest = max(find_contours(soft, 0.5), key=len)
    points: Array = longest[:-1, ::-1] - 1.5  # middles of pixels lie half a pixel from the corner
    return points


def _evenly(points: Array, count: int) -> Array:
    closed = np.vstack((points, points[:1]))
    place = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))))
    at = place[-1] * np.arange(count) / count
    even: Array = np.column_stack([np.interp(at, place, axis) for axis in closed.T])
    return even


def _sharpened(picture: NDArray[np.uint8], rough: Array, reach: float) -> Suggestion:
    """Draw a rough outline to the steepest colour change across it."""
    count = int(np.clip(closed_length(rough) / 12.0, 24, _MOST_POINTS))
    points = _evenly(rough, count)
    for across in (reach, 0.5 * reach):  # the second pass starts from better directions
        points, contrast = _to_edge(picture, points, across)
    return Suggestion(points, contrast)


def _to_edge(picture: NDArray[np.uint8], points: Array, reach: float) -> tuple[Array, float]:
    normal = _steady(outwards(points))
    if enclosed_area(points + normal) < enclosed_area(points):
        normal = -normal
    offset = np.arange(-math.ceil(2.0 * reach), math.ceil(2.0 * reach) + 1, dtype=np.float64) * 0.5
    place = points[:, np.newaxis] + offset[:, np.newaxis] * normal[:, np.newaxis]
    low = np.maximum(np.floor(place.min(axis=(0, 1))).astype(int) - 2, 0)
    high = np.ceil(place.max(axis=(0, 1))).astype(int) + 2
    part = linear_light(picture[low[1] : high[1], low[0] : high[0]])
    sampled = [
        ndimage.map_coordinates(
            part[..., channel],
            [place[..., 1] - low[1] - 0.5, place[..., 0] - low[0] - 0.5],
            output=np.float64,
            order=1,
            mode="nearest",
        )
        for channel in range(3)
    ]
    # blur is even in light, so the edge lies where the slope is largest
    light = ndimage.gaussian_filter1d(np.stack(sampled, axis=-1), 2.0, axis=1)
    third = len(offset) // 3
    step = light[:, -third:].mean(axis=1) - light[:, :third].mean(axis=1)
    size = np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-9)
    along = np.einsum("nkc,nc->nk", light, step / size)  # from inside to outside
    slope = np.maximum(ndimage.gaussian_filter1d(np.gradient(along, axis=1), 1.0, axis=1), 0.0)
    best = np.argmax(slope * np.exp(-0.5 * (offset / reach) ** 2), axis=1)
    rows = np.arange(len(points))[:, np.newaxis]
    window = np.clip(best[:, np.newaxis] + np.arange(-4, 5), 0, len(offset) - 1)
    weight = slope[rows, window] + 1e-12
    moved = _without_jumps(np.sum(weight * offset[window], axis=1) / np.sum(weight, axis=1))
    lab = rgb2lab(encoded(light))
    inner, outer = lab[:, :third], lab[:, -third:]
    apart = np.linalg.norm(outer.mean(axis=1) - inner.mean(axis=1), axis=1)
    uneven = 0.5 * (inner.std(axis=1) + outer.std(axis=1)).sum(axis=1) + _JUST_SEEN
    return points + moved[:, np.newaxis] * normal, float(np.median(apart / uneven))


def _steady(normal: Array) -> Array:
    smooth = ndimage.gaussian_filter1d(normal, 1.0, axis=0, mode="wrap")
    steady: Array = smooth / np.maximum(np.linalg.norm(smooth, axis=1, keepdims=True), 1e-9)
    return steady


def _without_jumps(moved: Array) -> Array:
    """Single points that ran off to another edge follow their neighbours."""
    usual = ndimage.median_filter(moved, 5, mode="wrap")
    calm: Array = np.where(np.abs(moved - usual) > 2.0, usual, moved)
    return calm
