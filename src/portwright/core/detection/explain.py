"""Which mistake, if any, explains a sweep best: likelihood ratios of the shapes.

For deviations ``r`` with inverse covariance ``W``, a shape ``t`` in one sweep has the generalised
likelihood ratio ``z^2 = (t' W r)^2 / (t' W t)`` and the size ``(t' W r) / (t' W t)``.  Because
``W`` couples the sweep to its siblings and sisters, this is the comparison with all others at
once, the sweep itself left out.  ``z`` decides whether there is anything (Student's t, for
repeatability known from few data); the Bayes factor with a wide prior on the size decides what
it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from portwright.core.curve import Array
from portwright.core.detection.limits import Limits
from portwright.core.detection.sweeps import SweepRecord
from portwright.core.detection.templates import SMOOTH, Cause, SizedShapes, Templates
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability

# Odds against two mistakes in one sweep, given one (from memory: one in fifty).
_LOG_SECOND = math.log(0.02)
_NEVER = -1e9
# How much more often the first sweep of a session is off by one factor than any other (from
# memory: benches need 10 to 20 minutes to warm up).
_COLD = 6.0
# Single shapes kept for naming, and local ones tried together with a smooth one.
_KEPT = 8
_PAIRED = 4
# A leak check carried out in the same session tells a leak of this spread (from memory, 0.25 cfm)
# in half of the cases; in the others the leak came later.
_LEAK_CHECK_SPREAD = 1.1e-6


def _firm(matrix: Array) -> Array:
    """The matrix with its smallest eigenvalues kept off zero: shapes already allowed for. [-]"""
    n = matrix.shape[0]
    out: Array = matrix + np.eye(n) * (1e-10 * float(np.trace(matrix)) / n + 1e-30)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One sweep as seen from all others of its cluster.

    Parameters
    ----------
    sweep : SweepRecord
    slope : ndarray, shape (n,)
        d(ln A)/dL of the port. [1/m]
    noise : ndarray, shape (n,)
        Relative variance of the readings that the sheets tell. [-]
    score : ndarray, shape (n,)
        Rows of ``W r``. [-]
    information : ndarray, shape (n, n)
        Diagonal block of ``W``. [-]
    shapes : Templates
    leak_excess : float
        Recorded leak above what is usual on the bench, NaN if not recorded. [m2]
    cold : bool
        First sweep of its session.
    siblings : int
        Sweeps of the same port and stage, this one included.
    """

    sweep: SweepRecord
    slope: Array
    noise: Array
    score: Array
    information: Array
    shapes: Templates
    leak_excess: float
    cold: bool
    siblings: int

    def difference(self) -> Array:
        """Reading less what the others make expect, relative. [-]"""
        return np.asarray(np.linalg.solve(_firm(self.information), self.score))

    def misfit(self) -> float:
        """Squared difference in units of its covariance, chi-squared with n degrees. [-]"""
        return float(self.score @ self.difference())


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """One or two mistakes in one sweep.

    Parameters
    ----------
    causes : tuple of Cause
    at : tuple of int
        First lift each acts on.
    sizes : ndarray, shape (k,)
    strength : ndarray, shape (k,)
        |z| of each with the other allowed for. [-]
    limits : ndarray, shape (k,)
        |z| each has to reach. [-]
    matrix : ndarray, shape (n, k)
        The shapes.
    gain : float
        Part of the misfit explained. [-]
    evidence : float
        Log of the Bayes factor against "nothing wrong", prior share included. [-]
    """

    causes: tuple[Cause, ...]
    at: tuple[int, ...]
    sizes: Array
    strength: Array
    limits: Array
    matrix: Array
    gain: float
    evidence: float

    @property
    def believable(self) -> bool:
        """Every part is above its false-alarm limit."""
        return bool(np.all(self.strength >= self.limits))


def alarm_limits(
    view: View, repeatability: Repeatability, limits: Limits, learned_here: bool
) -> Array:
    """|z| that each shape must reach for the chosen false-alarm rate per sweep. [-]

    The learned variances are known from different amounts of data: shift and lift error from one
    value per repeat, the reading error from all readings.  Welch-Satterthwaite (GUM G.4.1) turns
    their shares in each size into one number of degrees of freedom.  Where the repeatability was
    learned from these very sweeps, a faulty one has widened its own yardstick; the limit allows
    for that (externally studentised residual, definition).
    """
    shapes, n = view.shapes, view.score.size
    weighted = view.information @ shapes.matrix
    variance = 1.0 / np.maximum(np.sum(shapes.matrix * weighted, axis=0), 1e-30)
    weight = weighted * variance
    others = 1.0 + 1.0 / max(view.siblings - 1, 1)
    shift = (repeatability.common * weight.sum(axis=0)) ** 2
    lift = (repeatability.lift_setting * (view.slope @ weight)) ** 2
    reading = repeatability.reading**2 * np.sum(weight**2, axis=0)
    freedom = repeatability.degrees_of_freedom
    start = SHOP_DEFAULT.degrees_of_freedom
    reading_freedom = max(freedom, start + (freedom - start) * (n - 2))
    share = others * np.array([shift, lift, reading]) / variance
    spent = (share[0] ** 2 + share[1] ** 2) / freedom + share[2] ** 2 / reading_freedom
    chance = limits.false_alarm * shapes.alarm
    if view.cold:
        chance[shapes.causes.index(Cause.FACTOR)] = limits.cold_false_alarm
    effective = np.maximum(1.0 / np.maximum(spent, 1e-9), freedom)
    if not learned_here or freedom <= start:
        plain: Array = stdtrit(effective, 1.0 - chance / 2.0)
        return plain
    t = stdtrit(effective - 1.0, 1.0 - chance / 2.0)
    out: Array = t * np.sqrt(effective / (effective - 1.0 + t**2))
    return out


