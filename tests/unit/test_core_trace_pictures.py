"""Rendered photographs: the outline that is suggested measures what was drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.tracing import FRAME, marks_of, scale_of, shape_at, shoelace
from benchmarks.tracing_camera import MM, Array, TrueCamera, render
from portwright.core.trace.camera import Camera, PictureErrors
from portwright.core.trace.measure import COVERAGE_FACTOR, measure_outline
from portwright.core.trace.suggest import suggest_outline
from portwright.errors import GeometryError

MIDDLE = np.array([60.0 * MM, 45.0 * MM])
SIZE, FLAT = 18.0 * MM, 0.8


@dataclass(frozen=True)
class Scene:
    """A photograph with a port-like shape of known area in a printed frame."""

    picture: NDArray[np.uint8]
    camera: TrueCamera
    area: float


def scene(
    colours: tuple[tuple[float, float, float], tuple[float, float, float]],
    *,
    seed: int,
    tilt: float = 12.0,
    lens: float = -0.01,
    blur: float = 1.5,
    noise: float = 4.0,
) -> Scene:
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

    picture = render(camera, inside, rng, colours=colours, frame=FRAME, blur=blur, noise=noise)
    return Scene(picture, camera, shoelace(outline))


SLICE = ((168.0, 84.0, 96.0), (206.0, 202.0, 190.0))  # a mould slice on paper
PORT = ((42.0, 40.0, 38.0), (150.0, 150.0, 152.0))  # a dark port in a milled face
CHAMBER = ((122.0, 121.0, 119.0), (160.0, 158.0, 155.0))  # metal on metal


@pytest.mark.parametrize(
    ("colours", "seed"), [(SLICE, 1), (PORT, 2), (CHAMBER, 3)], ids=["slice", "port", "chamber"]
)
@pytest.mark.parametrize("kind", ["frame, 4 marks", "frame, 8 marks"])
def test_a_suggested_outline_measures_within_one_percent(
    colours: tuple[tuple[float, float, float], tuple[float, float, float]], seed: int, kind: str
) -> None:
    made = scene(colours, seed=seed)
    rng = np.random.default_rng(seed)
    tap = made.camera.see((MIDDLE + [5.0 * MM, -3.0 * MM])[np.newaxis])[0]  # noqa: RUF005
    found = suggest_outline(made.picture, (float(tap[0]), float(tap[1])))
    assert found.contrast > 2.0
    errors = PictureErrors()
    places, sizes = marks_of(kind)
    seen = made.camera.see(places) + rng.normal(0.0, errors.marking, places.shape)
    traced = measure_outline(
        found.points, scale_of(kind, seen, sizes), Camera(1400.0, 1050.0), errors
    )
    off = traced.area / made.area - 1.0
    assert abs(off) < 0.01
    assert abs(off) < COVERAGE_FACTOR * traced.area_uncertainty / traced.area


def test_a_blurred_and_noisy_picture_still_gives_the_area() -> None:
    made = scene(SLICE, seed=6, tilt=20.0, blur=4.0, noise=12.0)
    tap = made.camera.see(MIDDLE[np.newaxis])[0]
    found = suggest_outline(made.picture, (float(tap[0]), float(tap[1])))
    places, sizes = marks_of("frame, 8 marks")
    scale = scale_of("frame, 8 marks", made.camera.see(places), sizes)
    traced = measure_outline(found.points, scale, Camera(1400.0, 1050.0), PictureErrors())
    assert traced.area == pytest.approx(made.area, rel=0.01)


def test_the_same_picture_and_tap_give_the_same_outline() -> None:
    made = scene(SLICE, seed=4)
    first, again = (suggest_outline(made.picture, (700.0, 525.0)) for _ in range(2))
    assert np.array_equal(first.points, again.points)


def test_a_picture_that_shows_nothing_has_no_outline() -> None:
    blank = np.full((300, 400, 3), 128, dtype=np.uint8)
    with pytest.raises(GeometryError, match="stands out"):
        suggest_outline(blank, (200.0, 150.0))


@pytest.mark.parametrize("seed", [(-1.0, 5.0), (5.0, 300.0), (math.nan, 5.0)])
def test_a_tap_beside_the_picture_is_refused(seed: tuple[float, float]) -> None:
    picture = np.zeros((300, 400, 3), dtype=np.uint8)
    with pytest.raises(GeometryError, match="outside"):
        suggest_outline(picture, seed)
