"""Plane sections of a mesh, many of them quickly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from portwright.core.constants import Array
from portwright.core.gas1d.compiled import allocating
from portwright.core.mesh.mesh import Index, Mesh
from portwright.errors import GeometryError

_Keys: TypeAlias = NDArray[np.uint16]
_BLOCK = 64  # triangles that share one box
_MORTON_BITS = 10
_MOST_OPEN_ENDS = 400  # more means the surface is in shreds at this plane


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """One closed outline in a section.

    Parameters
    ----------
    points : ndarray, shape (k, 2)
        In the axes of the plane; the last joins the first. [m]
    gap : float
        Length that had to be bridged because the mesh has holes there. [m]
    """

    points: Array
    gap: float

    @property
    def area(self) -> float:
        """Enclosed area, whichever way round the points run. [m2]"""
        return abs(self._moments()[0])

    @property
    def perimeter(self) -> float:
        """Length of the outline, bridges included. [m]"""
        step = np.roll(self.points, -1, axis=0) - self.points
        return float(np.sum(np.hypot(step[:, 0], step[:, 1])))

    @property
    def centroid(self) -> Array:
        """Centroid in the axes of the plane. [m]"""
        area, moment = self._moments()
        if area == 0.0:
            middle: Array = self.points.mean(axis=0)
            return middle
        centre: Array = moment / area + self.points[0]
        return centre

    def _moments(self) -> tuple[float, Array]:
        a = self.points - self.points[0]
        b = np.roll(a, -1, axis=0)
        cross = a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
        return 0.5 * float(np.sum(cross)), np.sum((a + b) * cross[:, np.newaxis], axis=0) / 6.0

    def contains(self, point: Array) -> bool:
        """Whether a point of the plane lies inside."""
        return bool(_inside(self.points, float(point[0]), float(point[1])))


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Everything a plane cuts out of a mesh.

    Parameters
    ----------
    point : ndarray, shape (3,)
        Origin of the plane's axes. [m]
    axes : ndarray, shape (3, 3)
        Rows: both axes of the plane, and its normal. [-]
    loops : tuple of Loop
        Outlines, largest first.
    """

    point: Array
    axes: Array
    loops: tuple[Loop, ...]

    def depths(self) -> list[int]:
        """How many other outlines each one lies in."""
        return [
            sum(other.contains(loop.points[0]) for other in self.loops if other is not loop)
            for loop in self.loops
        ]

    @property
    def area(self) -> float:
        """Area between outlines, those inside others taken off and so on inwards. [m2]"""
        return sum(
            loop.area * (-1.0) ** depth
            for loop, depth in zip(self.loops, self.depths(), strict=True)
        )

    @property
    def perimeter(self) -> float:
        """Length of all outlines. [m]"""
        return sum(loop.perimeter for loop in self.loops)

    @property
    def gap(self) -> float:
        """Length bridged in all outlines. [m]"""
        return sum(loop.gap for loop in self.loops)

    def in_space(self, points: Array) -> Array:
        """Points of the plane's axes in space. [m]"""
        placed: Array = self.point + points @ self.axes[:2]
        return placed

    def region(self, near: Array, at_least: float = 0.0) -> Region | None:
        """The outline round a point with what stands in it, None where there is none.

        Parameters
        ----------
        near : ndarray, shape (2,)
            In the axes of the plane. [m]
        at_least : float
            Smaller outlines are passed over: a stem may stand round the point. [m2]
        """
        round_it = [k for k in self.loops if k.area >= at_least and k.contains(near)]
        if not round_it:
            return None
        outline = min(round_it, key=lambda k: k.area)
        inside = [
            k
            for k in self.loops
            if k is not outline and k.area < outline.area and outline.contains(k.points[0])
        ]
        return Region(outline, tuple(_outermost(inside)))


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """One outline less what stands in it."""

    outline: Loop
    islands: tuple[Loop, ...]

    @property
    def area(self) -> float:
        """[m2]"""
        return self.outline.area - sum(k.area for k in self.islands)

    @property
    def perimeter(self) -> float:
        """[m]"""
        return self.outline.perimeter + sum(k.perimeter for k in self.islands)

    @property
    def centroid(self) -> Array:
        """Centroid in the axes of the plane, islands taken off. [m]"""
        moment = self.outline.area * self.outline.centroid
        for island in self.islands:
            moment = moment - island.area * island.centroid
        centre: Array = moment / self.area
        return centre

    @property
    def gap(self) -> float:
        """[m]"""
        return self.outline.gap + sum(k.gap for k in self.islands)


def _outermost(loops: list[Loop]) -> list[Loop]:
    return [k for k in loops if not any(o is not k and o.contains(k.points[0]) for o in loops)]


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
        fine, coarse = _morton(mesh.vertices, mesh.faces, *_grid(mesh.vertices))
        order = np.argsort(fine, kind="stable")  # 16-bit keys twice: numpy sorts those by digits
        order = order[np.argsort(coarse[order], kind="stable")]
        self._faces = np.ascontiguousarray(mesh.faces[order])
        self._vertices = mesh.vertices
        low, high = _boxes(self._vertices, self._faces)
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
        keys, ends = _segments(
            self._vertices, self._faces, self._middle, self._half, point, axes[2]
        )
        if not len(keys):
            return Cut(point, axes, ())
        flat = (ends.reshape(-1, 3) - point) @ axes[:2].T
        partner = _partners(keys.ravel())
        chains = _walk(partner)
        loops = _closed(flat, *chains)
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


