"""Sweeps brought to common lifts, with the covariance of everything they then say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from portwright.core.curve import Array, FlowCurve
from portwright.core.repeatability import SAME_LIFT
from portwright.core.uncertainty import Budget
from portwright.core.weights import interpolation_weights
from portwright.errors import InputError

_FEWEST_SHARED_LIFTS = 0.5  # of the shorter list; with fewer, curves are read between lifts


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """Sweeps of one side of a comparison, brought to common lifts.

    Parameters
    ----------
    area : ndarray, shape (j,)
        Geometric mean of the repeats. [m2]
    share : ndarray, shape (n, j)
        Weight of each sweep at each lift; columns add to 1. [-]
    matrix : list of ndarray, each shape (j, n_i)
        How the readings of each sweep enter each lift. [-]
    budgets : list of Budget
        Uncertainty of the readings of each sweep.
    """

    area: Array
    share: Array
    matrix: list[Array]
    budgets: list[Budget]


def is_tested(lift: Array, curve: FlowCurve) -> NDArray[np.bool_]:
    """Whether each lift, shape (n,), is one the sweep was taken at. [-]"""
    distance = np.min(np.abs(lift[:, None] - curve.lift[None, :]), axis=1)
    near: NDArray[np.bool_] = distance < SAME_LIFT
    return near


def _without_doubles(lift: Array) -> Array:
    ordered = np.sort(lift)
    single: Array = ordered[np.append(True, np.diff(ordered) > SAME_LIFT)]
    return single


def common_lifts(before: Sequence[FlowCurve], after: Sequence[FlowCurve]) -> Array:
    """Lifts to compare at: those both sides tested, or all inside the common range. [m]

    The same from whichever side it is looked at.

    Raises
    ------
    InputError
        The two ranges of lift do not meet.
    """
    low = max(min(c.lift[0] for c in side) for side in (before, after))
    high = min(max(c.lift[-1] for c in side) for side in (before, after))
    if high <= low:
        raise InputError(
            f"Before and after share no lifts: one starts at {low * 1e3:.2f} mm, the other ends "
            f"at {high * 1e3:.2f} mm.",
            "Sweep both over the same lifts.",
        )
    tested = [_without_doubles(np.concatenate([c.lift for c in side])) for side in (before, after)]
    near = np.abs(tested[0][:, None] - tested[1][None, :]) < SAME_LIFT
    shared = tested[0][near.any(axis=1)]
    if shared.size >= max(2.0, _FEWEST_SHARED_LIFTS * min(t.size for t in tested)):
        return shared
    grid = _without_doubles(np.concatenate(tested))
    inside: Array = grid[(grid >= low - SAME_LIFT) & (grid <= high + SAME_LIFT)]
    return inside


def align(grid: Array, curves: Sequence[FlowCurve], budgets: list[Budget]) -> Aligned:
    """Read each sweep at the lifts ``grid`` [m] and average what covers each of them."""
    log_area = np.array(
        [np.log(c.area if np.array_equal(c.lift, grid) else c.at(grid)) for c in curves]
    )
    covered = np.isfinite(log_area)
    share = covered / covered.sum(axis=0)
    mean = np.sum(share * np.where(covered, log_area, 0.0), axis=0)
    return Aligned(
        area=np.exp(mean),
        share=share,
        matrix=[interpolation_weights(c.lift, grid) for c in curves],
        budgets=budgets,
    )


def joint_covariances(before: Aligned, after: Aligned) -> tuple[Array, Array]:
    """Covariance of [ln after, ln before] by group of equally well known components.

    Errors of one key are shared over lifts, sweeps and sides; groups are what one estimate of a
    variance stands behind.

    Returns
    -------
    tuple of ndarray
        Covariances, shape (g, 2j, 2j), and degrees of freedom of each group, shape (g,). [-]
    """
    size = before.area.size
    groups: dict[tuple[str, float], Array] = {}
    shared: dict[tuple[str, float, str], Array] = {}
    for offset, side in ((0, after), (size, before)):
        rows = slice(offset, offset + size)
        for share, matrix, budget in zip(side.share, side.matrix, side.budgets, strict=True):
            weight = share[:, None] * matrix
            for part in budget.components:
                group = (str(part.source), part.degrees_of_freedom)
                covariance = groups.setdefault(group, np.zeros((2 * size, 2 * size)))
                if part.key:
                    vector = shared.setdefault((*group, part.key), np.zeros(2 * size))
                    vector[rows] += weight @ part.deviation
                else:
                    noise = weight * part.deviation
                    covariance[rows, rows] += noise @ noise.T
    for (source, free, _), vector in shared.items():
        groups[source, free] += np.outer(vector, vector)
    return np.array(list(groups.values())), np.array([free for _, free in groups])
