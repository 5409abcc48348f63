"""Straight lines: ordinary least squares, and York's line with errors in both variables."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import root_scalar

from portwright.core.curve import Array
from portwright.errors import NotConvergedError, RangeError, ShapeError


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted line ``y = intercept + slope x``.

    Parameters
    ----------
    intercept, slope : float
        Units of y, and of y over x.
    intercept_deviation, slope_deviation : float
        Their standard uncertainties.
    correlation : float
        Correlation of the two estimates. [-]
    residual_deviation : float
        Root mean square residual per degree of freedom; relative to the stated uncertainties
        for York's line. [units of y, or -]
    determination : float
        Share of the variance of y explained, R squared; NaN for York's line. [-]
    degrees_of_freedom : int
        Number of points less two. [-]
    """

    intercept: float
    slope: float
    intercept_deviation: float
    slope_deviation: float
    correlation: float
    residual_deviation: float
    determination: float
    degrees_of_freedom: int

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line at ``x`` and its standard uncertainty, both in units of y."""
        covariance = self.correlation * self.intercept_deviation * self.slope_deviation
        variance = (
            self.intercept_deviation**2 + (x * self.slope_deviation) ** 2 + 2.0 * x * covariance
        )
        return self.intercept + self.slope * x, math.sqrt(max(variance, 0.0))


def _checked(*columns: Array) -> tuple[Array, ...]:
    arrays = tuple(np.asarray(c, dtype=np.float64) for c in columns)
    if len({a.shape for a in arrays}) != 1 or arrays[0].ndim != 1:
        raise ShapeError("The columns of a line fit have different lengths.")
    if arrays[0].size < 3:
        raise ShapeError(f"A line fit needs at least three points, got {arrays[0].size}.")
    if np.ptp(arrays[0]) == 0.0:
        raise RangeError("A line fit needs at least two different x values.")
    return arrays


def fit_line(x: Array, y: Array) -> Line:
    """Fit a straight line by ordinary least squares; all error is in y, equal and unknown.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least three points.

    Returns
    -------
    Line

    Raises
    ------
    ShapeError
        Different lengths or fewer than three points.
    RangeError
        All x equal.

    Notes
    -----
    Definition of least squares, on centred values so that no digits are lost.  Checked against
    the NIST StRD data set Norris.
    """
    x, y = _checked(x, y)
    free = x.size - 2
    x_mean, y_mean = float(x.mean()), float(y.mean())
    u, v = x - x_mean, y - y_mean
    sxx = float(u @ u)
    slope = float(u @ v) / sxx
    residual = v - slope * u
    square = float(residual @ residual)
    deviation = math.sqrt(square / free)
    slope_deviation = deviation / math.sqrt(sxx)
    intercept_deviation = deviation * math.sqrt(1.0 / x.size + x_mean**2 / sxx)
    total = float(v @ v)
    return Line(
        intercept=y_mean - slope * x_mean,
        slope=slope,
        intercept_deviation=intercept_deviation,
        slope_deviation=slope_deviation,
        correlation=-x_mean / math.sqrt(sxx / x.size + x_mean**2),
        residual_deviation=deviation,
        determination=1.0 - square / total if total > 0.0 else math.nan,
        degrees_of_freedom=free,
    )


def fit_line_both(
    x: Array, y: Array, x_deviation: Array, y_deviation: Array, *, iterations: int = 200
) -> Line:
    """Fit a straight line when x and y both carry known, independent uncertainties.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least three points.
    x_deviation, y_deviation : ndarray, shape (n,)
        Standard uncertainties, above zero; units of x and y.
    iterations : int
        Limit on the iteration for the slope. [-]

    Returns
    -------
    Line
        ``residual_deviation`` squared is chi-square per degree of freedom: near 1 when the stated
        uncertainties explain the scatter.

    Raises
    ------
    ShapeError, RangeError
        As for :func:`fit_line`; an uncertainty that is not above zero.
    NotConvergedError
        The slope did not settle.

    References
    ----------
    York, Evensen, Lopez Martinez and De Basabe Delgado, Unified equations for the slope,
    intercept, and standard errors of the best straight line, American Journal of Physics 72,
    367 (2004), equations 13a-13d with uncorrelated errors.
    """
    x, y, sx, sy = _checked(x, y, x_deviation, y_deviation)
    if not (np.all(sx > 0.0) and np.all(sy > 0.0)):
        raise RangeError("Uncertainties of a line fit in both variables must be above zero.")
    wx, wy = sx**-2, sy**-2
    slope = fit_line(x, y).slope
    for _ in range(iterations):
        weight = wx * wy / (wx + slope**2 * wy)
        u = x - np.average(x, weights=weight)
        v = y - np.average(y, weights=weight)
        beta = weight * (u / wy + slope * v / wx)
        last, slope = slope, float((weight * beta) @ v / ((weight * beta) @ u))
        if abs(slope - last) <= 1e-15 * abs(slope):
            break
    else:
        if abs(slope - last) > 1e-12 * abs(slope):
            raise NotConvergedError("The line fit with errors in both variables did not settle.")
    x_mean, y_mean = float(np.average(x, weights=weight)), float(np.average(y, weights=weight))
    intercept = y_mean - slope * x_mean
    adjusted = x_mean + beta
    adjusted_mean = float(np.average(adjusted, weights=weight))
    slope_variance = 1.0 / float(weight @ (adjusted - adjusted_mean) ** 2)
    intercept_variance = 1.0 / float(weight.sum()) + adjusted_mean**2 * slope_variance
    free = x.size - 2
    square = float(weight @ (y - intercept - slope * x) ** 2)
    return Line(
        intercept=intercept,
        slope=slope,
        intercept_deviation=math.sqrt(intercept_variance),
        slope_deviation=math.sqrt(slope_variance),
        correlation=-adjusted_mean * math.sqrt(slope_variance / intercept_variance),
        residual_deviation=math.sqrt(square / free),
        determination=math.nan,
        degrees_of_freedom=free,
    )


def fit_slope_correlated(x: Array, y: Array, covariance_x: Array, covariance_y: Array) -> float:
    """Slope of York's line when errors are shared between points.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        At least three points.
    covariance_x, covariance_y : ndarray, shape (n, n)
        Covariance of the errors of each; those of x and y are taken as independent.

    Returns
    -------
    float
        Units of y over x.

    Raises
    ------
    ShapeError, RangeError
        As :func:`fit_line`.
    NotConvergedError
        The slope does not settle.

    Notes
    -----
    The slope ``b`` at which ``r^T V^-1 r`` is least, with ``r = y - a - b x``,
    ``V = C_y + b^2 C_x`` and ``a`` the best intercept for that slope.  For independent errors this
    is the sum York minimises (D. York et al., Am. J. Phys. 72, 367 (2004)), and it gives his line.
    """
    x, y = _checked(x, y)

    def steepness(slope: float) -> float:
        inverse = np.linalg.inv(covariance_y + slope**2 * covariance_x)
        residual = y - slope * x
        residual = residual - (inverse @ residual).sum() / inverse.sum()
        pull = inverse @ residual
        return float(-(x @ pull) - slope * (pull @ covariance_x @ pull))

    start = fit_line(x, y).slope
    span = 0.01 * max(abs(start), 1e-3)
    found = root_scalar(steepness, x0=start, x1=start + span, xtol=1e-14, rtol=1e-13, maxiter=100)
    if not found.converged:
        raise NotConvergedError("The line fit with shared errors did not settle.")
    return float(found.root)
