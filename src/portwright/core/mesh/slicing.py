"""Plane sections of a mesh, many of them quickly."""

from __future__ import annotations

import numpy as np

from portwright.core.constants import Array
from portwright.core.mesh.blocks import boxes, grid, morton, segments
from portwright.core.mesh.chains import closed_loops, partners, walk
from portwright.core.mesh.cut import Cut
from portwright.core.mesh.mesh import Mesh
from portwright.errors import GeometryError


class Slicer:
    """A mesh prepared for many sections.

    Parameters
    ----------
    mesh : Mesh
        Welded mesh; holes, flipped and non-manifold triangles are coped with.

    Notes
    -----
    Triangles are sorted along a space-filling curve (Morton) into blocks with boxes; a plane only
    looks at the blocks it meets.  A corner exactly in the plane counts as above it, so every
    triangle has no or two cut edges and outlines close by the edges they share.
    """

    def __init__(self, mesh: Mesh) -> None:
        fine, coarse = morton(mesh.vertices, mesh.faces, *grid(mesh.vertices))
        order = np.argsort(fine, kind="stable")  # 16-bit keys twice: numpy sorts those by digits
        order = order[np.argsort(coarse[order], kind="stable")]
        self._faces = np.ascontiguousarray(mesh.faces[order])
        self._vertices = mesh.vertices
        low, high = boxes(self._vertices, self._faces)
        self._middle, self._half = 0.5 * (low + high), 0.5 * (high - low)

    def cut(self, point: Array, normal: Array) -> Cut:
        """Cut with a plane.

        Parameters
        ----------
        point : ndarray, shape (3,)
            Any point of the plane. [m]
        normal : ndarray, shape (3,)
            Its normal, of any length but zero. [-]

        Returns
        -------
        Cut
            Without outlines where the plane misses the mesh.

        Raises
        ------
        GeometryError
            A normal without direction, or a surface in shreds at this plane.
        """
        axes = plane_axes(normal)
        keys, ends = segments(self._vertices, self._faces, self._middle, self._half, point, axes[2])
        if not len(keys):
            return Cut(point, axes, ())
        flat = (ends.reshape(-1, 3) - point) @ axes[:2].T
        partner = partners(keys.ravel())
        chains = walk(partner)
        loops = closed_loops(flat, *chains)
        return Cut(point, axes, tuple(sorted(loops, key=lambda k: -k.area)))


def plane_axes(normal: Array) -> Array:
    """Axes of a plane: two in it, then its unit normal, right-handed, as rows.

    Parameters
    ----------
    normal : ndarray, shape (3,)
        Of any length but zero. [-]

    Raises
    ------
    GeometryError
        A normal without direction.
    """
    length = float(np.linalg.norm(normal))
    if not np.isfinite(length) or length <= 0.0:
        raise GeometryError("The plane has no direction.", "Give a normal such as 0,0,1.")
    n = normal / length
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(n)))] = 1.0
    u = np.cross(helper, n)
    u /= np.linalg.norm(u)
    return np.array([u, np.cross(n, u), n])
