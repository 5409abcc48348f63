"""Triangles of a mesh in blocks along a space-filling curve, and those a plane meets."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from portwright.core.constants import Array
from portwright.core.gas1d.compiled import allocating
from portwright.core.mesh.mesh import Index

_Keys: TypeAlias = NDArray[np.uint16]
_BLOCK = 64  # triangles that share one box
_MORTON_BITS = 10


@allocating
def grid(vertices: Array) -> tuple[Array, Array]:
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
def morton(vertices: Array, faces: Index, low: Array, scale: Array) -> tuple[_Keys, _Keys]:
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
def boxes(vertices: Array, faces: Index) -> tuple[Array, Array]:
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
def segments(
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
