"""A triangle mesh as arrays, and what follows from it directly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from portwright.core.constants import Array
from portwright.errors import GeometryError

Index = NDArray[np.int64]
_WELD_STEPS = 2**20  # corners in the same millionth of the size are one corner


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles over shared corners.

    Parameters
    ----------
    vertices : ndarray, shape (n, 3)
        Corners. [m]
    faces : ndarray of int, shape (m, 3)
        Corners of each triangle, seen from outside against the clock. [-]

    Raises
    ------
    GeometryError
        No triangles, corners that are not numbers, or triangles that name corners that are not
        there.
    """

    vertices: Array
    faces: Index

    def __post_init__(self) -> None:
        v, f = self.vertices, self.faces
        if v.ndim != 2 or v.shape[1:] != (3,) or f.ndim != 2 or f.shape[1:] != (3,) or not len(f):
            raise GeometryError("A mesh needs triangles with three corners in space.")
        if not np.all(np.isfinite(v)):
            raise GeometryError("The mesh has a corner that is not a number.", "Export it again.")
        if int(f.min()) < 0 or int(f.max()) >= len(v):
            raise GeometryError("A triangle names a corner that is not there.", "Export it again.")

    @property
    def size(self) -> Array:
        """Edges of the box round the used corners. [m]"""
        used = self.vertices[self.faces.ravel()]
        edges: Array = np.ptp(used, axis=0)
        return edges

    @property
    def normals(self) -> Array:
        """Normal of each triangle, twice its area long. [m2]"""
        a, b, c = (self.vertices[self.faces[:, i]] for i in range(3))
        cross: Array = np.cross(b - a, c - a)
        return cross

    @property
    def surface(self) -> float:
        """Area of all triangles. [m2]"""
        return 0.5 * float(np.sum(np.linalg.norm(self.normals, axis=1)))

    @property
    def volume(self) -> float:
        """Enclosed volume, above zero when normals point outwards; of a closed mesh only. [m3]"""
        middle = self.vertices.mean(axis=0)  # near the mesh: keeps digits far from the origin
        a, b, c = (self.vertices[self.faces[:, i]] - middle for i in range(3))
        return float(np.sum(np.einsum("ij,ij->i", a, np.cross(b, c)))) / 6.0

    def vertex_normals(self) -> Array:
        """Unit normal at each corner, triangles weighted by area; zero at unused corners. [-]"""
        total = np.zeros_like(self.vertices)
        normals = self.normals
        for i in range(3):
            np.add.at(total, self.faces[:, i], normals)
        length = np.linalg.norm(total, axis=1, keepdims=True)
        unit: Array = np.divide(total, length, out=np.zeros_like(total), where=length > 0.0)
        return unit

    def vertex_areas(self) -> Array:
        """Surface each corner stands for: a third of its triangles. [m2]"""
        third = np.linalg.norm(self.normals, axis=1) / 6.0
        count = len(self.vertices)
        return np.bincount(self.faces.ravel(), np.repeat(third, 3), count).astype(np.float64)


def welded(vertices: Array, faces: Index) -> Mesh:
    """Build a mesh in which corners at the same place are one corner.

    Parameters
    ----------
    vertices : ndarray, shape (n, 3)
        Corners, repeated or not. [m]
    faces : ndarray of int, shape (m, 3)
        Corners of each triangle. [-]

    Returns
    -------
    Mesh
        The same triangles, degenerate ones kept.

    Raises
    ------
    GeometryError
        As :class:`Mesh`.

    Notes
    -----
    Corners in one cell of a grid of a millionth of the largest edge are the same; files repeat
    corners digit by digit, so the grid only has to be finer than the triangles.
    """
    mesh = Mesh(np.ascontiguousarray(vertices, dtype=np.float64), np.asarray(faces, dtype=np.int64))
    low, size = mesh.vertices.min(axis=0), float(np.max(np.ptp(mesh.vertices, axis=0)))
    if size <= 0.0:
        raise GeometryError("All corners of the mesh lie at one place.", "Export it again.")
    cell = np.rint((mesh.vertices - low) * ((_WELD_STEPS - 1) / size)).astype(np.int64)
    key = (cell[:, 0] * _WELD_STEPS + cell[:, 1]) * _WELD_STEPS + cell[:, 2]
    _, first, place = np.unique(key, return_index=True, return_inverse=True)
    return Mesh(mesh.vertices[first], place.reshape(-1)[mesh.faces].astype(np.int64))


def simplified(mesh: Mesh, most: int) -> tuple[Mesh, Index]:
    """Coarser mesh to look at, never to measure.

    Parameters
    ----------
    mesh : Mesh
        Any mesh.
    most : int
        Triangles wanted at most, about. [-]

    Returns
    -------
    tuple of Mesh and ndarray of int
        The mesh, and for each corner of ``mesh`` the corner it went into.

    Notes
    -----
    Corners in one cell of a grid become their mean; triangles that lose a corner go.  The cell is
    sized from the surface: a cell of edge ``h`` leaves about two triangles per ``h^2``.
    """
    own = np.arange(len(mesh.vertices), dtype=np.int64)
    if len(mesh.faces) <= most:
        return mesh, own
    cell = float(np.sqrt(2.0 * mesh.surface / most))
    place = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / cell).astype(np.int64)
    span = place.max(axis=0) + 1
    key = (place[:, 0] * span[1] + place[:, 1]) * span[2] + place[:, 2]
    _, found = np.unique(key, return_inverse=True)
    group = found.reshape(-1).astype(np.int64)
    corners = np.column_stack([group_mean(mesh.vertices[:, k], group) for k in range(3)])
    faces = group[mesh.faces]
    kept = (
        (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    )
    return (Mesh(corners, faces[kept]), group) if np.any(kept) else (mesh, own)


def group_mean(values: Array, group: Index) -> Array:
    """Mean of the values of each group.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One per member, in any unit. [-]
    group : ndarray of int, shape (n,)
        Group of each member, from 0 on, none empty. [-]
    """
    total: Array = np.bincount(group, values) / np.bincount(group)
    return total
