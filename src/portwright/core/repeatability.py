"""How well a shop's bench repeats itself, and how that is learned from repeated sweeps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, fdtri, stdtrit

from portwright.core.curve import Array, FlowCurve


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Standard deviations of one sweep when the head is refitted and swept again.

    The error of one sweep is taken as ``common + lift_setting * dlnA/dL + reading``: one shift of
    the whole curve per refit, one lift-zero error per refit, one independent error per reading.

    Parameters
    ----------
    common : float
        Shift of a whole sweep, relative standard deviation. [-]
    lift_setting : float
        Lift-zero error of a whole sweep, standard deviation. [m]
    reading : float
        Independent error of each reading, relative standard deviation. [-]
    degrees_of_freedom : float
        How much data stands behind the three figures; small for a guess. [-]
    source : str
        Where the figures come from, shown to the user.
    session : float
        Shift of all sweeps from one session at the bench to the next, relative standard
        deviation: weather, zero, warm-up, adapter put back. [-]
    session_degrees_of_freedom : float
        How much data stands behind that. [-]
    """

    common: float
    lift_setting: float
    reading: float
    degrees_of_freedom: float
    source: str
    session: float = 0.0
    session_degrees_of_freedom: float = math.inf


# Common practice (from memory): 0.3-0.6 % for a new sweep, 0.5-1.0 % for a
# refit, 1-2 % at the lowest lift, where a lift error of 0.015 mm is 1.5 % of the flow.
SHOP_DEFAULT = Repeatability(
    common=0.005,
    lift_setting=15e-6,
    reading=0.003,
    degrees_of_freedom=6.0,
    source="common practice for a well-run shop (from memory); run a repeatability study",
    # 0.8-1.5 % is usual for another day and operator together; less for one careful operator
    session=0.004,
    session_degrees_of_freedom=3.0,
)

# Lifts closer than this are the same setting: a tenth of a dial-indicator division.
SAME_LIFT = 1e-6
# Chance of setting aside a sound sweep, for each of the three tests it has to pass.
_REJECT_CHANCE = 0.001
# Noted scatter is a half width seen by eye and can exceed the noise of the value written down;
# the remainder would then come out as nothing, and sheets without such notes would all look bad.
_LEAST_READING = 0.5  # of the prior
_MEDIAN_OF_CHI2_1 = 0.454936  # median of a squared standard normal variable
_MEDIAN_EFFICIENCY = 0.37  # of a median of squares, against the mean of squares


def leak_deviation(leak: Array) -> Array:
    """Standard uncertainty of a leak known only to lie between nothing and what was recorded.

    A rectangular distribution of full width ``leak`` (GUM 4.3.7); not noted counts as no leak.

    Parameters
    ----------
    leak : ndarray
        Recorded leak as effective area, NaN where not noted. [m2]

    Returns
    -------
    ndarray
        Standard uncertainty. [m2]
    """
    return np.nan_to_num(np.abs(leak)) / math.sqrt(12.0)


