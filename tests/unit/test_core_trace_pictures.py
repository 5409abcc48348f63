"""Rendered photographs: the outline that is suggested measures what was drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchmarks.tracing import marks_of, scale_of
from benchmarks.tracing_camera import MM
from benchmarks.tracing_photo import CHAMBER, PORT, SLICE, Colours, scene
from benchmarks.tracing_shapes import MIDDLE
from portwright.core.trace.camera import Camera, PictureErrors
from portwright.core.trace.measure import COVERAGE_FACTOR, measure_outline
from portwright.core.trace.suggest import suggest_outline
from portwright.errors import GeometryError


@pytest.mark.parametrize(
    ("colours", "seed"), [(SLICE, 1), (PORT, 2), (CHAMBER, 3)], ids=["slice", "port", "chamber"]
)
@pytest.mark.parametrize("kind", ["frame, 4 marks", "frame, 8 marks"])
def test_a_suggested_outline_measures_within_one_percent(
    colours: Colours, seed: int, kind: str
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
