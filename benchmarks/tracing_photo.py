"""Photographs with a port-like shape of known area in a printed frame."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from benchmarks.tracing_camera import MM, Array, TrueCamera, render
from benchmarks.tracing_shapes import FRAME, MIDDLE, shape_at, shoelace

SIZE, FLAT = 18.0 * MM, 0.8
Colour = tuple[float, float, float]
Colours = tuple[Colour, Colour]
SLICE: Colours = ((168.0, 84.0, 96.0), (206.0, 202.0, 190.0))  # a mould slice on paper
PORT: Colours = ((42.0, 40.0, 38.0), (150.0, 150.0, 152.0))  # a dark port in a milled face
CHAMBER: Colours = ((122.0, 121.0, 119.0), (160.0, 158.0, 155.0))  # metal on metal
BENCH, CARD = (92.0, 80.0, 66.0), (228.0, 226.0, 218.0)  # what lies beyond the edge of a sheet
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


@dataclass(frozen=True)
class Scene:
    """A photograph with a port-like shape of known area in a printed frame."""

    picture: NDArray[np.uint8]
    camera: TrueCamera
    area: float


def scene(
    colours: Colours,
    *,
    seed: int,
    tilt: float = 12.0,
    lens: float = -0.01,
    blur: float = 1.5,
    noise: float = 4.0,
    beyond: Colour | None = None,
) -> Scene:
    """Photograph a random port-like shape, in a printed frame or on a sheet that ends there."""
    rng = np.random.default_rng(seed)
    camera = TrueCamera(
        width=1400,
        height=1050,
        focal=1050.0,
        distance=0.155,
        tilt=math.radians(tilt),
        direction=float(rng.uniform(0.0, 6.0)),
        roll=0.2,
        lens=lens,
        target=(60.0 * MM, 45.0 * MM),
    )
    harmonics = rng.normal(0.0, 1.0, (3, 2)) * np.array([[0.10], [0.05], [0.02]])
    outline = shape_at(2.0 * np.pi * np.arange(3000) / 3000, harmonics, SIZE, FLAT)

    def inside(place: Array) -> NDArray[np.bool_]:
        x, y = place[..., 0] - MIDDLE[0], (place[..., 1] - MIDDLE[1]) / FLAT
        angle, radius = np.arctan2(y, x), np.ones(place.shape[:-1])
        for order, (a, b) in enumerate(harmonics, start=2):
            radius += a * np.cos(order * angle) + b * np.sin(order * angle)
        within: NDArray[np.bool_] = np.hypot(x, y) < SIZE * radius
        return within

    picture = render(
        camera,
        inside,
        rng,
        colours=colours,
        frame=FRAME,
        beyond=beyond,
        blur=blur,
        noise=noise,
    )
    return Scene(picture, camera, shoelace(outline))
