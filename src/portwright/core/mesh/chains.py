"""Cut edges joined to outlines by the edges they share."""

from __future__ import annotations

import numpy as np

from portwright.core.constants import Array
from portwright.core.gas1d.compiled import allocating
from portwright.core.mesh.cut import Loop
from portwright.core.mesh.mesh import Index
from portwright.errors import GeometryError

_MOST_OPEN_ENDS = 400  # more means the surface is in shreds at this plane


def partners(keys: Index) -> Index:
    """End of another segment on the same cut edge, -1 where the mesh ends there."""
    order = np.argsort(keys, kind="stable")
    return _paired(keys[order], order)


@allocating
def _paired(ordered: Index, order: Index) -> Index:
    """Pair equal neighbours; of three on one edge the third stays alone."""
    partner = np.full(order.shape[0], -1, dtype=np.int64)
    i = 0
    while i < order.shape[0] - 1:
        if ordered[i] == ordered[i + 1]:
            partner[order[i]] = order[i + 1]
            partner[order[i + 1]] = order[i]
            i += 2
        else:
            i += 1
    return partner


@allocating
def walk(partner: Index) -> tuple[Index, Index, Index]:
    """Ends in the order met, start of each chain in that list, and whether it closes."""
    n = partner.shape[0]
    used = np.zeros(n // 2, dtype=np.int64)
    out = np.empty(n, dtype=np.int64)
    starts = np.empty(n // 2 + 1, dtype=np.int64)
    closed = np.empty(n // 2 + 1, dtype=np.int64)
    filled = 0
    chains = 0
    for wanted in range(2):  # open chains first, from their loose ends
        for end in range(n):
            if used[end // 2] or (wanted == 0 and partner[end] >= 0):
                continue
            starts[chains] = filled
            here = end
            while True:
                used[here // 2] = 1
                out[filled] = here
                filled += 1
                far = here ^ 1
                nxt = partner[far]
                if nxt < 0 or used[nxt // 2]:
                    if nxt < 0:
                        out[filled] = far
                        filled += 1
                    break
                here = nxt
            closed[chains] = wanted
            chains += 1
    starts[chains] = filled
    return out[:filled].copy(), starts[: chains + 1].copy(), closed[:chains].copy()


def closed_loops(flat: Array, out: Index, starts: Index, closed: Index) -> list[Loop]:
    """Chains as outlines; open ones are joined at their nearest ends."""
    loops, loose = [], []
    for chain in range(len(closed)):
        points = flat[out[starts[chain] : starts[chain + 1]]]
        if closed[chain]:
            if len(points) >= 3:
                loops.append(Loop(points, 0.0))
        else:
            loose.append(points)
    if len(loose) > _MOST_OPEN_ENDS // 2:
        raise GeometryError(
            "The surface is in shreds at this plane.", "Fill the holes of the scan first."
        )
    loops += _joined(loose)
    return loops


def _joined(loose: list[Array]) -> list[Loop]:
    """Join open chains end to nearest end until each closes on itself."""
    chains = [(points, 0.0) for points in loose]
    loops = []
    while chains:
        points, gap = chains.pop()
        own = float(np.hypot(*(points[0] - points[-1])))
        best, place, turn = own, -1, False
        for i, (other, _) in enumerate(chains):
            for flip, start in ((False, other[0]), (True, other[-1])):
                apart = float(np.hypot(*(start - points[-1])))
                if apart < best:
                    best, place, turn = apart, i, flip
        if place < 0:
            if len(points) >= 3:
                loops.append(Loop(points, gap + own))
            continue
        other, other_gap = chains.pop(place)
        joined = np.concatenate([points, other[::-1] if turn else other])
        chains.append((joined, gap + other_gap + best))
    return loops
