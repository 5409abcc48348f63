"""What is wrong with a mesh, and the repairs that change no shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from portwright.core.constants import Array
from portwright.core.gas1d.compiled import allocating
from portwright.core.mesh.mesh import Index, Mesh
from portwright.errors import GeometryError

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A hole in a mesh: a rim of edges with a triangle on one side only.

    Parameters
    ----------
    centre : ndarray, shape (3,)
        Middle of the rim. [m]
    normal : ndarray, shape (3,)
        Unit normal of the plane that fits the rim best. [-]
    length : float
        Length of the rim. [m]
    flatness : float
        Largest distance of the rim from that plane. [m]
    """

    centre: Array
    normal: Array
    length: float
    flatness: float


@dataclass(frozen=True, slots=True, eq=False)
class MeshReport:
    """What a mesh is like.

    Parameters
    ----------
    vertices, faces : int
        Corners and triangles as read, corners at one place counted once. [-]
    shells : int
        Pieces that share no edge. [-]
    degenerate, repeated : int
        Triangles without area, and triangles that are there twice; both were left out. [-]
    non_manifold : int
        Edges with more than two triangles. [-]
    flipped : int
        Triangles turned round to agree with their neighbours. [-]
    openings : tuple of Opening
        Holes, longest rim first.
    """

    vertices: int
    faces: int
    shells: int
    degenerate: int
    repeated: int
    non_manifold: int
    flipped: int
    openings: tuple[Opening, ...]

    @property
    def watertight(self) -> bool:
        """Every edge has exactly two triangles."""
        return not self.openings and self.non_manifold == 0


def repaired(mesh: Mesh) -> tuple[Mesh, MeshReport]:
    """Drop empty and repeated triangles, turn flipped ones, and report on the rest.

    Parameters
    ----------
    mesh : Mesh
        Welded mesh.

    Returns
    -------
    tuple of Mesh and MeshReport
        Each closed shell looks outwards; holes are reported, not filled.

    Raises
    ------
    GeometryError
        Nothing but empty triangles.
    """
    f = mesh.faces
    same = (f[:, 0] == f[:, 1]) | (f[:, 1] == f[:, 2]) | (f[:, 2] == f[:, 0])
    degenerate = int(np.count_nonzero(same))
    f = f[~same]
    if not len(f):
        raise GeometryError("Every triangle of the mesh is empty.", "Export it again.")
    ordered = np.sort(f, axis=1)
    _, first = (
        np.unique(ordered, axis=0, return_index=True) if _may_repeat(ordered) else (None, None)
    )
    repeated = 0 if first is None else len(f) - len(first)
    if first is not None:
        f = f[np.sort(first)]
    faces, neighbours, rims, non_manifold = _edges(f, len(mesh.vertices))
    shell, turned = _oriented(faces, neighbours)
    count = int(shell.max()) + 1 if len(shell) else 0
    turn = turned.astype(bool)
    clean = Mesh(mesh.vertices, np.where(turn[:, np.newaxis], faces[:, ::-1], faces))
    turn = _outwards(clean, shell, count, turn, np.unique(shell[rims[:, 2]]) if len(rims) else None)
    clean = Mesh(mesh.vertices, np.where(turn[:, np.newaxis], faces[:, ::-1], faces))
    report = MeshReport(
        len(mesh.vertices),
        len(mesh.faces),
        count,
        degenerate,
        repeated,
        non_manifold,
        int(np.count_nonzero(turn)),
        _openings(mesh.vertices, rims),
    )
    return clean, report


def _may_repeat(ordered: Index) -> bool:
    """Quick test by hash; the exact search is slow and almost never needed."""
    with np.errstate(over="ignore"):
        key = (ordered[:, 0] * 73856093) ^ (ordered[:, 1] * 19349663) ^ (ordered[:, 2] * 83492791)
    return len(np.unique(key)) < len(key)


