"""A scan and its sections to look at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from portwright.core.mesh.centreline import region_at
from portwright.core.mesh.mesh import group_mean, simplified
from portwright.core.mesh.profile import ScanProfile
from portwright.services.scan import Array, Scan, ScanChange


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A coarser copy of a scan, to look at.

    Parameters
    ----------
    corners : ndarray, shape (n, 3)
        [m]
    faces : ndarray of int, shape (m, 3)
    depths : ndarray, shape (n,), or None
        Metal taken at each corner. [m]
    """

    corners: Array
    faces: NDArray[np.int64]
    depths: Array | None = None


def picture_of(scan: Scan, change: ScanChange | None = None, most: int = 40_000) -> Picture:
    """Coarser copy of a scan, with the metal taken where a change is given."""
    coarse, group = simplified(scan.mesh, most)
    depths = None if change is None else group_mean(change.removed.depth, group)
    return Picture(coarse.vertices, coarse.faces, depths)


def outlines_at(scan: Scan, profile: ScanProfile, station: int) -> list[Array]:
    """Outlines of a section of a profile in space, each closed. [m]"""
    found = region_at(scan.slicer, profile.line.points[station], profile.line.tangents[station])
    if found is None:  # pragma: no cover - the profile was made from these sections
        return []
    cut, region = found
    loops = (region.outline, *region.islands)
    return [cut.in_space(np.vstack([k.points, k.points[:1]])) for k in loops]
