"""A scan in three dimensions with a plane that cuts it."""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence

import numpy as np
from nicegui.element import Element
from nicegui.events import GenericEventArguments
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
    depths : ndarray, shape (n,), optional
        Metal taken at each corner, shown as colour. [m]
    deepest : float
        Depth of the full colour. [m]
    on_touch : callable, optional
        Called with the place touched while :meth:`ask` is on. [m]
    """

    def __init__(
        self,
        corners: Array,
        faces: NDArray[np.int64],
        label: str,
        depths: Array | None = None,
        deepest: float = 0.0,
        on_touch: Callable[[Array], object] | None = None,
    ) -> None:
        super().__init__()
        coloured = "" if depths is None else _packed(depths, "<f4")
        self._props.update(
            depths=coloured,
            deepest=deepest,
            corners=_packed(corners, "<f4"),
            faces=_packed(faces, "<u4"),
            label=label,
            touching=False,
            line=[],
            plane=[],
            outlines=[],
        )

        if on_touch is not None:

            def touched(event: GenericEventArguments) -> object:
                return on_touch(np.array([float(v) for v in event.args]))

            self.on("touched", touched)

    def ask(self, *, on: bool) -> None:
        """Let a touch choose a place, or only turn the picture."""
        self._props["touching"] = on

    def ring(self, rings: Sequence[Array]) -> None:
        """Draw closed lines on the picture, nothing cut away. [m]"""
        self._props["outlines"] = [_flat(ring) for ring in rings]

    def follow(self, line: Array) -> None:
        """Draw a centreline. [m]"""
        self._props["line"] = _flat(line)

    def cut(self, point: Array, normal: Array, outlines: Sequence[Array]) -> None:
        """Cut away what lies ahead of a plane and draw its outlines. [m]"""
        self._props["plane"] = [*(float(v) for v in normal), float(point @ normal)]
        self._props["outlines"] = [_flat(outline) for outline in outlines]


def _packed(values: NDArray[np.float64] | NDArray[np.int64], form: str) -> str:
    return base64.b64encode(values.astype(form).tobytes()).decode("ascii")


def _flat(points: Array) -> list[float]:
    return [round(float(v), 6) for v in points.ravel()]
