"""Solids whose sections, centreline and volume are known, as triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from portwright.core.mesh.mesh import Mesh

Array = NDArray[np.float64]


def tube(
    points: Array, tangents: Array, outline: Array, scale: Array, *, caps: bool = True
) -> Mesh:
    """Sweep an outline along a line, square to it.

    Parameters
    ----------
    points, tangents : ndarray, shape (n, 3)
    outline : ndarray, shape (k, 2)
        Against the clock as seen against the tangent.
    scale : ndarray, shape (n,)
        Size of the outline at each point.
    """
    up = np.array([0.0, 0.0, 1.0])
    across = np.cross(up, tangents)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    above = np.cross(tangents, across)
    rings = points[:, np.newaxis, :] + scale[:, np.newaxis, np.newaxis] * (
        outline[np.newaxis, :, :1] * across[:, np.newaxis, :]
        + outline[np.newaxis, :, 1:] * above[:, np.newaxis, :]
    )
    n, k = len(points), len(outline)
    i, j = np.meshgrid(np.arange(n - 1), np.arange(k), indexing="ij")
    a, b = i * k + j, i * k + (j + 1) % k
    c, d = a + k, b + k
    faces = [np.stack([a, b, d], -1).reshape(-1, 3), np.stack([a, d, c], -1).reshape(-1, 3)]
    vertices = rings.reshape(-1, 3)
    if caps:
        ends = np.array([points[0], points[-1]])
        vertices = np.vstack([vertices, ends])
        ring = np.arange(k)
        nxt = (ring + 1) % k
        first, last = n * k, n * k + 1
        faces.append(np.stack([np.full(k, first), nxt, ring], -1))
        base = (n - 1) * k
        faces.append(np.stack([np.full(k, last), base + ring, base + nxt], -1))
    return Mesh(vertices, np.concatenate(faces).astype(np.int64))


def circle(radius: float, count: int = 128) -> Array:
    """Outline of a polygon with the area of the circle."""
    phi = 2.0 * np.pi * np.arange(count) / count
    fair = np.sqrt(np.pi / (0.5 * count * np.sin(2.0 * np.pi / count)))
    points: Array = radius * fair * np.column_stack([np.cos(phi), np.sin(phi)])
    return points


def rounded_rectangle(width: float, height: float, radius: float, corner: int = 24) -> Array:
    """Outline, corners included."""
    phi = np.linspace(0.0, 0.5 * np.pi, corner)
    centres = [(1, 1), (-1, 1), (-1, -1), (1, -1)]
    parts = []
    for turn, (sx, sy) in enumerate(centres):
        at = phi + 0.5 * np.pi * turn
        parts.append(
            np.column_stack(
                [
                    sx * (0.5 * width - radius) + radius * np.cos(at),
                    sy * (0.5 * height - radius) + radius * np.sin(at),
                ]
            )
        )
    corners = np.concatenate(parts)
    out = []
    for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        steps = max(1, int(np.linalg.norm(q - p) / 0.8e-3))
        out.append(p + (q - p) * (np.arange(steps) / steps)[:, np.newaxis])
    return np.concatenate(out)


def bent_line(radius: float, angle: float, straight: float, count: int) -> tuple[Array, Array]:
    """Straight, arc in the x-y plane, straight; evenly spaced."""
    total = 2.0 * straight + radius * angle
    s = np.linspace(0.0, total, count)
    turn = np.clip((s - straight) / radius, 0.0, angle)
    before = np.minimum(s, straight)
    after = np.maximum(s - straight - radius * angle, 0.0)
    x = before + radius * np.sin(turn) + after * np.cos(angle)
    y = radius * (1.0 - np.cos(turn)) + after * np.sin(angle)
    points = np.column_stack([x, y, np.zeros(count)])
    tangents = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(count)])
    return points, tangents


def noisy(mesh: Mesh, size: float, seed: int = 1) -> Mesh:
    """Every corner moved at random by a standard deviation in each direction."""
    dice = np.random.default_rng(seed)
    return Mesh(mesh.vertices + size * dice.standard_normal(mesh.vertices.shape), mesh.faces)
