"""Perspective from points whose places in the plane are known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.core.trace.camera import Camera, undistorted
from portwright.errors import GeometryError

_STEPS = 6  # Gauss-Newton steps; the problem is nearly linear and settles in three
_ENOUGH_FOR_LENS = 6  # points from which a lens coefficient can be told beside eight others


@dataclass(frozen=True, slots=True, eq=False)
class Perspective:
    """How a plane was seen.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        Homography from undistorted picture points to the plane.
    lens : float
        Radial coefficient of the lens. [-]
    residual : float
        Root mean square distance of the marks from where they should be; 0 where four marks
        leave nothing to check. [px]
    """

    matrix: Array
    lens: float
    residual: float


def project(matrix: Array, points: Array) -> Array:
    """Points seen through a homography.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        The homography. [-]
    points : ndarray, shape (n, 2)
        Points in any unit. [-]

    Returns
    -------
    ndarray, shape (n, 2)
        Their images; definition in homogeneous coordinates. [-]
    """
    seen = points @ matrix[:, :2].T + matrix[:, 2]
    image: Array = seen[:, :2] / seen[:, 2:]
    return image


def view_of_square(corners: Array) -> Array:
    """Homography that brings the unit square to four points.

    Parameters
    ----------
    corners : ndarray, shape (4, 2)
        Where (0, 0), (1, 0), (1, 1) and (0, 1) go. [-]

    Raises
    ------
    GeometryError
        Three of them lie on one line.
    """
    return _direct(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]), corners)


def fit_perspective(
    marks: Array, known: Array, camera: Camera, *, marking: float, lens_mean: float, lens: float
) -> Perspective:
    """Perspective, and with six or more marks the lens too, from marks of known place.

    Parameters
    ----------
    marks : ndarray, shape (n, 2)
        At least four marks on the picture. [px]
    known : ndarray, shape (n, 2)
        The same points in the plane. [m]
    camera : Camera
        The picture.
    marking : float
        Standard uncertainty of a mark. [px]
    lens_mean, lens : float
        Lens coefficient expected before looking, and its standard uncertainty. [-]

    Returns
    -------
    Perspective
        Exact through four marks; most likely for more.

    Raises
    ------
    GeometryError
        Marks on one line, or that cannot be a view of these points.

    Notes
    -----
    Least squares of mark errors over ``marking`` together with the lens coefficient's distance
    from its expected value over ``lens`` (maximum a posteriori); Gauss-Newton from the direct
    linear solution.
    """
    size = float(np.max(np.ptp(known, axis=0)))
    origin = known.mean(axis=0)
    plane = (known - origin) / size
    unit = camera.half_diagonal
    fitted = lens_mean
    seen = (undistorted(marks, camera, fitted) - camera.centre) / unit
    view = _direct(plane, seen)
    residual = 0.0
    if len(marks) >= _ENOUGH_FOR_LENS:
        weight = unit / max(marking, 1e-6)
        view, fitted = _refined(view, plane, marks, camera, weight, lens_mean, max(lens, 1e-9))
        seen = (undistorted(marks, camera, fitted) - camera.centre) / unit
        apart = (project(view, plane) - seen) * unit
        residual = float(np.sqrt(np.mean(np.sum(apart**2, axis=1))))
    depth = plane @ view[2, :2] + view[2, 2]
    if not np.all(np.isfinite(view)) or np.min(depth * np.sign(depth[0])) <= 0.0:
        raise _no_view()
    to_picture = np.diag([unit, unit, 1.0]) @ view
    to_picture[:2] += np.outer(camera.centre, view[2])
    place = np.array([[size, 0.0, origin[0]], [0.0, size, origin[1]], [0.0, 0.0, 1.0]])
    return Perspective(place @ np.linalg.inv(to_picture), fitted, residual)


def _no_view() -> GeometryError:
    return GeometryError(
        "The marks cannot be a view of that frame.",
        "Mark its corners in order round it, none on a line with two others.",
    )


def _direct(plane: Array, seen: Array) -> Array:
    """Homography with unit last element by the direct linear method."""
    (x, y), (u, v) = plane.T, seen.T
    one, none = np.ones_like(x), np.zeros_like(x)
    across = np.column_stack((x, y, one, none, none, none, -u * x, -u * y))
    down = np.column_stack((none, none, none, x, y, one, -v * x, -v * y))
    try:
        h, _, rank, _ = np.linalg.lstsq(
            np.vstack((across, down)), np.concatenate((u, v)), rcond=1e-9
        )
    except np.linalg.LinAlgError as error:
        raise _no_view() from error
    if rank < h.size:
        raise _no_view()
    view: Array = np.append(h, 1.0).reshape(3, 3)
    if abs(np.linalg.det(view)) < 1e-9:
        raise _no_view()
    return view


def _refined(
    view: Array,
    plane: Array,
    marks: Array,
    camera: Camera,
    weight: float,
    lens_mean: float,
    lens_error: float,
) -> tuple[Array, float]:
    h, lens = view.ravel()[:8].copy(), lens_mean
    unit = camera.half_diagonal
    offset = (marks - camera.centre) / unit
    bend = offset * np.sum(offset**2, axis=1, keepdims=True)
    x, y = plane.T
    one, none = np.ones_like(x), np.zeros_like(x)
    for _ in range(_STEPS):
        w = h[6] * x + h[7] * y + 1.0
        u, v = (h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w
        left = np.column_stack(
            (x / w, y / w, one / w, none, none, none, -u * x / w, -u * y / w, -bend[:, 0])
        )
        right = np.column_stack(
            (none, none, none, x / w, y / w, one / w, -v * x / w, -v * y / w, -bend[:, 1])
        )
        apart = np.concatenate(
            (u - offset[:, 0] - lens * bend[:, 0], v - offset[:, 1] - lens * bend[:, 1])
        )
        prior = np.zeros(9)
        prior[8] = 1.0 / lens_error
        rows = np.vstack((weight * np.vstack((left, right)), prior))
        misfit = np.append(weight * apart, (lens - lens_mean) / lens_error)
        step = np.linalg.lstsq(rows, -misfit, rcond=None)[0]
        h, lens = h + step[:8], lens + float(step[8])
    return np.append(h, 1.0).reshape(3, 3), lens