def known_reading_variance(curve: FlowCurve) -> Array:
    """Relative variance of each reading that the sheet itself tells: last digit and scatter. [-]

    Scatter is noted as a half width; half of it is taken as the standard deviation.
    """
    return curve.resolution**2 + np.nan_to_num(curve.scatter / 2.0) ** 2


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Repeats of one configuration reduced to [shift, lift error] per sweep and what is left."""

    coefficients: Array  # (n, 2) shift [-] and lift error [m]
    residual: Array  # (n, m)
    known: Array  # (m,) known reading variance
    weight: Array  # (m,)
    spread: Array  # (2,) variance of the coefficients per unit reading variance
    known_spread: Array  # (2,) variance of the coefficients from known readings and leak
    unit_sum: float  # expected weighted residual square per unit reading variance
    known_sum: float  # expected weighted residual square from known readings

    @property
    def free(self) -> int:
        """Residual degrees of freedom of one sweep."""
        return self.weight.size - 2

    def reading_variance(self, squares: float) -> float:
        """Unbiased reading variance from a weighted residual square per degree of freedom."""
        return (squares - self.known_sum) / self.unit_sum


def _common_lifts(curves: Sequence[FlowCurve]) -> Array:
    lifts = curves[0].lift
    for curve in curves[1:]:
        near = np.min(np.abs(lifts[:, None] - curve.lift[None, :]), axis=1)
        lifts = lifts[near < SAME_LIFT]
    return lifts


def _reduce_group(curves: Sequence[FlowCurve], prior: Repeatability) -> _Group | None:
    """Fit every sweep of a group with one shift and one lift error; None if it cannot teach."""
    lifts = _common_lifts(curves)
    if len(curves) < 2 or lifts.size < 4:
        return None
    rows = [np.argmin(np.abs(c.lift[None, :] - lifts[:, None]), axis=1) for c in curves]
    log_area = np.array([np.log(c.area[r]) for c, r in zip(curves, rows, strict=True)])
    slope = np.median([c.log_slope()[r] for c, r in zip(curves, rows, strict=True)], axis=0)
    known = np.mean(
        [known_reading_variance(c)[r] for c, r in zip(curves, rows, strict=True)], axis=0
    )
    leak = np.mean(
        [(leak_deviation(c.leak) / c.area)[r] for c, r in zip(curves, rows, strict=True)], axis=0
    )

    design = np.column_stack([np.ones(lifts.size), slope])
    weight = 1.0 / (prior.reading**2 + known)
    hat = np.linalg.solve(design.T @ (weight[:, None] * design), design.T * weight)
    projector = np.eye(lifts.size) - design @ hat
    deviation = log_area - np.median(log_area, axis=0)
    return _Group(
        coefficients=deviation @ hat.T,
        residual=deviation @ projector.T,
        known=known,
        weight=weight,
        spread=np.sum(hat**2, axis=1),
        known_spread=hat**2 @ known + (hat @ leak) ** 2,
        unit_sum=float(weight @ np.sum(projector**2, axis=1)),
        known_sum=float(weight @ (projector**2 @ known + (projector @ leak) ** 2)),
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    """Variances in force while sweeps are judged, with the data behind them."""

    sweep: Array  # (2,) variance of shift and lift error
    reading: float
    sweep_freedom: float
    reading_freedom: float


def _shrunk(
    prior: Repeatability, sweep: Array, reading: float, sweep_free: float, reading_free: float
) -> _Scale:
    """Weigh what was seen against the prior: (v0 s0^2 + v s^2) / (v0 + v)."""
    v0 = prior.degrees_of_freedom
    known = np.array([prior.common**2, prior.lift_setting**2])
    weighed = (v0 * prior.reading**2 + reading_free * reading) / (v0 + reading_free)
    return _Scale(
        sweep=np.maximum((v0 * known + sweep_free * sweep) / (v0 + sweep_free), 0.0),
        reading=max(weighed, (_LEAST_READING * prior.reading) ** 2),
        sweep_freedom=v0 + sweep_free,
        reading_freedom=v0 + reading_free,
    )


def _first_scale(groups: Sequence[_Group], prior: Repeatability) -> _Scale:
    """Variances that a minority of faulty sweeps cannot move: medians over pairs of sweeps."""
    readings: list[float] = []
    squares: list[Array] = []
    for group in groups:
        first, second = np.triu_indices(len(group.coefficients), 1)
        residual = group.residual[first] - group.residual[second]
        median_of_mean_square = chdtri(group.free, 0.5) / group.free
        readings += [
            group.reading_variance(float(s)) / median_of_mean_square
            for s in residual**2 @ group.weight / 2.0
        ]
        step = group.coefficients[first] - group.coefficients[second]
        squares += list(step**2 / 2.0)
    reading = max(float(np.median(readings)), 0.0)
    noise = np.mean([g.spread * reading + g.known_spread for g in groups], axis=0)
    sweep = np.median(squares, axis=0) / _MEDIAN_OF_CHI2_1 - noise
    free = _MEDIAN_EFFICIENCY * sum(len(g.coefficients) - 1 for g in groups)
    reading_free = free * float(np.mean([g.free for g in groups]))
    return _shrunk(prior, sweep, reading, free, reading_free)


def _scores(group: _Group, kept: NDArray[np.bool_], scale: _Scale) -> Array:
    """How far each kept sweep stands from the others of its group, 1 at the limit of belief."""
    index = np.flatnonzero(kept)
    n = index.size
    # Variance of a sweep less the median of the others, in units of one sweep: exact for one
    # or two others, the large-sample figure pi/2 over their number beyond.
    factor = 1.0 + (1.0 / (n - 1) if n <= 3 else math.pi / 2.0 / (n - 1))
    limit = stdtrit(scale.sweep_freedom, 1.0 - _REJECT_CHANCE / 2.0)
    reading_limit = math.sqrt(fdtri(group.free, scale.reading_freedom, 1.0 - _REJECT_CHANCE))
    deviation = np.sqrt(factor * (scale.sweep + group.spread * scale.reading + group.known_spread))
    scores = np.zeros(len(kept))
    for i in index:
        others = index[index != i]
        step = group.coefficients[i] - np.median(group.coefficients[others], axis=0)
        residual = group.residual[i] - np.median(group.residual[others], axis=0)
        square = np.sum(residual**2 / (factor * (scale.reading + group.known))) / group.free
        scores[i] = max(
            float(np.max(np.abs(step) / (limit * deviation))), math.sqrt(square) / reading_limit
        )
    return scores


def _keep(group: _Group, scale: _Scale) -> NDArray[np.bool_]:
    """Set aside faulty sweeps one by one, the farthest first; both of a pair that disagrees."""
    kept = np.ones(len(group.coefficients), dtype=bool)
    while kept.sum() > 1:
        scores = _scores(group, kept, scale)
        if scores.max() <= 1.0:
            break
        if kept.sum() == 2:
            kept[:] = False
        else:
            kept[int(np.argmax(scores))] = False
    return kept


def _pooled(
    groups: Sequence[_Group], kept: Sequence[NDArray[np.bool_]], prior: Repeatability
) -> _Scale:
    """Unbiased variance components of the sweeps kept, weighed against the prior."""
    free = reading_free = unit = known = squares = 0.0
    sweep = np.zeros(2)
    noise_unit = np.zeros(2)
    noise_known = np.zeros(2)
    for group, keep in zip(groups, kept, strict=True):
        steps = int(keep.sum()) - 1
        if steps < 1:
            continue
        residual = group.residual[keep] - group.residual[keep].mean(axis=0)
        coefficients = group.coefficients[keep] - group.coefficients[keep].mean(axis=0)
        squares += float(np.sum(residual**2 @ group.weight))
        unit += steps * group.unit_sum
        known += steps * group.known_sum
        sweep += np.sum(coefficients**2, axis=0)
        noise_unit += steps * group.spread
        noise_known += steps * group.known_spread
        free += steps
        reading_free += steps * group.free
    if free == 0.0:
        return _shrunk(prior, sweep, 0.0, 0.0, 0.0)
    reading = (squares - known) / unit
    sweep_variance = (sweep - noise_unit * max(reading, 0.0) - noise_known) / free
    return _shrunk(prior, sweep_variance, reading, free, reading_free)


def _result(scale: _Scale, prior: Repeatability, source: str) -> Repeatability:
    return replace(
        prior,
        common=math.sqrt(scale.sweep[0]),
        lift_setting=math.sqrt(scale.sweep[1]),
        reading=math.sqrt(scale.reading),
        degrees_of_freedom=scale.sweep_freedom,
        source=source,
    )


def estimate_repeatability(
    groups: Sequence[Sequence[FlowCurve]], prior: Repeatability = SHOP_DEFAULT
) -> Repeatability:
    """Learn a shop's repeatability from sweeps repeated on an unchanged port.

    A few faulty sweeps do not spoil it: scales are first taken as medians over pairs of repeats,
    sweeps far outside them are set aside (both sweeps of a pair, since a pair cannot say which
    one is wrong), and the variances of the rest are pooled over all groups.

    Parameters
    ----------
    groups : sequence of sequence of FlowCurve
        Each inner sequence holds repeats of one port in one state in one session.  Groups of one
        sweep, or with fewer than four lifts in common, teach nothing and are passed over.
    prior : Repeatability
        What is assumed before any data; its degrees of freedom say how firmly.

    Returns
    -------
    Repeatability
        Each variance is ``(v0 s0^2 + v s^2) / (v0 + v)``; degrees of freedom are ``v0 + v`` with
        ``v`` the number of kept sweeps beyond the first of each group.

    Notes
    -----
    The reading figure is not taken below half the prior's, because scatter noted by eye can
    exceed the noise of the value written down.

    Each sweep is fitted with ``c + d s_j`` where ``s_j = dlnA/dL``; the pooled mean squares of
    ``c`` and ``d`` about their group have the expectation ``sigma^2 + (noise of the fit)``, and
    that noise (readings, last digit, noted scatter, leak) is taken off.  Every step is unbiased on
    the variance scale whatever the size of the groups (definition: method of moments), so groups
    of two and three need no separate correction; the share of sound sweeps set aside is below
    one in 300 each.
    """
    reduced = [g for g in (_reduce_group(curves, prior) for curves in groups) if g is not None]
    if not reduced:
        return prior
    scale = _first_scale(reduced, prior)
    for _ in range(2):  # the second look uses the sharper scale of the first
        kept = [_keep(group, scale) for group in reduced]
        scale = _pooled(reduced, kept, prior)
    sweeps = sum(k.size for k in kept)
    left_out = sweeps - int(sum(k.sum() for k in kept))
    aside = f", {left_out} set aside as out of line" if left_out else ""
    return _result(
        scale,
        prior,
        f"{sweeps} sweeps in {len(reduced)} groups of repeats{aside}; start value: {prior.source}",
    )


def with_own_scatter(
    repeatability: Repeatability, groups: Sequence[Sequence[FlowCurve]]
) -> Repeatability:
    """Shop figures weighed with the scatter of the very repeats being judged, none set aside.

    Parameters
    ----------
    repeatability : Repeatability
        Shop figures.
    groups : sequence of sequence of FlowCurve
        Repeats of each state, as for :func:`estimate_repeatability`.

    Returns
    -------
    Repeatability
        ``(v0 s0^2 + v s^2) / (v0 + v)`` for each variance, with the source unchanged.
    """
    reduced = [
        g for g in (_reduce_group(curves, repeatability) for curves in groups) if g is not None
    ]
    kept = [np.ones(len(g.coefficients), dtype=bool) for g in reduced]
    return _result(_pooled(reduced, kept, repeatability), repeatability, repeatability.source)
