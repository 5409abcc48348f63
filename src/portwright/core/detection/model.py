r"""What sound sweeps look like: one Gaussian model of everything measured on one side of a bench.

.. math:: \ln A_{ij} = \ln L_j + g(L_j) + u_{stage}(L_j) + v_{port}(L_j)
          + c_i + d_i \, s_j + q_i / A_{ij} + e_{ij}

``g`` is the curve all have in common, ``u`` what a stage changes, ``v`` what one port differs from
its sisters, all smooth functions of lift; the rest is the error of one sweep.  ``ln L`` is in it
because close to the seat the area is proportional to lift: that is what tells which of two repeats
has its lift zero wrong.  ``v`` grows with lift: sister ports share the seat work, while a wall or a
pinch makes itself felt high up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from portwright.core.curve import Array
from portwright.core.detection.limits import Limits
from portwright.core.detection.sweeps import Group
from portwright.core.repeatability import Repeatability

# Readings that are compared in one go; above this, whole ports go to the next cluster.
LARGEST_CLUSTER = 480
# No bench reads finer than this, whatever its repeatability is said to be (from memory). [-]
FINEST_READING = 2e-4


@dataclass(frozen=True, slots=True)
class _Spread:
    """Standard deviations of one smooth difference between curves, from memory, meant wide."""

    level: float
    tilt: float  # proportional to lift
    bend: float  # smooth over `bend_length` of the lift range
    bend_length: float
    rough: float  # kinks over `rough_length`
    rough_length: float
    grows: bool  # bend and kinks in proportion to lift squared and lift


_COMMON_CURVE = _Spread(1.0, 1.0, 0.5, 0.5, 0.02, 0.15, grows=False)
_STAGE = _Spread(0.06, 0.06, 0.04, 0.4, 0.010, 0.15, grows=False)
_PORT = _Spread(0.025, 0.03, 0.07, 0.4, 0.020, 0.20, grows=True)


@dataclass(frozen=True, slots=True, eq=False)
class Cluster:
    """Sweeps judged together, with deviations and their inverse covariance.

    Parameters
    ----------
    groups : tuple of Group
    members : tuple of (int, int)
        Group number and place in the group of each sweep.
    blocks : tuple of slice
        Rows of each sweep.
    deviation : ndarray, shape (n,)
        ln(A/L) less its mean. [-]
    precision : ndarray, shape (n, n)
        Inverse covariance of the deviation. [-]
    """

    groups: tuple[Group, ...]
    members: tuple[tuple[int, int], ...]
    blocks: tuple[slice, ...]
    deviation: Array
    precision: Array


def clusters(groups: Sequence[Group]) -> list[tuple[Group, ...]]:
    """Gather the groups of one bench, side and configuration, by stage, in handy sizes."""
    families: dict[tuple[str, str, str], dict[str, list[Group]]] = {}
    for group in (part for whole in groups for part in _handy(whole)):
        first = group.first
        family = families.setdefault((first.bench, first.side, first.configuration), {})
        family.setdefault(first.stage, []).append(group)
    out: list[tuple[Group, ...]] = []
    for stages in families.values():
        current: list[Group] = []
        size = 0
        for members in stages.values():
            readings = sum(_readings(g) for g in members)
            if current and size + readings > LARGEST_CLUSTER:
                out.append(tuple(current))
                current, size = [], 0
            for group in members:
                if current and size + _readings(group) > LARGEST_CLUSTER:
                    out.append(tuple(current))
                    current, size = [], 0
                current.append(group)
                size += _readings(group)
        out.append(tuple(current))
    return out


def _handy(group: Group) -> list[Group]:
    """Cut a port with very many repeats into parts of even size."""
    parts = -(-_readings(group) // LARGEST_CLUSTER)
    cuts = [round(k * len(group.sweeps) / parts) for k in range(parts + 1)]
    return [
        Group(group.sweeps[a:b], group.slopes[a:b], group.noise[a:b])
        for a, b in pairwise(cuts)
        if b > a
    ]


def _readings(group: Group) -> int:
    return sum(sweep.curve.lift.size for sweep in group.sweeps)


def _kernel(x: Array, spread: _Spread) -> Array:
    distance = np.abs(x[:, None] - x[None, :])
    product = x[:, None] * x[None, :]
    bend = spread.bend**2 * np.exp(-0.5 * (distance / spread.bend_length) ** 2)
    r = np.sqrt(3.0) * distance / spread.rough_length
    rough = spread.rough**2 * (1.0 + r) * np.exp(-r)
    if spread.grows:
        bend = bend * product**2
        rough = rough * product
    total: Array = spread.level**2 + spread.tilt**2 * product + bend + rough
    return total


def build(groups: Sequence[Group], repeatability: Repeatability, limits: Limits) -> Cluster:
    """Set up deviations and covariance of a cluster.

    Parameters
    ----------
    groups : sequence of Group
        Of one bench, side and configuration.
    repeatability : Repeatability
    limits : Limits

    Returns
    -------
    Cluster
    """
    members = [(g, k) for g, group in enumerate(groups) for k in range(len(group.sweeps))]
    sweeps = [groups[g].sweeps[k] for g, k in members]
    sizes = [s.curve.lift.size for s in sweeps]
    ends = np.cumsum(sizes)
    blocks = tuple(slice(int(e - n), int(e)) for e, n in zip(ends, sizes, strict=True))

    lift = np.concatenate([s.curve.lift for s in sweeps])
    area = np.concatenate([s.curve.area for s in sweeps])
    deviation = np.log(area / lift)
    deviation -= deviation.mean()

    stages = {name: i for i, name in enumerate(dict.fromkeys(g.first.stage for g in groups))}
    group_of = np.repeat([g for g, _ in members], sizes)
    stage_of = np.repeat([stages[s.stage] for s in sweeps], sizes)
    setting, inverse = np.unique(np.round(lift, 8), return_inverse=True)
    x = setting / setting[-1]
    rows, columns = inverse[:, None], inverse[None, :]
    covariance = _kernel(x, _COMMON_CURVE)[rows, columns]
    covariance += _kernel(x, _STAGE)[rows, columns] * (stage_of[:, None] == stage_of[None, :])
    covariance += _kernel(x, _PORT)[rows, columns] * (group_of[:, None] == group_of[None, :])
    for (g, k), block in zip(members, blocks, strict=True):
        group = groups[g]
        covariance[block, block] += sweep_covariance(
            group.sweeps[k].curve.area, group.slopes[k], group.noise[k], repeatability, limits
        )
    precision = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    return Cluster(
        groups=tuple(groups),
        members=tuple(members),
        blocks=blocks,
        deviation=deviation,
        precision=precision,
    )


def sweep_covariance(
    area: Array, slope: Array, noise: Array, /, repeatability: Repeatability, limits: Limits
) -> Array:
    """Covariance of ln A of one sweep about its port.

    Parameters
    ----------
    area : ndarray, shape (n,)
        [m2]
    slope : ndarray, shape (n,)
        d(ln A)/dL of the port. [1/m]
    noise : ndarray, shape (n,)
        Relative variance from last digit and scatter. [-]
    repeatability : Repeatability
    limits : Limits

    Returns
    -------
    ndarray, shape (n, n)
        [-]
    """
    leak = limits.leak_spread / area
    block = np.diag(np.maximum(repeatability.reading**2 + noise, FINEST_READING**2))
    block += repeatability.common**2
    block += np.outer(slope, slope) * repeatability.lift_setting**2
    block += np.outer(leak, leak)
    return block


def port_difference(lift: Array) -> Array:
    """Covariance of ln A between sister ports at these lifts. [-]"""
    return _kernel(lift / lift[-1], _PORT)
