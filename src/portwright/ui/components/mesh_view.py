"""A scan in three dimensions with a plane that cuts it."""

from __future__ import annotations

import base64
from collections.abc import Sequence

import numpy as np
from nicegui.element import Element
from numpy.typing import NDArray

Array = NDArray[np.float64]


class MeshView(Element, component="mesh_view.js"):
    """View of a mesh.

    Parameters
    ----------
    corners : ndarray, shape (n, 3)
        [m]
    faces : ndarray of int, shape (m, 3)
    label : str
        What is shown, for those who cannot see it.
    """

    def __init__(self, corners: Array, faces: NDArray[np.int64], label: str) -> None:
        super().__init__()
        self._props.update(
            corners=base64.b64encode(corners.astype("<f4").tobytes()).decode("ascii"),
            faces=base64.b64encode(faces.astype("<u4").tobytes()).decode("ascii"),
            label=label,
            line=[],
            plane=[],
            outlines=[],
        )

    def follow(self, line: Array) -> None:
        """Draw a centreline. [m]"""
        self._props["line"] = _flat(line)

    def cut(self, point: Array, normal: Array, outlines: Sequence[Array]) -> None:
        """Cut away what lies ahead of a plane and draw its outlines. [m]"""
        self._props["plane"] = [*(float(v) for v in normal), float(point @ normal)]
        self._props["outlines"] = [_flat(outline) for outline in outlines]


def _flat(points: Array) -> list[float]:
    return [round(float(v), 6) for v in points.ravel()]