def _edges(faces: Index, vertices: int) -> tuple[Index, Index, Index, int]:
    """Triangles, neighbour over each edge (-1 none), rims as (from, to, face), non-manifold edges.

    Neighbours are stored as ``2 * face + same``, same being 1 where both run the edge the same way.
    """
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    key = low * np.int64(vertices) + high
    order = np.argsort(key, kind="stable")
    sorted_key = key[order]
    first = np.flatnonzero(np.concatenate(([True], sorted_key[1:] != sorted_key[:-1])))
    size = np.diff(np.append(first, len(sorted_key)))
    neighbour = np.full(faces.size, -1, dtype=np.int64)
    pair = first[size == 2]
    a, b = order[pair], order[pair + 1]
    alike = (start[a] == start[b]).astype(np.int64)
    neighbour[a], neighbour[b] = 2 * (b // 3) + alike, 2 * (a // 3) + alike
    single = order[first[size == 1]]
    rims = np.column_stack([start[single], end[single], single // 3])
    return faces, neighbour.reshape(-1, 3), rims, int(np.count_nonzero(size > 2))


@allocating
def _oriented(faces: Index, neighbours: Index) -> tuple[Index, Index]:
    """Shell of each triangle, and whether it must turn to agree with the first of its shell."""
    n = faces.shape[0]
    shell = np.full(n, -1, dtype=np.int64)
    turn = np.zeros(n, dtype=np.int64)
    stack = np.empty(n, dtype=np.int64)
    count = 0
    for seed in range(n):
        if shell[seed] >= 0:
            continue
        shell[seed] = count
        stack[0] = seed
        top = 1
        while top > 0:
            top -= 1
            here = stack[top]
            for side in range(3):
                link = neighbours[here, side]
                if link < 0:
                    continue
                other = link // 2
                if shell[other] < 0:
                    shell[other] = count
                    turn[other] = turn[here] ^ (link % 2)
                    stack[top] = other
                    top += 1
        count += 1
    return shell, turn


def _outwards(
    mesh: Mesh, shell: Index, count: int, turn: Flags, open_shells: Index | None
) -> Flags:
    """Turn closed shells that enclose a negative volume, and open ones so that fewer turn."""
    middle = mesh.vertices.mean(axis=0)
    a, b, c = (mesh.vertices[mesh.faces[:, i]] - middle for i in range(3))
    part = np.einsum("ij,ij->i", a, np.cross(b, c))
    volume = np.bincount(shell, part, minlength=count)
    faces = np.bincount(shell, minlength=count)
    turned = np.bincount(shell, turn, minlength=count)
    is_open = np.zeros(count, dtype=bool)
    if open_shells is not None:
        is_open[open_shells] = True
    swap = np.where(is_open, turned > 0.5 * faces, volume < 0.0)
    both: Flags = turn ^ swap[shell]
    return both


def _openings(vertices: Array, rims: Index) -> tuple[Opening, ...]:
    """Rims of single edges, joined end to end."""
    following: dict[int, list[int]] = {}
    for start, end, _ in rims.tolist():
        following.setdefault(start, []).append(end)
    found = []
    while following:
        start = next(iter(following))
        chain, here = [start], start
        while here in following:
            nxt = following[here].pop()
            if not following[here]:
                del following[here]
            if nxt == start:
                break
            chain.append(nxt)
            here = nxt
        if len(chain) >= 3:
            found.append(_opening(vertices[chain]))
    return tuple(sorted(found, key=lambda o: -o.length))


def _opening(rim: Array) -> Opening:
    step = np.roll(rim, -1, axis=0) - rim
    length = np.linalg.norm(step, axis=1)
    weight = 0.5 * (length + np.roll(length, 1))
    centre = (weight[:, np.newaxis] * rim).sum(axis=0) / weight.sum()
    _, _, axes = np.linalg.svd(rim - centre, full_matrices=False)
    off = np.abs((rim - centre) @ axes[2])
    return Opening(centre, axes[2], float(length.sum()), float(off.max()))
