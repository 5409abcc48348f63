"""Rendered photographs: the outline that is suggested measures what was drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchmarks.tracing import marks_of, scale_of
from benchmarks.tracing_camera import MM
from benchmarks.tracing_photo import (
    BENCH,
    CARD,
    CHAMBER,
    PORT,
    SLICE,
    Colour,
    Colours,
    scene,
)
from benchmarks.tracing_shapes import MIDDLE
from portwright.core.trace.camera import Camera, PictureErrors
from portwright.core.trace.frame_lines import frame_lines
from portwright.core.trace.measure import COVERAGE_FACTOR, measure_outline
from portwright.core.trace.suggest import suggest_outline
from portwright.errors import GeometryError


@pytest.mark.parametrize(
    ("colours", "seed"), [(SLICE, 1), (PORT, 2), (CHAMBER, 3)], ids=["slice", "port", "chamber"]
)
def test_a_suggested_outline_measures_within_one_percent(colours: Colours, seed: int) -> None:
    made = scene(colours, seed=seed)
    rng = np.random.default_rng(seed)
    tap = made.camera.see((MIDDLE + [5.0 * MM, -3.0 * MM])[np.newaxis])[0]  # noqa: RUF005
    found = suggest_outline(made.picture, (float(tap[0]), float(tap[1])))
    assert found.contrast > 2.0
    errors = PictureErrors()
    for kind in ("frame, 4 marks", "frame, 8 marks"):
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
    found, again = (suggest_outline(made.picture, (float(tap[0]), float(tap[1]))) for _ in range(2))
    assert np.array_equal(found.points, again.points), "the same picture and tap"
    places, sizes = marks_of("frame, 8 marks")
    scale = scale_of("frame, 8 marks", made.camera.see(places), sizes)
    traced = measure_outline(found.points, scale, Camera(1400.0, 1050.0), PictureErrors())
    assert traced.area == pytest.approx(made.area, rel=0.01)


def test_a_picture_that_shows_nothing_has_no_outline() -> None:
    blank = np.full((300, 400, 3), 128, dtype=np.uint8)
    with pytest.raises(GeometryError, match="stands out"):
        suggest_outline(blank, (200.0, 150.0))


@pytest.mark.parametrize("seed", [(-1.0, 5.0), (5.0, 300.0), (math.nan, 5.0)])
def test_a_tap_beside_the_picture_is_refused(seed: tuple[float, float]) -> None:
    picture = np.zeros((300, 400, 3), dtype=np.uint8)
    with pytest.raises(GeometryError, match="outside"):
        suggest_outline(picture, seed)


def test_the_lines_of_a_frame_show_its_corners_and_the_lens() -> None:
    made = scene(SLICE, seed=8, tilt=15.0, lens=0.02, blur=2.0, noise=6.0)
    places, sizes = marks_of("frame, 8 marks")
    true = made.camera.see(places)
    rough = true[::2] + np.random.default_rng(8).uniform(-5.0, 5.0, (4, 2))
    found = frame_lines(made.picture, rough)
    # a tenth of what a hand is off by; 160 places a side, each to about a quarter of a pixel
    assert np.abs(found.marks - true).max() < 0.2
    assert found.lens == pytest.approx(0.02, abs=0.002)
    tap = made.camera.see(MIDDLE[np.newaxis])[0]
    outline = suggest_outline(made.picture, (float(tap[0]), float(tap[1]))).points
    traced = measure_outline(
        outline,
        scale_of("frame, 8 marks", found.marks, sizes),
        Camera(1400.0, 1050.0),
        PictureErrors(marking=0.25, lens=0.02),
    )
    assert traced.area == pytest.approx(made.area, rel=0.003)


@pytest.mark.parametrize(
    ("colours", "beyond"), [(SLICE, BENCH), (CHAMBER, CARD)], ids=["paper on a bench", "window"]
)
def test_the_edges_of_a_plain_sheet_show_its_corners_and_the_lens(
    colours: Colours, beyond: Colour
) -> None:
    """No printed line: a sheet on a darker bench, and a light card with a window on metal."""
    made = scene(colours, seed=9, tilt=12.0, lens=-0.015, blur=1.5, noise=6.0, beyond=beyond)
    places, sizes = marks_of("frame, 8 marks")
    true = made.camera.see(places)
    rough = true[::2] + np.random.default_rng(9).uniform(-5.0, 5.0, (4, 2))
    found = frame_lines(made.picture, rough)
    assert np.abs(found.marks - true).max() < 0.2  # as for printed lines
    assert found.lens == pytest.approx(-0.015, abs=0.002)
    tap = made.camera.see(MIDDLE[np.newaxis])[0]
    # the sheet stands out far more than the section on it: it is no outline once it is marked
    outline = suggest_outline(made.picture, (float(tap[0]), float(tap[1])), rough).points
    traced = measure_outline(
        outline,
        scale_of("frame, 8 marks", found.marks, sizes),
        Camera(1400.0, 1050.0),
        PictureErrors(marking=0.25, lens=0.02),
    )
    assert traced.area == pytest.approx(made.area, rel=0.005)


def test_an_edge_lies_where_half_the_light_is() -> None:
    dark, bright, middle, radius = 42.0, 230.0, np.array([200.0, 150.0]), 90.0
    y, x = np.mgrid[0:300, 0:400] + 0.5
    light = np.where(np.hypot(x - middle[0], y - middle[1]) < radius, dark, bright) / 255.0
    # sharp: whatever smoothing the finder does must not move the edge to the bright side
    picture = np.repeat(np.round(255.0 * light)[..., np.newaxis], 3, axis=-1).astype(np.uint8)
    found = suggest_outline(picture, (200.0, 150.0))
    away = np.hypot(*(found.points - middle).T)
    assert away.mean() == pytest.approx(radius, abs=0.05)  # steps of the pixels average out


def test_a_frame_without_lines_is_not_made_up() -> None:
    made = scene(SLICE, seed=8)
    corners = made.camera.see(marks_of("frame, 4 marks")[0])
    beside = corners.mean(axis=0) + 0.85 * (corners - corners.mean(axis=0))
    with pytest.raises(GeometryError, match="Neither a printed line nor"):
        frame_lines(made.picture, beside)
    with pytest.raises(GeometryError, match="too close"):
        frame_lines(made.picture, corners.mean(axis=0) + 0.01 * (corners - corners.mean(axis=0)))
