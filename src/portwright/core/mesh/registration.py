"""Laying a later scan on an earlier one, and the metal between them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from portwright.core.constants import Array
from portwright.core.mesh.mesh import Mesh
from portwright.errors import GeometryError

_SAMPLE = 8000  # corners that are matched; more does not move the answer
_ROUNDS = 80
_SETTLED = 1e-9  # a move this small beside the mesh is the end of it
_KEEP = 0.6  # share of best matches that steer: the rest may be where metal was taken
_AVERAGED = 3
_SEED = 20240501


@dataclass(frozen=True, slots=True, eq=False)
class Registration:
    """A rigid move of one mesh onto another.

    Parameters
    ----------
    rotation : ndarray, shape (3, 3)
        [-]
    shift : ndarray, shape (3,)
        [m]
    residual : float
        Root mean square distance of the surfaces where they agree best. [m]
    """

    rotation: Array
    shift: Array
    residual: float

    def moved(self, points: Array) -> Array:
        """Points after the move. [m]"""
        placed: Array = points @ self.rotation.T + self.shift
        return placed


@dataclass(frozen=True, slots=True, eq=False)
class Removed:
    """Metal taken between two scans of one port.

    Parameters
    ----------
    registration : Registration
        Move of the later scan onto the earlier one.
    depth : ndarray, shape (n,)
        Along the normal at each corner of the earlier mesh, above zero where the port grew. [m]
    volume : float
        Sum of depth over surface: grown less shrunk. [m3]
    grown, shrunk : float
        Both parts, each where the depth is beyond the residual. [m3]
    """

    registration: Registration
    depth: Array
    volume: float
    grown: float
    shrunk: float


def register(fixed: Mesh, moving: Mesh, *, search: bool = True) -> Registration:
    """Lay a mesh onto another one by their unchanged surface.

    Parameters
    ----------
    fixed, moving : Mesh
        Earlier and later scan, in the same unit.
    search : bool
        Try the four ways the main axes can agree first; without it the meshes must already lie
        within a few millimetres of each other.

    Returns
    -------
    Registration
        Move of ``moving``.

    Raises
    ------
    GeometryError
        The meshes have nothing to match.

    Notes
    -----
    Iterative closest points, point to plane (Chen and Medioni 1992, from memory), trimmed to the
    60 % of pairs that lie closest: metal that was taken must not pull.
    """
    if len(fixed.vertices) < 50 or len(moving.vertices) < 50:
        raise GeometryError("The meshes are too coarse to lay on each other.")
    tree = cKDTree(fixed.vertices)
    normals = fixed.vertex_normals()
    points = _sampled(moving)
    starts = _starts(fixed, moving) if search else [(np.eye(3), np.zeros(3))]
    coarse = points[:: max(1, len(points) // 1500)]
    first = [_iterate(tree, fixed.vertices, normals, coarse, start, rounds=20) for start in starts]
    best = min(first, key=lambda r: r.residual)
    start = (best.rotation, best.shift)
    return _iterate(tree, fixed.vertices, normals, points, start, rounds=_ROUNDS)


def removed_metal(before: Mesh, after: Mesh, registration: Registration) -> Removed:
    """Depth and volume taken between two scans.

    Parameters
    ----------
    before, after : Mesh
        Normals out of the air, into the metal.
    registration : Registration
        Of ``after`` onto ``before``.

    Returns
    -------
    Removed
        Depth at every corner of ``before``.

    Notes
    -----
    Depth is measured along the earlier normal to the plane of the nearest later corner and averaged
    over the neighbouring corners.  The volume
    between two surfaces a depth ``t`` apart is ``t + t^2 H`` per surface, H the mean curvature; the
    mean of the surfaces before and after replaces the second term (trapezium rule).
    """
    vertices = registration.moved(after.vertices)
    normals = after.vertex_normals() @ registration.rotation.T
    own = before.vertex_normals()
    _, nearest = cKDTree(vertices).query(before.vertices)
    gap = vertices[nearest] - before.vertices
    facing = np.einsum("ij,ij->i", normals[nearest], own)
    depth = np.where(
        facing > 0.2,  # a wall that faces away is another wall
        np.einsum("ij,ij->i", gap, normals[nearest]) / np.maximum(facing, 0.2),
        0.0,
    )
    depth = _smoothed(before, depth)
    grown_mesh = Mesh(before.vertices + depth[:, np.newaxis] * own, before.faces)
    share = 0.5 * (before.vertex_areas() + grown_mesh.vertex_areas())
    part = depth * share
    real = np.abs(depth) > registration.residual
    return Removed(
        registration,
        depth,
        float(np.sum(part)),
        float(np.sum(part[real & (depth > 0.0)])),
        abs(float(np.sum(part[real & (depth < 0.0)]))),
    )


def _smoothed(mesh: Mesh, values: Array) -> Array:
    """Values at corners averaged over their neighbours, a few times: roughness is not depth."""
    start, end = mesh.faces.ravel(), np.roll(mesh.faces, -1, axis=1).ravel()
    count = len(mesh.vertices)
    edges = np.bincount(start, minlength=count) + 1.0
    for _ in range(_AVERAGED):
        values = (values + np.bincount(start, values[end], count)) / edges
    return values


def _sampled(mesh: Mesh) -> Array:
    """Corners drawn so that every piece of surface counts alike."""
    weight = mesh.vertex_areas()
    dice = np.random.default_rng(_SEED)  # the same scans give the same answer
    count = min(_SAMPLE, int(np.count_nonzero(weight)))
    chosen = dice.choice(len(weight), count, replace=False, p=weight / weight.sum())
    points: Array = mesh.vertices[chosen]
    return points


def _axes(mesh: Mesh) -> tuple[Array, Array]:
    weight = mesh.vertex_areas()
    centre = (weight[:, np.newaxis] * mesh.vertices).sum(axis=0) / weight.sum()
    off = mesh.vertices - centre
    _, axes = np.linalg.eigh((off * weight[:, np.newaxis]).T @ off)
    if np.linalg.det(axes) < 0.0:
        axes[:, 0] = -axes[:, 0]
    return centre, axes


def _starts(fixed: Mesh, moving: Mesh) -> list[tuple[Array, Array]]:
    """As it lies, and the four turns that lay main axis on main axis."""
    centre, axes = _axes(fixed)
    own_centre, own_axes = _axes(moving)
    found = [(np.eye(3), np.zeros(3))]
    for a, b in itertools.product((1.0, -1.0), repeat=2):
        turn = axes @ np.diag([a, b, a * b]) @ own_axes.T
        found.append((turn, centre - turn @ own_centre))
    return found


def _iterate(
    tree: cKDTree,
    vertices: Array,
    normals: Array,
    points: Array,
    start: tuple[Array, Array],
    rounds: int,
) -> Registration:
    rotation, shift = start
    size = float(np.max(np.ptp(vertices, axis=0)))
    residual = np.inf
    for _ in range(rounds):
        placed = points @ rotation.T + shift
        gap, nearest = tree.query(placed)
        normal = normals[nearest]
        off = np.einsum("ij,ij->i", placed - vertices[nearest], normal)
        # distance to the plane tells cut surface from uncut, distance to the corner does not
        far = np.where(gap < 0.2 * size, np.abs(off), gap)
        keep = far <= np.quantile(far, _KEEP)
        residual = float(np.sqrt(np.mean(off[keep] ** 2)))
        middle = placed[keep].mean(axis=0)
        arm = placed[keep] - middle
        system = np.hstack([np.cross(arm, normal[keep]) / size, normal[keep]])
        # a surface of revolution leaves a turn open: the smallest solution does not turn
        move = np.linalg.lstsq(system, -off[keep], rcond=1e-6)[0]
        turn = _turn(move[:3] / size)
        rotation = turn @ rotation
        shift = turn @ (shift - middle) + middle + move[3:]
        if float(np.linalg.norm(move)) < _SETTLED * size:
            break
    return Registration(rotation, shift, residual)


def _turn(vector: Array) -> Array:
    """Rotation about a vector by its length (Rodrigues)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-15:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn: Array = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
    return turn