def worth_naming(cause: Cause, size: float, limits: Limits) -> bool:
    """Whether a mistake is large enough to matter in the shop."""
    least = {
        Cause.LIFT: limits.lift_offset,
        Cause.LEAK: limits.leak,
        Cause.FACTOR: limits.constant_factor,
        Cause.STEP: limits.step,
        Cause.READING: limits.reading,
    }
    return abs(size) >= least[cause]


def scan(view: View) -> tuple[Array, Array]:
    """|z| and log evidence of every shape by itself, as small mistakes. [-]"""
    matrix = view.shapes.matrix
    b = matrix.T @ view.score
    p = np.maximum(np.sum(matrix * (view.information @ matrix), axis=0), 1e-30)
    return np.abs(b) / np.sqrt(p), _evidence(view, b, p)


def _evidence(view: View, b: Array, p: Array) -> Array:
    shapes = view.shapes
    log_odds: Array = 0.5 * b**2 / (1.0 + p) - 0.5 * np.log1p(p)
    log_odds += shapes.log_prior
    leak = shapes.causes.index(Cause.LEAK)
    if b[leak] <= 0.0:
        log_odds[leak] = _NEVER  # a leak can only add flow
    else:
        log_odds[leak] += math.log(2.0)
        size = float(b[leak] / p[leak] * shapes.typical[leak])
        log_odds[leak] += _leak_check(view.leak_excess, size)
    if view.cold:
        log_odds[shapes.causes.index(Cause.FACTOR)] += math.log(_COLD)
    return log_odds


def _leak_check(excess: float, size: float) -> float:
    """Log odds that the recorded leak check adds for a leak of this size."""
    if math.isnan(excess):
        return 0.0
    ratio = (excess**2 - (excess - size) ** 2) / (2.0 * _LEAK_CHECK_SPREAD**2)
    return float(np.logaddexp(0.0, min(ratio, 10.0))) - math.log(2.0)


def sharpen(view: View, expected: Array) -> View:
    """The same view with the lift and leak shapes drawn at the size that fits."""
    sized = SizedShapes(view.sweep.curve.lift, expected)
    matrix = view.shapes.matrix.copy()
    s = view.shapes
    for column, shape in ((0, sized.lift_offset), (1, sized.leak)):
        typical = float(s.typical[column])
        for _ in range(4):
            t = matrix[:, column]
            size = float(t @ view.score) / max(float(t @ view.information @ t), 1e-30)
            matrix[:, column] = shape(size * typical) * typical
    shapes = Templates(matrix, s.causes, s.at, s.typical, s.log_prior, s.alarm)
    return replace(view, shapes=shapes)


def explanations(view: View, needed: Array) -> list[Explanation]:
    """The likely single mistakes and pairs, best first.

    Parameters
    ----------
    view : View
        With sharpened shapes.
    needed : ndarray, shape (k,)
        |z| each shape must reach. [-]
    """
    _, evidence = scan(view)
    ranked = [int(k) for k in np.argsort(-evidence) if evidence[k] > _NEVER / 2.0]
    found = [_explain(view, (k,), needed, float(evidence[k])) for k in ranked[:_KEPT]]
    order = [k for k in ranked if k >= len(SMOOTH)][:_PAIRED]
    for first in range(len(SMOOTH)):
        for second in (*range(first + 1, len(SMOOTH)), *order):
            pair = _pair(view, first, second, needed)
            if pair is not None:
                found.append(pair)
    return sorted(found, key=lambda e: -e.evidence)


def _pair(view: View, first: int, second: int, needed: Array) -> Explanation | None:
    columns = (first, second)
    shapes = view.shapes
    t = shapes.matrix[:, columns]
    b, p = t.T @ view.score, t.T @ view.information @ t
    posterior = p + np.eye(2)
    evidence = 0.5 * b @ np.linalg.solve(posterior, b) - 0.5 * math.log(np.linalg.det(posterior))
    evidence += shapes.log_prior[first] + shapes.log_prior[second] + _LOG_SECOND
    pair = _explain(view, columns, needed, float(evidence))
    for cause, size in zip(pair.causes, pair.sizes, strict=True):
        if cause is Cause.LEAK and size <= 0.0:
            return None
    return pair


def _explain(view: View, columns: tuple[int, ...], needed: Array, evidence: float) -> Explanation:
    t = view.shapes.matrix[:, columns]
    b, p = t.T @ view.score, t.T @ view.information @ t
    inverse = np.asarray(np.linalg.inv(_firm(p)))
    fitted = inverse @ b
    return Explanation(
        causes=tuple(view.shapes.causes[k] for k in columns),
        at=tuple(int(view.shapes.at[k]) for k in columns),
        sizes=fitted * view.shapes.typical[list(columns)],
        strength=np.abs(fitted) / np.sqrt(np.maximum(np.diag(inverse), 1e-30)),
        limits=needed[list(columns)],
        matrix=t,
        gain=float(b @ fitted),
        evidence=evidence,
    )
