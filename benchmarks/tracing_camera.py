"""A camera that is known exactly: where a plane point falls on the picture, and the picture itself.

Written apart from the code it checks: it goes from the plane to the picture, point by point, with
its own rotation, and bends with the inverse of the lens model by iteration.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

Array = NDArray[np.float64]

MM = 1e-3


@dataclass(frozen=True)
class TrueCamera:
    """Pinhole with radial distortion over a plane.

    Parameters
    ----------
    width, height : int
        [px]
    focal : float
        [px]
    distance : float
        From the pinhole to where its axis meets the plane. [m]
    tilt, direction, roll : float
        Tilt from square, towards where, and turn about the axis. [rad]
    lens : float
        k of ``x' = c + (x - c)(1 + k r^2)``, x on the picture and x' without distortion. [-]
    target : tuple of float
        Where the axis meets the plane. [m]
    """

    width: int = 2048
    height: int = 1536
    focal: float = 0.75 * 2048
    distance: float = 0.25
    tilt: float = 0.0
    direction: float = 0.0
    roll: float = 0.0
    lens: float = 0.0
    target: tuple[float, float] = (0.0, 0.0)

    def _axes(self) -> tuple[Array, Array, Array]:
        """Across, down and forward of the camera in the plane's coordinates."""
        ct, st = math.cos(self.tilt), math.sin(self.tilt)
        cd, sd = math.cos(self.direction), math.sin(self.direction)
        forward = np.array([-st * cd, -st * sd, -ct])
        along = np.array([ct * cd, ct * sd, -st])  # the plane's direction of tilt, as seen
        aside = np.cross(forward, along)
        cr, sr = math.cos(self.roll), math.sin(self.roll)
        return cr * along + sr * aside, cr * aside - sr * along, forward

    def see(self, plane: Array, height: float = 0.0) -> Array:
        """Picture points of plane points [m], lifted by ``height`` towards the camera. [px]"""
        across, down, forward = self._axes()
        place = (
            np.column_stack((plane - np.asarray(self.target), np.full(len(plane), height)))
            + self.distance * forward
        )
        straight = np.column_stack((place @ across, place @ down)) / (place @ forward)[:, None]
        ideal = self.focal * straight
        half = 0.5 * math.hypot(self.width, self.height)
        bent = ideal.copy()
        for _ in range(30):  # contracts by 3 k: far below round-off
            bent = ideal / (1.0 + self.lens * np.sum(bent**2, axis=1, keepdims=True) / half**2)
        return bent + [0.5 * self.width, 0.5 * self.height]  # noqa: RUF005

    def plane_of_pixels(self) -> Array:
        """Plane point under the middle of every pixel, shape (height, width, 2). [m]"""
        down, across = np.mgrid[0 : self.height, 0 : self.width] + 0.5
        offset = np.stack((across - 0.5 * self.width, down - 0.5 * self.height), axis=-1)
        half = 0.5 * math.hypot(self.width, self.height)
        offset *= 1.0 + self.lens * np.sum(offset**2, axis=-1, keepdims=True) / half**2
        right, below, forward = self._axes()
        ray = (offset[..., :1] * right + offset[..., 1:] * below) / self.focal + forward
        reach = self.distance * -forward[2] / -ray[..., 2:]
        foot = reach * ray - self.distance * forward
        place: Array = foot[..., :2] + np.asarray(self.target)
        return place


def render(
    camera: TrueCamera,
    inside: Callable[[Array], NDArray[np.bool_]],
    rng: np.random.Generator,
    *,
    blur: float = 1.2,
    noise: float = 4.0,
    colours: tuple[tuple[float, float, float], tuple[float, float, float]] = (
        (168.0, 84.0, 96.0),
        (206.0, 202.0, 190.0),
    ),
    frame: tuple[float, float] | None = None,
    beyond: tuple[float, float, float] | None = None,
) -> NDArray[np.uint8]:
    """Photograph of a shape on a sheet: shading, grain, blur and noise as in a workshop.

    Parameters
    ----------
    inside : callable
        Whether plane points, shape (..., 2), lie in the shape.
    blur, noise : float
        Standard deviations. [px, grey steps of 255]
    colours : tuple
        Of the shape and of the sheet.
    frame : tuple of float, optional
        Rectangle from the origin: width and height. [m]
    beyond : tuple of float, optional
        Colour outside the rectangle: it is the edge of a sheet then, not a printed line.
    """
    place = camera.plane_of_pixels()
    shape, sheet = (np.array(c) for c in colours)
    light = np.ones(place.shape[:2])
    light += 0.10 * place[..., 0] / 0.1 - 0.06 * place[..., 1] / 0.1  # lamp from one side
    grain = gaussian_filter(rng.normal(size=light.shape), 3.0)
    light += 0.02 * grain / grain.std()
    picture = np.where(inside(place)[..., None], shape, sheet)
    if frame is not None:
        x, y = place[..., 0], place[..., 1]
        off = np.maximum(
            np.abs(x - 0.5 * frame[0]) - 0.5 * frame[0], np.abs(y - 0.5 * frame[1]) - 0.5 * frame[1]
        )
        line = np.abs(off) < 0.25 * MM if beyond is None else off > 0.0
        picture = np.where(line[..., None], np.array(beyond or (30.0, 30.0, 30.0)), picture)
    # a lens blurs light, not the encoded values: the edge stays where half the light is
    seen = (picture / 255.0) ** 2.2 * light[..., None]
    seen = gaussian_filter(seen, (blur, blur, 0.0))
    picture = 255.0 * np.maximum(seen, 0.0) ** (1.0 / 2.2)
    picture += rng.normal(0.0, noise, picture.shape)
    grey: NDArray[np.uint8] = np.clip(np.round(picture), 0.0, 255.0).astype(np.uint8)
    return grey
