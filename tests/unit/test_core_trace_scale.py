"""Scale of a photograph: what an exactly known camera saw comes back exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchmarks.tracing_camera import MM, Array, TrueCamera
from portwright.core.trace.camera import Camera, PictureErrors, straightened, undistorted
from portwright.core.trace.ellipse import fit_ellipse
from portwright.core.trace.measure import Cause, measure_outline
from portwright.core.trace.scale import BarScale, CircleScale, FrameScale, Pose
from portwright.errors import GeometryError, RangeError

SIZES = np.array([120.0 * MM, 90.0 * MM])
CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * SIZES
MIDDLES = 0.5 * (CORNERS + np.roll(CORNERS, -1, axis=0))
EIGHT = np.stack((CORNERS, MIDDLES), axis=1).reshape(8, 2)
AIM = (60.0 * MM, 45.0 * MM)
OBLIQUE = TrueCamera(
    distance=0.16, tilt=math.radians(25.0), direction=0.7, roll=0.4, target=AIM, lens=0.0
)
PICTURE = Camera(OBLIQUE.width, OBLIQUE.height)
# Solving eight equations from coordinates near 1000 px loses some digits of sixteen.
EXACT = 1e-9


def circle(diameter: float, count: int = 200) -> Array:
    turn = 2.0 * np.pi * np.arange(count) / count
    return np.array(AIM) + 0.5 * diameter * np.column_stack((np.cos(turn), np.sin(turn)))


def frame(marks: Array, sizes: Array = SIZES) -> FrameScale:
    return FrameScale(marks, sizes, np.full(2, 0.1 * MM))


def distances(points: Array) -> Array:
    return np.asarray(np.linalg.norm(points[:, None] - points[None], axis=-1))


@pytest.mark.parametrize("known", [CORNERS, EIGHT], ids=["four", "eight"])
def test_a_frame_takes_out_any_perspective(known: Array) -> None:
    scale = frame(OBLIQUE.see(known))
    seen = circle(40.0 * MM)
    placed = scale.to_plane(PICTURE, PictureErrors(), Pose())(OBLIQUE.see(seen))
    assert distances(placed) == pytest.approx(distances(seen), abs=EXACT)


def test_a_frame_may_be_marked_either_way_round_from_any_corner() -> None:
    marks = OBLIQUE.see(CORNERS)
    seen = OBLIQUE.see(circle(40.0 * MM))
    areas = [
        measure_outline(seen, frame(order, sizes), PICTURE, PictureErrors()).area
        for order, sizes in (
            (marks, SIZES),
            (np.roll(marks, -1, axis=0), SIZES[::-1]),
            (np.roll(marks[::-1], -1, axis=0), SIZES[::-1]),
        )
    ]
    assert areas == pytest.approx([areas[0]] * 3, rel=EXACT)


def test_eight_marks_find_the_lens() -> None:
    camera = TrueCamera(distance=0.12, tilt=math.radians(8.0), lens=-0.03, target=AIM)
    errors = PictureErrors(lens=1.0e-1 - 1e-6, marking=0.1)
    marks = camera.see(EIGHT)
    assert np.all((marks > 0.0) & (marks < [camera.width, camera.height])), "frame fills picture"
    seen = frame(marks).perspective(PICTURE, errors)
    # the prior pulls by (marking effect / prior)^2, here far below one percent of the coefficient
    assert seen.lens == pytest.approx(-0.03, rel=0.01)
    straight = frame(camera.see(CORNERS)).perspective(PICTURE, errors)
    assert straight.lens == 0.0, "four marks cannot tell"


def test_eight_marks_show_a_slip() -> None:
    marks = OBLIQUE.see(EIGHT)
    assert frame(marks).perspective(PICTURE, PictureErrors()).residual < 1e-6
    marks[3] += [12.0, 0.0]
    assert frame(marks).perspective(PICTURE, PictureErrors()).residual > 2.0


@pytest.mark.parametrize("degrees", [0.0, 3.0, 12.0])
def test_a_circle_takes_out_tilt_about_its_own_middle(degrees: float) -> None:
    # far away the picture of a plane is affine: what is left falls with the distance
    camera = TrueCamera(
        distance=20.0, focal=100.0 * 1536, tilt=math.radians(degrees), direction=1.0, target=AIM
    )
    scale = CircleScale(camera.see(circle(60.0 * MM, 7)), np.array([60.0 * MM]), np.array([0.0]))
    found = measure_outline(camera.see(circle(30.0 * MM)), scale, PICTURE, PictureErrors())
    # 0.03 m across at 20 m: second order of the perspective is (0.0015)^2
    assert found.area == pytest.approx(0.25 * math.pi * (30.0 * MM) ** 2, rel=1e-4)


def test_a_circle_beside_the_outline_says_what_it_cannot_know() -> None:
    camera = TrueCamera(distance=0.16, tilt=math.radians(10.0), direction=0.0, target=AIM)
    rim = circle(20.0 * MM, 12)
    beside = circle(20.0 * MM) + [30.0 * MM, 0.0]  # noqa: RUF005
    aside = circle(20.0 * MM) + [0.0, 30.0 * MM]  # noqa: RUF005
    scale = CircleScale(camera.see(rim), np.array([20.0 * MM]), np.array([0.0]))
    true = 0.25 * math.pi * (20.0 * MM) ** 2
    towards = measure_outline(camera.see(beside), scale, PICTURE, PictureErrors())
    square = measure_outline(camera.see(aside), scale, PICTURE, PictureErrors())
    stated = towards.doubts[Cause.PERSPECTIVE].area
    # the sign cannot be told, the size can; third order is left out
    assert abs(towards.area / true - 1.0) == pytest.approx(stated, rel=0.2)
    assert stated > 0.05
    assert square.doubts[Cause.PERSPECTIVE].area < 0.01 * stated
    assert max(towards.doubts, key=lambda c: towards.doubts[c].area) is Cause.PERSPECTIVE


def test_a_bar_under_a_square_camera_is_exact_and_says_what_tilt_would_do() -> None:
    camera = TrueCamera(distance=0.16, roll=0.5, target=AIM)
    bar = np.array(AIM) + np.array([[-25.0 * MM, 30.0 * MM], [25.0 * MM, 30.0 * MM]])
    scale = BarScale(camera.see(bar), np.array([50.0 * MM]), np.array([0.1 * MM]))
    found = measure_outline(camera.see(circle(30.0 * MM)), scale, PICTURE, PictureErrors())
    # 2400 chords of a circle: (2 pi/2400)^2/6 = 1.1e-6 less area
    assert found.area == pytest.approx(0.25 * math.pi * (30.0 * MM) ** 2, rel=2e-6)
    assert found.perimeter == pytest.approx(math.pi * 30.0 * MM, rel=2e-6)
    tilted = TrueCamera(
        distance=0.16, roll=0.5, target=AIM, tilt=PictureErrors().tilt, direction=0.5 * math.pi
    )
    wrong = BarScale(tilted.see(bar), np.array([50.0 * MM]), np.array([0.1 * MM]))
    off = measure_outline(tilted.see(circle(30.0 * MM)), wrong, PICTURE, PictureErrors())
    # one standard tilt along the worst axis gives the stated error; the other axis adds little
    assert abs(off.area / found.area - 1.0) == pytest.approx(
        found.doubts[Cause.TILT].area, rel=0.15
    )


def test_scale_height_goes_with_twice_the_share_of_the_distance() -> None:
    camera = TrueCamera(distance=0.20, target=AIM)
    raised = frame(camera.see(CORNERS, height=2.0 * MM))
    errors = PictureErrors(height=2.0 * MM)
    found = measure_outline(camera.see(circle(40.0 * MM)), raised, PICTURE, errors)
    true = 0.25 * math.pi * (40.0 * MM) ** 2
    assert found.doubts[Cause.HEIGHT].area == pytest.approx(0.02, rel=0.03)
    assert found.area / true - 1.0 == pytest.approx(-0.02, rel=0.03)


def test_lens_and_tilt_models_undo_the_true_camera() -> None:
    camera = TrueCamera(lens=0.02, distance=0.2)
    points = circle(120.0 * MM)
    ideal = TrueCamera(lens=0.0, distance=0.2).see(points)
    assert undistorted(camera.see(points), PICTURE, 0.02) == pytest.approx(ideal, abs=1e-6)
    assert straightened(ideal, PICTURE, (0.0, 0.0)) == pytest.approx(
        ideal - PICTURE.centre, abs=1e-9
    )


def test_an_ellipse_comes_back_from_five_points() -> None:
    turn = np.array([0.1, 1.2, 2.9, 4.0, 5.5])
    axes = np.column_stack((300.0 * np.cos(turn), 200.0 * np.sin(turn)))
    c, s = math.cos(0.6), math.sin(0.6)
    found = fit_ellipse(axes @ np.array([[c, s], [-s, c]]) + [900.0, 700.0])
    assert found.centre == pytest.approx([900.0, 700.0], abs=1e-6)
    assert found.semi_axes == pytest.approx((300.0, 200.0), rel=1e-8)
    assert abs(float(found.shorter_direction @ [-s, c])) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(
    "marks",
    [
        np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 10.0], [10.0, 10.0]]),  # not in order
        np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [10.0, 10.0]]),  # three on a line
        np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]),
        np.full((4, 2), 5.0),
    ],
)
def test_marks_that_are_no_frame_are_refused(marks: Array) -> None:
    with pytest.raises(GeometryError):
        frame(marks)


@pytest.mark.parametrize(
    "marks",
    [
        np.column_stack((np.arange(8.0), 2.0 * np.arange(8.0))),  # a line
        np.full((8, 2), 3.0),
        np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]),  # too few
        np.column_stack((np.linspace(-2, 2, 9), np.linspace(-2, 2, 9) ** 2)),  # a parabola
    ],
)
def test_marks_that_are_no_circle_are_refused(marks: Array) -> None:
    with pytest.raises(GeometryError):
        CircleScale(100.0 * marks, np.array([0.02]), np.array([0.0]))


def test_sizes_and_errors_out_of_reason_are_refused() -> None:
    with pytest.raises(RangeError):
        BarScale(np.array([[0.0, 0.0], [100.0, 0.0]]), np.array([0.0]), np.array([0.0]))
    with pytest.raises(GeometryError):
        BarScale(np.zeros((2, 2)), np.array([0.05]), np.array([0.0]))
    with pytest.raises(RangeError):
        PictureErrors(marking=-1.0)
    with pytest.raises(RangeError):
        Camera(0.0, 100.0)


def test_marks_that_show_little_leave_the_lens_as_expected() -> None:
    marks = OBLIQUE.see(EIGHT)  # of a lens that bends nothing
    vague = PictureErrors(marking=100.0, lens=0.001)
    seen = frame(marks).perspective(PICTURE, vague, 0.01)
    # marks of 100 px say nothing against a lens known to 0.1 %
    assert seen.lens == pytest.approx(0.01, rel=0.01)
    sharp = PictureErrors(marking=0.01, lens=0.001)
    assert abs(frame(marks).perspective(PICTURE, sharp, 0.01).lens) < 0.002


def test_marks_and_expectation_share_the_lens_by_their_weights() -> None:
    marks = OBLIQUE.see(EIGHT)

    def data_over_prior(marking: float) -> float:
        stated = PictureErrors(marking=marking, lens=0.01)
        found = frame(marks).perspective(PICTURE, stated, 0.01).lens
        return (0.01 - found) / found

    # the weight of the marks goes with one over the square of their error
    assert data_over_prior(2.0) == pytest.approx(4.0 * data_over_prior(4.0), rel=0.03)