@allocating
def _grid(vertices: Array) -> tuple[Array, Array]:
    """Origin of the curve's cells and cells per length along each axis."""
    low, high = vertices[0].copy(), vertices[0].copy()
    for i in range(vertices.shape[0]):
        for k in range(3):
            low[k] = min(low[k], vertices[i, k])
            high[k] = max(high[k], vertices[i, k])
    scale = np.zeros(3)  # flat along an axis: one cell
    for k in range(3):
        if high[k] > low[k]:
            scale[k] = (2**_MORTON_BITS - 1) / (high[k] - low[k])
    return low, scale


@allocating
def _morton(vertices: Array, faces: Index, low: Array, scale: Array) -> tuple[_Keys, _Keys]:
    """Place of each triangle on a space-filling curve: its lower 16 bits, and those above."""
    fine = np.empty(faces.shape[0], dtype=np.uint16)
    coarse = np.empty(faces.shape[0], dtype=np.uint16)
    for t in range(faces.shape[0]):
        key = 0
        for k in range(3):
            middle = 0.0
            for i in range(3):
                middle += vertices[faces[t, i], k]
            cell = int((middle / 3.0 - low[k]) * scale[k])
            for bit in range(_MORTON_BITS):
                key |= ((cell >> bit) & 1) << (3 * bit + k)
        fine[t] = key & 0xFFFF
        coarse[t] = key >> 16
    return fine, coarse


@allocating
def _boxes(vertices: Array, faces: Index) -> tuple[Array, Array]:
    """Lowest and highest corner of each block of triangles."""
    blocks = (faces.shape[0] + _BLOCK - 1) // _BLOCK
    low, high = np.full((blocks, 3), np.inf), np.full((blocks, 3), -np.inf)
    for t in range(faces.shape[0]):
        block = t // _BLOCK
        for i in range(3):
            for k in range(3):
                value = vertices[faces[t, i], k]
                low[block, k] = min(low[block, k], value)
                high[block, k] = max(high[block, k], value)
    return low, high


@allocating
def _segments(
    vertices: Array, faces: Index, middle: Array, half: Array, point: Array, normal: Array
) -> tuple[Index, Array]:
    """Edge keys and end points of the segment each met triangle leaves in the plane."""
    met = _met(vertices, faces, middle, half, point, normal)
    keys = np.empty((met.shape[0], 2), dtype=np.int64)
    ends = np.empty((met.shape[0], 2, 3))
    distance = np.empty(3)
    for found in range(met.shape[0]):
        face = faces[met[found]]
        _above(vertices, face, point, normal, distance)
        for i in range(3):
            j = (i + 1) % 3
            if (distance[i] >= 0.0) != (distance[j] >= 0.0):
                end = 0 if distance[i] >= 0.0 else 1
                # both triangles of an edge must find the same point to the last digit
                first, last = (i, j) if face[i] < face[j] else (j, i)
                a, b = face[first], face[last]
                keys[found, end] = a * vertices.shape[0] + b
                share = distance[first] / (distance[first] - distance[last])
                for k in range(3):
                    ends[found, end, k] = vertices[a, k] + share * (vertices[b, k] - vertices[a, k])
    return keys, ends


@allocating
def _met(
    vertices: Array, faces: Index, middle: Array, half: Array, point: Array, normal: Array
) -> Index:
    """Triangles with corners on both sides of the plane."""
    met = np.empty(1024, dtype=np.int64)
    found = 0
    distance = np.empty(3)
    for block in range(middle.shape[0]):
        off = 0.0
        reach = 0.0
        for k in range(3):
            off += (middle[block, k] - point[k]) * normal[k]
            reach += half[block, k] * abs(normal[k])
        if abs(off) > reach * (1.0 + 1e-9) + 1e-15:
            continue
        for t in range(block * _BLOCK, min((block + 1) * _BLOCK, faces.shape[0])):
            if _above(vertices, faces[t], point, normal, distance) in (0, 3):
                continue
            if found == met.shape[0]:
                more = np.empty(2 * found, dtype=np.int64)
                more[:found] = met
                met = more
            met[found] = t
            found += 1
    return met[:found].copy()


@allocating
def _above(vertices: Array, face: Index, point: Array, normal: Array, distance: Array) -> int:
    """Distance of three corners from the plane, and how many lie in or above it."""
    count = 0
    for i in range(3):
        d = 0.0
        for k in range(3):
            d += (vertices[face[i], k] - point[k]) * normal[k]
        distance[i] = d
        if d >= 0.0:
            count += 1
    return count


def _partners(keys: Index) -> Index:
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
def _walk(partner: Index) -> tuple[Index, Index, Index]:
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


def _closed(flat: Array, out: Index, starts: Index, closed: Index) -> list[Loop]:
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


@allocating
def _inside(points: Array, x: float, y: float) -> bool:
    """Even-odd rule."""
    inside = False
    j = points.shape[0] - 1
    for i in range(points.shape[0]):
        if (points[i, 1] > y) != (points[j, 1] > y):
            rise = points[j, 1] - points[i, 1]
            if x < points[i, 0] + (y - points[i, 1]) / rise * (points[j, 0] - points[i, 0]):
                inside = not inside
        j = i
    return inside
