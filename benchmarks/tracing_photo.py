"""A photograph file with a port-like shape of known area in a printed frame."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import numpy as np
from PIL import Image

from benchmarks.tracing import FRAME, MIDDLE, shoelace
from benchmarks.tracing_camera import MM, Array, TrueCamera, render

RADII = (20.0 * MM, 15.0 * MM)


@dataclass(frozen=True)
class Photo:
    """The file and the truth about it.

    Parameters
    ----------
    data : bytes
        JPEG.
    camera : TrueCamera
    area : float
        Of the shape. [m2]
    corners, outline : ndarray
        Of frame and shape on the picture. [px]
    """

    data: bytes
    camera: TrueCamera
    area: float
    corners: Array
    outline: Array


def photograph(*, width: int = 1000, height: int = 750, tilt: float = 10.0) -> Photo:
    """Photograph a mould slice, an ellipse, on a sheet with a printed frame."""
    camera = TrueCamera(
        width=width,
        height=height,
        focal=0.75 * width,
        distance=0.155,
        tilt=math.radians(tilt),
        direction=1.0,
        roll=0.1,
        target=(float(MIDDLE[0]), float(MIDDLE[1])),
    )
    picture = render(
        camera,
        lambda place: np.hypot(*np.moveaxis((place - MIDDLE) / RADII, -1, 0)) < 1.0,
        np.random.default_rng(11),
        blur=1.0,
        frame=FRAME,
    )
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=90)
    turn = 2.0 * np.pi * np.arange(720) / 720.0
    shape = MIDDLE + np.column_stack((RADII[0] * np.cos(turn), RADII[1] * np.sin(turn)))
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * FRAME
    return Photo(out.getvalue(), camera, shoelace(shape), camera.see(corners), camera.see(shape))
