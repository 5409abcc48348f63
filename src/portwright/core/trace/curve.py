"""Closed curve through hand-traced points: area, length, and how both feel each point."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.interpolate import CubicSpline

from portwright.core.constants import Array

_PER_SPAN = 12  # chords per span of the smooth curve: 0.02 % of a circle drawn with 8 points
_FEWEST_TO_SMOOTH = 16  # below, the shape itself cannot be told from a shaking hand
_SMOOTHING = tuple(float(s) for s in np.logspace(-3.0, 5.0, 25))


class Join(StrEnum):
    """How the curve runs between traced points."""

    SMOOTH = "smooth"
    STRAIGHT = "straight"


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Closed curve as two fine polygons.

    A shaking hand leaves the area right on average, because the shoelace formula is linear in each
    point, but always makes the line longer; so only the length is taken from smoothed points.

    Parameters
    ----------
    for_area, for_length : ndarray, shape (m, 2)
        Through the points, and through the smoothed points. [px or m]
    """

    for_area: Array
    for_length: Array


def joined(points: Array, join: Join) -> Array:
    """Dense points along the closed curve.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points in order, the last joining the first. [m]
    join : Join
        Straight sides, or a smooth curve.

    Returns
    -------
    ndarray, shape (m, 2)
        Corners of a fine polygon. [m]

    Notes
    -----
    Smooth: periodic cubic spline over the square root of the distance between points, which
    does not swing out where points stand close together.
    """
    if join is Join.STRAIGHT:
        return points
    closed = np.vstack((points, points[:1]))
    step = np.sqrt(np.hypot(*np.diff(closed, axis=0).T))
    place = np.concatenate(([0.0], np.cumsum(np.maximum(step, 1e-9 * step.max()))))
    share = np.arange(_PER_SPAN) / _PER_SPAN
    fine = (place[:-1, np.newaxis] + np.diff(place)[:, np.newaxis] * share).ravel()
    curve: Array = CubicSpline(place, closed, bc_type="periodic")(fine)
    return curve


def enclosed_area(polygon: Array) -> float:
    """Area of a polygon by the shoelace formula, either way round. [m2]

    Parameters
    ----------
    polygon : ndarray, shape (n, 2)
        Corners in order. [m]
    """
    start = polygon - polygon[0]
    end = np.roll(start, -1, axis=0)
    return 0.5 * abs(float(np.sum(start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1])))


def closed_length(polygon: Array) -> float:
    """Sum of the sides of a polygon. [m]

    Parameters
    ----------
    polygon : ndarray, shape (n, 2)
        Corners in order. [m]
    """
    return float(np.sum(np.hypot(*(np.roll(polygon, -1, axis=0) - polygon).T)))


def closed_curve(points: Array, join: Join, smoothing: float) -> Curve:
    """Closed curve through some points.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points. [px or m]
    join : Join
        Course between them.
    smoothing : float
        As :func:`hand_smoothing` found it; for the length only. [-]

    Returns
    -------
    Curve
        Fine polygons. [px or m]
    """
    if smoothing == 0.0:
        curve = joined(points, join)
        return Curve(curve, curve)
    return Curve(joined(points, join), joined(smoothed(points, smoothing), Join.SMOOTH))


def _kept(n: int, smoothing: float) -> Array:
    """Share of each frequency of a closed row of points that smoothing leaves."""
    wave = 2.0 * np.sin(np.pi * np.arange(n // 2 + 1) / n)
    kept: Array = 1.0 / (1.0 + smoothing * wave**6)
    return kept


def _filtered(points: Array, smoothing: float) -> Array:
    spectrum = np.fft.rfft(points, axis=0) * _kept(len(points), smoothing)[:, np.newaxis]
    calm: Array = np.fft.irfft(spectrum, n=len(points), axis=0)
    return calm


def untangled(points: Array) -> Array:
    """Closed row of points without the knots of a hand that trembles in place.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points. [m]

    Returns
    -------
    ndarray, shape (n, 2)
        Points smoothed in every direction; fewer than 16 as they are.  Shows how the outline runs,
        not how large it is. [m]

    Notes
    -----
    Whittaker's graduation with unit weight: what alternates from point to point goes.
    """
    return points if len(points) < _FEWEST_TO_SMOOTH else _filtered(points, 1.0)


def _normals(points: Array) -> Array:
    return outwards(untangled(points))


def _across(vectors: Array, normal: Array) -> Array:
    """Part of each vector that is square to the curve."""
    part: Array = np.sum(vectors * normal, axis=1, keepdims=True) * normal
    return part


def smoothed(points: Array, smoothing: float) -> Array:
    """Closed row of points with the shaking of the hand taken out.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points. [m]
    smoothing : float
        Weight of third differences against distance from the points; 0 leaves them. [-]

    Returns
    -------
    ndarray, shape (n, 2)
        Smoothed points. [m]

    Notes
    -----
    Minimum of ``|y - x|^2 + s |D^3 y|^2`` over closed rows y (Whittaker's graduation), in closed
    form by the Fourier transform.  Points move square to the curve only: uneven spacing along it
    is no error.
    """
    if smoothing == 0.0:
        return points
    calm: Array = points + _across(_filtered(points, smoothing) - points, _normals(points))
    return calm


def hand_smoothing(points: Array) -> float:
    """Smoothing that predicts each point best from its neighbours.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points. [m]

    Returns
    -------
    float
        For :func:`smoothed`; 0 for fewer than 16 points. [-]

    Notes
    -----
    Generalised cross-validation, ``min |x - y|^2 / (1 - trace/n)^2``, with the distances square to
    the curve.
    """
    n = len(points)
    if n < _FEWEST_TO_SMOOTH:
        return 0.0
    normal = _normals(points)
    wave = 2.0 * np.abs(np.sin(np.pi * np.arange(n) / n))

    def score(smoothing: float) -> float:
        apart = np.sum((_filtered(points, smoothing) - points) * normal, axis=1)
        free = 1.0 - float(np.mean(1.0 / (1.0 + smoothing * wave**6)))
        return float(np.sum(apart**2)) / free**2

    return float(min(_SMOOTHING, key=score))


def area_pull(points: Array) -> Array:
    """Change of area with each point of a polygon, shape (n, 2), signed as the polygon runs. [m]

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Corners. [m]
    """
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    pull: Array = 0.5 * np.column_stack((after[:, 1] - before[:, 1], before[:, 0] - after[:, 0]))
    return pull


def length_pull(points: Array, smoothing: float) -> Array:
    """Change of the smoothed length with each traced point, shape (n, 2). [-]

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Traced points. [m]
    smoothing : float
        As used for the length. [-]
    """
    calm = smoothed(points, smoothing)
    side: Array = np.roll(calm, -1, axis=0) - calm
    along = side / np.maximum(np.hypot(*side.T), 1e-300)[:, np.newaxis]
    pull: Array = np.roll(along, 1, axis=0) - along
    if smoothing == 0.0:
        return pull
    part = _across(pull, _normals(points))
    felt: Array = pull + _filtered(part, smoothing) - part
    return felt


def outwards(points: Array) -> Array:
    """Unit vectors square to the curve at each point, all to the same side, shape (n, 2). [-]

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Points in order round the curve. [px]
    """
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    size = np.maximum(np.hypot(*along.T), 1e-300)
    normal: Array = np.column_stack((along[:, 1], -along[:, 0])) / size[:, np.newaxis]
    return normal
