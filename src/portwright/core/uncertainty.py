"""Uncertainty of readings: components that know what they share, and the GUM's arithmetic."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.special import chdtri, ndtr, stdtrit

from portwright.core.bench import LeakTreatment
from portwright.core.curve import Array, FlowCurve
from portwright.core.repeatability import Repeatability, known_reading_variance, leak_deviation
from portwright.errors import RangeError, ShapeError

# Standard uncertainty of a leak that was measured and taken off, as a share of the leak: a leak
# check is read to about a quarter of itself (common practice, from memory).
LEAK_CHECK_SHARE = 0.25
_MOMENTS = 4.0  # degrees of freedom above which a Student variable has a fourth moment
_NO_SHARE = 1e-9  # of a variance: round-off of what cancels
_NODES, _STEPS = 16, 7  # points to a thousandth


class Source(StrEnum):
    """Where an uncertainty comes from."""

    READING = "reading"
    REPEAT = "refit of the head"
    SESSION = "session at the bench"
    LIFT = "lift setting"
    LEAK = "leak"
    AIR = "air"
    CALIBRATION = "bench calibration"


@dataclass(frozen=True, slots=True, eq=False)
class Component:
    """One cause of error in a row of readings.

    Parameters
    ----------
    source : Source
    deviation : ndarray, shape (n,)
        Relative standard uncertainty it gives each reading; the sign tells how readings that share
        the cause move together. [-]
    key : str
        Readings with the same key share one and the same error; empty: every reading its own.
    degrees_of_freedom : float
        How well the deviation itself is known; infinity when taken as exact. [-]
    """

    source: Source
    deviation: Array
    key: str = ""
    degrees_of_freedom: float = math.inf


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """Components of uncertainty of the readings of one sweep.

    Parameters
    ----------
    components : tuple of Component
        All of one shape ``(n,)``.
    """

    components: tuple[Component, ...]

    def combined(self) -> Array:
        """Relative combined standard uncertainty of each reading, shape (n,). [-]"""
        total: Array = np.sqrt(np.sum([c.deviation**2 for c in self.components], axis=0))
        return total

    def degrees_of_freedom(self) -> Array:
        """Effective degrees of freedom of each reading by Welch-Satterthwaite, shape (n,). [-]"""
        contributions = np.array([c.deviation for c in self.components])
        free = np.array([c.degrees_of_freedom for c in self.components])
        return effective_degrees_of_freedom(contributions, free)

    def covariance(self) -> Array:
        """Relative covariance between the readings of the sweep, shape (n, n). [-]"""
        return sum_of_covariances(self.components)


def sum_of_covariances(components: tuple[Component, ...]) -> Array:
    """Covariance of readings under several components, shape (n, n). [-]

    Components of equal key are one error and add before they are squared (GUM 5.2.2).
    """
    size = components[0].deviation.size
    total = np.zeros((size, size))
    shared: dict[str, Array] = {}
    for component in components:
        if component.key:
            shared[component.key] = shared.get(component.key, 0.0) + component.deviation
        else:
            total[np.diag_indices(size)] += component.deviation**2
    for deviation in shared.values():
        total += np.outer(deviation, deviation)
    return total


def sweep_budget(
    curve: FlowCurve,
    repeatability: Repeatability,
    *,
    sweep: str,
    bench: str,
    calibration: str,
    calibration_uncertainty: float,
    session: str = "",
    air_uncertainty: float = 0.0,
    leak: LeakTreatment = LeakTreatment.AS_UNCERTAINTY,
) -> Budget:
    """Uncertainty components of the effective areas of one sweep.

    Parameters
    ----------
    curve : FlowCurve
    repeatability : Repeatability
    sweep, bench, calibration : str
        Names of the sweep, its bench, and its bench calibration: what shares a name shares the
        error.
    calibration_uncertainty : float
        Relative standard uncertainty of the bench calibration. [-]
    session : str
        Name of the session at the bench, usually the day.
    air_uncertainty : float
        Relative standard uncertainty of effective area from the air readings of the sweep, beyond
        what repeats of the shop already show. [-]
    leak : LeakTreatment
        What was done with the recorded leak.

    Returns
    -------
    Budget

    Notes
    -----
    A leak left in lies between nothing and what was recorded: on average half of it, which all
    sweeps of a bench have in common and which therefore cancels between sweeps of equal leak, and
    around that half a rectangular spread of its own for each sweep.  Together they are the
    ``leak / sqrt(3)`` of a single reading.
    """
    free = repeatability.degrees_of_freedom
    ones = np.ones(curve.lift.size)
    recorded = np.nan_to_num(curve.leak) / curve.area
    reading = np.sqrt(repeatability.reading**2 + known_reading_variance(curve))
    components = [
        Component(Source.READING, reading, "", free),
        Component(Source.REPEAT, repeatability.common * ones, f"refit {sweep}", free),
        Component(
            Source.LIFT, repeatability.lift_setting * curve.log_slope(), f"lift {sweep}", free
        ),
        Component(
            Source.SESSION,
            repeatability.session * ones,
            f"session {bench} {session}",
            repeatability.session_degrees_of_freedom,
        ),
        Component(Source.AIR, air_uncertainty * ones, f"air {sweep}"),
        Component(Source.CALIBRATION, calibration_uncertainty * ones, f"calibration {calibration}"),
    ]
    match leak:
        case LeakTreatment.AS_UNCERTAINTY:
            own = leak_deviation(curve.leak) / curve.area
            components.append(Component(Source.LEAK, recorded / 2.0, f"leak {bench}"))
        case LeakTreatment.SUBTRACT:
            own = LEAK_CHECK_SHARE * recorded
    components.append(Component(Source.LEAK, own, f"leak of {sweep}"))
    return Budget(tuple(components))


def effective_degrees_of_freedom(contributions: Array, degrees_of_freedom: Array) -> Array:
    """Effective degrees of freedom by the Welch-Satterthwaite formula.

    Parameters
    ----------
    contributions : ndarray, shape (k,) or (k, n)
        Standard uncertainty each input contributes to the result; units of the result.
    degrees_of_freedom : ndarray, shape (k,)
        Of each input; infinity allowed. [-]

    Returns
    -------
    ndarray, shape () or (n,)
        Infinity where nothing with finite degrees of freedom contributes. [-]

    References
    ----------
    JCGM 100:2008 (GUM), equation G.2b.
    """
    square = np.asarray(contributions, dtype=np.float64) ** 2
    inverse = 1.0 / np.asarray(degrees_of_freedom, dtype=np.float64)
    bottom = np.tensordot(inverse, square**2, axes=1)
    top = square.sum(axis=0) ** 2
    free: Array = np.divide(top, bottom, out=np.full_like(top, np.inf), where=bottom > 0.0)
    return free


def sum_of_students(variances: Array, degrees_of_freedom: Array) -> tuple[Array, Array]:
    """One Student distribution for a sum of errors whose variances are each only estimated.

    Parameters
    ----------
    variances : ndarray, shape (k, n)
        Estimated variance of each error in each result; squared units of the result.
    degrees_of_freedom : ndarray, shape (k,)
        Behind each variance; infinity allowed. [-]

    Returns
    -------
    tuple of ndarray, each shape (n,)
        Scale, in units of the result, and degrees of freedom. [-]

    Notes
    -----
    Matches second and fourth moment of the sum of scaled Student variables.  Welch-Satterthwaite
    promises too much when part of what is known about a variance comes from other shops rather
    than from the data (6 % in place of 5 % false alarms in the simulation).  The moments exist
    above four degrees of freedom only; errors at or below are joined, with the least of their
    degrees of freedom, and the one Student has the 95 % and 99 % points of both parts together.
    What has no share in a result, because it cancels, does not bear on it.

    References
    ----------
    V. H. Patil, Approximation to the Behrens-Fisher distributions, Biometrika 52, 267 (1965),
    for any number of terms (from memory).
    """
    variances = np.maximum(np.asarray(variances, dtype=np.float64), 0.0)
    free = np.asarray(degrees_of_freedom, dtype=np.float64)
    scale, freedom = _moments_matched(variances[free > _MOMENTS], free[free > _MOMENTS])
    few = variances[free <= _MOMENTS]
    rough = few.sum(axis=0)
    counts = rough > _NO_SHARE * (rough + scale**2)
    if np.any(counts):
        least = float(free[free <= _MOMENTS][np.any(few > 0.0, axis=1)].min())
        alone = counts & (scale**2 <= _NO_SHARE * rough)
        scale[alone], freedom[alone] = np.sqrt(rough[alone]), least
        both = counts & ~alone
        scale[both], freedom[both] = _points_matched(
            scale[both], freedom[both], np.sqrt(rough[both]), least
        )
    return scale, freedom


def _moments_matched(variances: Array, free: Array) -> tuple[Array, Array]:
    """Scale and degrees of freedom of a sum of Students of more than four each. [-]"""
    inverse = 1.0 / free
    share = variances / (1.0 - 2.0 * inverse)[:, None]
    second = share.sum(axis=0)
    fourth = np.tensordot(inverse / (1.0 - 4.0 * inverse), share**2, axes=1)
    found = 4.0 + np.divide(second**2, fourth, out=np.full_like(second, np.inf), where=fourth > 0.0)
    return np.sqrt(second * (1.0 - 2.0 / found)), found


def _points_matched(scale: Array, free: Array, rough: Array, least: float) -> tuple[Array, Array]:
    """Scale and degrees of freedom with the 95 and 99 % points of a sum of two Students.

    Given both variances the sum is normal; its tail is averaged over what they may be.
    """
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    chance, weight = (node + 1.0) / 2.0, weight / 2.0
    free = np.minimum(free, 1e9)[:, None]
    one = scale[:, None] ** 2 / (chdtri(free, chance) / free)
    other = rough[:, None] ** 2 / (chdtri(least, chance) / least)
    # shape (result, node of the one, node of the other)
    deviation = np.sqrt(one[:, :, None] + other[:, None, :])
    points = []
    for level in (0.95, 0.99):
        # the share inside grows ever slower, so that steps from below stay below
        point = 1.5 * np.hypot(scale, rough)
        for _ in range(_STEPS):
            at = point[:, None, None] / deviation
            inside = np.einsum("rij,i,j->r", 1.0 - 2.0 * ndtr(-at), weight, weight)
            density = np.exp(-0.5 * at**2) * math.sqrt(2.0 / math.pi) / deviation
            point = point + (level - inside) / np.einsum("rij,i,j->r", density, weight, weight)
        points.append(point)
    known = np.geomspace(1.0, 1e6, 400)
    ratio = stdtrit(known, 0.995) / stdtrit(known, 0.975)
    found: Array = np.interp(points[1] / points[0], ratio[::-1], known[::-1])
    return points[0] / stdtrit(found, 0.975), found


def coverage_factor(degrees_of_freedom: Array | float, level: float = 0.95) -> Array:
    """Two-sided Student quantile: half width of an interval over its standard uncertainty.

    Parameters
    ----------
    degrees_of_freedom : float or ndarray
        Above zero, infinity allowed; not truncated to a whole number. [-]
    level : float
        Level of confidence, between 0 and 1. [-]

    Returns
    -------
    ndarray
        [-]

    Raises
    ------
    RangeError
        Level outside 0 to 1.

    References
    ----------
    JCGM 100:2008 (GUM), annex G.3.
    """
    if not 0.0 < level < 1.0:
        raise RangeError(f"A level of confidence lies between 0 and 1, not {level}.")
    # The quantile function does not take infinity; at 1e9 it equals the normal one to 1e-9.
    return np.asarray(stdtrit(np.minimum(degrees_of_freedom, 1e9), 0.5 + level / 2.0))


def mean_of_observations(observations: Array) -> tuple[Array, Array]:
    """Means of quantities read together several times, and the covariance of those means.

    Parameters
    ----------
    observations : ndarray, shape (n, k)
        ``n`` simultaneous readings of ``k`` quantities.

    Returns
    -------
    tuple of ndarray
        Means, shape (k,), and covariance of the means, shape (k, k).

    Raises
    ------
    ShapeError
        Fewer than two readings.

    References
    ----------
    JCGM 100:2008 (GUM), equations 3, 5 and 17.
    """
    observations = np.asarray(observations, dtype=np.float64)
    if observations.ndim != 2 or observations.shape[0] < 2:
        raise ShapeError("A mean with uncertainty needs at least two readings of each quantity.")
    count = observations.shape[0]
    return observations.mean(axis=0), np.atleast_2d(np.cov(observations, rowvar=False)) / count


def propagate(sensitivity: Array, covariance: Array) -> Array:
    """Covariance of results from that of inputs: ``C V C^T``.

    Parameters
    ----------
    sensitivity : ndarray, shape (r, k)
        Partial derivative of each result with respect to each input.
    covariance : ndarray, shape (k, k)

    Returns
    -------
    ndarray, shape (r, r)

    References
    ----------
    JCGM 100:2008 (GUM), equation 13, for several results at once.
    """
    sensitivity = np.atleast_2d(sensitivity)
    result: Array = sensitivity @ covariance @ sensitivity.T
    return result
