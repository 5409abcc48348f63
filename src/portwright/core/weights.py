"""Weights of straight-line interpolation, shared by bands, cams and comparisons."""

from __future__ import annotations

import numpy as np

from portwright.core.curve import Array


def interpolation_weights(knots: Array, points: Array) -> Array:
    """Share of each knot in the straight-line interpolated value at each point.

    Parameters
    ----------
    knots : ndarray, shape (k,)
        Increasing; any unit.
    points : ndarray, shape (p,)
        Same unit; beyond the ends the end knot is held.

    Returns
    -------
    ndarray, shape (p, k)
        Rows add to 1. [-]
    """
    right = np.clip(np.searchsorted(knots, points), 1, knots.size - 1)
    left = right - 1
    share = np.clip((points - knots[left]) / (knots[right] - knots[left]), 0.0, 1.0)
    weights = np.zeros((points.size, knots.size))
    rows = np.arange(points.size)
    weights[rows, left] = 1.0 - share
    weights[rows, right] += share
    return weights


def span_weights(knots: Array, low: float, high: float) -> Array:
    """Weights of the knots in the mean of the straight-line interpolated curve over a span.

    Each knot counts by the distance to its neighbours inside the span, not once per knot.

    Parameters
    ----------
    knots : ndarray, shape (k,)
        Increasing.
    low, high : float
        Ends of the span, inside the knots and ``low < high``; same unit.

    Returns
    -------
    ndarray, shape (k,)
        Adds to 1. [-]
    """
    inside = knots[(knots > low) & (knots < high)]
    points = np.concatenate(([low], inside, [high]))
    share = np.zeros(points.size)
    step = np.diff(points)
    share[:-1] += step / 2.0
    share[1:] += step / 2.0
    result: Array = share @ interpolation_weights(knots, points) / (high - low)
    return result
