"""Readings that jump about where nobody noted the scatter: noise, not a mistake.

Separated flow scatters readings by a few percent. Where the scatter was noted the model knows;
where it was not, noise must be weighed as an explanation before a single reading is called odd.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from portwright.core.curve import Array
from portwright.core.detection.model import Cluster
from portwright.core.detection.sweeps import SweepRecord, scatter_noted

# Standard deviations of readings in unsteady flow (from memory: 1 to 3 %), and where it begins as
# fraction of the highest lift; 0 is a sweep that is rough from the first reading on.
_SPREADS = (0.007, 0.012, 0.02, 0.035)
_BEGINS = (0.0, 0.5, 0.6, 0.7, 0.8)
# Among sweeps without noted scatter that stand out, noise is as likely as a mistake (from memory).
_LOG_SHARE = math.log(0.5)
_LEAST_READINGS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Roughness:
    """Readings of some sweeps scatter more than noted.

    Parameters
    ----------
    sweeps : tuple of SweepRecord
        The sweeps concerned: repeats of one port, or all ports of a stage.
    rows : ndarray of int
        Readings in the cluster.
    begin : float
        Lift from which on. [m]
    spread : float
        Standard deviation of the extra scatter. [-]
    evidence : float
        Log of the Bayes factor against "as noted", prior share included. [-]
    """

    sweeps: tuple[SweepRecord, ...]
    rows: NDArray[np.int64]
    begin: float
    spread: float
    evidence: float


def roughness(cluster: Cluster, precision: Array, member: int) -> Roughness | None:
    """Best explanation of a sweep that stands out by plain scatter; None if it was noted.

    Parameters
    ----------
    cluster : Cluster
    precision : ndarray, shape (n, n)
        Inverse covariance with what was accepted so far. [-]
    member : int
        Sweep that stands out.
    """
    sweeps = [cluster.groups[g].sweeps[k] for g, k in cluster.members]
    if scatter_noted(sweeps[member]):
        return None
    group = cluster.members[member][0]
    open_ = [i for i, s in enumerate(sweeps) if not scatter_noted(s)]
    repeats = [i for i in open_ if cluster.members[i][0] == group]
    stage = [i for i in open_ if sweeps[i].stage == sweeps[member].stage]
    scopes = [repeats] if len(stage) == len(repeats) else [repeats, stage]
    score = precision @ cluster.deviation
    top = max(float(s.curve.lift[-1]) for s in sweeps)
    found = [_in_scope(cluster, precision, score, scope, top) for scope in scopes]
    return max((f for f in found if f is not None), key=lambda f: f.evidence, default=None)


def _in_scope(
    cluster: Cluster, precision: Array, score: Array, scope: Sequence[int], top: float
) -> Roughness | None:
    """Likeliest beginning and spread; the evidence is the mean over all that were tried."""
    sweeps = [cluster.groups[cluster.members[i][0]].sweeps[cluster.members[i][1]] for i in scope]
    tried: list[tuple[float, float, float, NDArray[np.int64]]] = []
    for part in _BEGINS:
        rows = np.concatenate(
            [
                cluster.blocks[i].start + np.flatnonzero(s.curve.lift >= part * top - 1e-9)
                for i, s in zip(scope, sweeps, strict=True)
            ]
        )
        if rows.size < _LEAST_READINGS:
            continue
        # Eigenvalues once: the evidence for every spread is then a sum.
        values, vectors = np.linalg.eigh(precision[np.ix_(rows, rows)])
        values = np.maximum(values, 0.0)
        squares = (vectors.T @ score[rows]) ** 2
        for spread in _SPREADS:
            evidence = 0.5 * float(squares @ (spread**2 / (1.0 + spread**2 * values)))
            evidence -= 0.5 * float(np.sum(np.log1p(spread**2 * values)))
            tried.append((evidence, part * top, spread, rows))
    if not tried:
        return None
    _, begin, spread, rows = max(tried, key=lambda t: t[0])
    mean = float(logsumexp([t[0] for t in tried])) - math.log(len(tried))
    return Roughness(tuple(sweeps), rows, begin, spread, mean + _LOG_SHARE)


def allow(precision: Array, found: Roughness) -> Array:
    """Inverse covariance with the extra scatter allowed for. [-]"""
    rows = found.rows
    inner = precision[np.ix_(rows, rows)] + np.eye(rows.size) / found.spread**2
    out: Array = precision - precision[:, rows] @ np.linalg.solve(inner, precision[rows, :])
    return out
