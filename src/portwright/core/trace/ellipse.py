"""Ellipse through marks on the rim of a circle seen at an angle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.errors import GeometryError

FEWEST = 5
"""Points that determine an ellipse. [-]"""

_FLATTEST = 0.5  # axes of a circle seen at 60 degrees; nobody photographs a section like that


@dataclass(frozen=True, slots=True, eq=False)
class FittedEllipse:
    """Points x with ``(x - c)' M (x - c) = 1``.

    Parameters
    ----------
    centre : ndarray, shape (2,)
        Middle c. [px]
    matrix : ndarray, shape (2, 2)
        Matrix M, symmetric and positive. [1/px2]
    """

    centre: Array
    matrix: Array

    @property
    def semi_axes(self) -> tuple[float, float]:
        """Half the longer and half the shorter axis. [px]"""
        low, high = np.linalg.eigvalsh(self.matrix)
        return float(low**-0.5), float(high**-0.5)

    @property
    def shorter_direction(self) -> Array:
        """Unit vector along the shorter axis, which is the direction of tilt. [-]"""
        direction: Array = np.linalg.eigh(self.matrix)[1][:, 1]
        return direction


def fit_ellipse(points: Array) -> FittedEllipse:
    """Ellipse of least algebraic distance to some points.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        At least five points on the rim, best all round it. [px]

    Returns
    -------
    FittedEllipse
        The ellipse.

    Raises
    ------
    GeometryError
        Fewer than five points, or points that lie on no ellipse that a circle could look like.

    Notes
    -----
    Direct least squares with the constraint ``4 a c - b^2 = 1`` in the two-block form of Halir
    and Flusser, "Numerically stable direct least squares fitting of ellipses", WSCG 1998 (from
    memory).
    """
    if len(points) < FEWEST:
        raise GeometryError(
            f"A circle needs at least {FEWEST} marks on its rim.", "Mark it all round."
        )
    middle = points.mean(axis=0)
    size = float(np.max(np.ptp(points, axis=0)))
    if not np.isfinite(size) or size <= 0.0:
        raise GeometryError("The marks of the circle lie on one spot.", "Mark it all round.")
    x, y = ((points - middle) / size).T
    quadratic = np.column_stack((x * x, x * y, y * y))
    linear = np.column_stack((x, y, np.ones_like(x)))
    try:
        reduce = -np.linalg.solve(linear.T @ linear, linear.T @ quadratic)
        scatter = quadratic.T @ quadratic + quadratic.T @ linear @ reduce
        constrained = np.array([0.5 * scatter[2], -scatter[1], 0.5 * scatter[0]])
        vectors = np.real(np.linalg.eig(constrained)[1])
    except np.linalg.LinAlgError as error:
        raise _no_ellipse() from error
    good = np.flatnonzero(4.0 * vectors[0] * vectors[2] - vectors[1] ** 2 > 0.0)
    if good.size == 0:
        raise _no_ellipse()
    a, b, c = vectors[:, good[0]]
    d, e, f = reduce @ vectors[:, good[0]]
    matrix = np.array([[a, 0.5 * b], [0.5 * b, c]])
    centre = -0.5 * np.linalg.solve(matrix, np.array([d, e]))
    level = float(centre @ matrix @ centre - f)
    matrix = matrix / level
    if not np.all(np.isfinite(matrix)) or np.linalg.eigvalsh(matrix)[0] <= 0.0:
        raise _no_ellipse()
    found = FittedEllipse(middle + size * centre, matrix / size**2)
    longer, shorter = found.semi_axes
    if shorter < _FLATTEST * longer:
        raise GeometryError(
            "The circle is seen far too flat.", "Hold the camera more squarely, or mark it anew."
        )
    return found


def _no_ellipse() -> GeometryError:
    return GeometryError("The marks lie on no ellipse.", "Mark the rim of the circle all round.")
