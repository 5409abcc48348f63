"""Readings that jump about where nobody noted the scatter: noise, not a mistake.

Separated flow scatters readings by a few percent. Where the scatter was noted the model knows;
where it was not, noise must be weighed as an explanation before a single reading is called odd.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from portwright.core.curve import Array
from portwright.core.detection.model import Cluster
from portwright.core.detection.sweeps import SweepRecord, scatter_noted

# Standard deviations of readings in unsteady flow (from memory: 1 to 3 %), and where it begins as
# fraction of the highest lift; 0 is a sweep that is rough from the first reading on.
_SPREADS = (0.007, 0.012, 0.02, 0.035)
_BEGINS = (0.0, 0.5, 0.6, 0.7, 0.8)
# Among sweeps without noted scatter that stand out, noise is as likely as a mistake (from memory).
_LOG_SHARE = math.log(0.5 / (2 * len(_SPREADS) * len(_BEGINS)))
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
    best: Roughness | None = None
    for scope, part in product(scopes, _BEGINS):
        rows = np.concatenate(
            [
                cluster.blocks[i].start + np.flatnonzero(sweeps[i].curve.lift >= part * top - 1e-9)
                for i in scope
            ]
        )
        if rows.size < _LEAST_READINGS:
            continue
        # Eigenvalues once: the evidence for every spread is then a sum.
        values, vectors = np.linalg.eigh(precision[np.ix_(rows, rows)])
        squares = (vectors.T @ score[rows]) ** 2
        for spread in _SPREADS:
            weight = spread**2 / (1.0 + spread**2 * np.maximum(values, 0.0))
            evidence = 0.5 * float(squares @ weight)
            evidence -= 0.5 * float(np.sum(np.log1p(spread**2 * np.maximum(values, 0.0))))
            evidence += _LOG_SHARE
            if best is None or evidence > best.evidence:
                concerned = tuple(sweeps[i] for i in scope)
                best = Roughness(concerned, rows, part * top, spread, evidence)
    return best


def allow(precision: Array, found: Roughness) -> Array:
    """Inverse covariance with the extra scatter allowed for. [-]"""
    rows = found.rows
    inner = precision[np.ix_(rows, rows)] + np.eye(rows.size) / found.spread**2
    out: Array = precision - precision[:, rows] @ np.linalg.solve(inner, precision[rows, :])
    return out
