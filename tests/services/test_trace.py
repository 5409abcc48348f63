"""From a stored photograph to measurements of a port, and back."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from benchmarks.tracing_photo import Photo, photograph
from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.errors import GeometryError, InputError, NotFoundError, UnknownNameError, one_of
from portwright.services import trace, trace_store
from portwright.services.port_profile import port_profile
from portwright.services.shop_file import open_shop
from portwright.services.trace import Join, PictureErrors, Points, ScaleKind, Tracing
from portwright.services.trace_entry import read_outline, read_points
from portwright.services.trace_store import Belongs, Target
from portwright.units import Kind, typed

JOB = "TH-26-041"
SLICE = Belongs(JOB, "I1", "S7", Target.SECTION, typed(52.0, "mm", Kind.LENGTH), "pinch")


@pytest.fixture(scope="module")
def photo() -> Photo:
    return photograph()


@pytest.fixture
def shop(demo_path: Path) -> Iterator[Archive]:
    with open_shop(demo_path) as opened:
        yield opened


def points(of: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Points:
    return tuple((float(x), float(y)) for x, y in of)


@pytest.fixture
def tracing(shop: Archive, photo: Photo) -> Tracing:
    number = shop.add_attachment(JOB, photo.data, "slice.jpg", "image/jpeg", subject="I1")
    return Tracing(
        photo=number,
        width=1000,
        height=750,
        scale=ScaleKind.FRAME,
        marks=points(photo.corners),
        sizes=(typed(120.0, "mm", Kind.LENGTH), typed(90.0, "mm", Kind.LENGTH)),
        size_limit=typed(0.1, "mm", Kind.LENGTH),
        outline=points(photo.outline[::18]),
        join=Join.SMOOTH,
        errors=PictureErrors(),
    )


def test_a_stored_photo_gives_its_area(shop: Archive, photo: Photo, tracing: Tracing) -> None:
    kept = trace.photo(shop, JOB, tracing.photo)
    assert trace.size_of(shop, kept) == (1000, 750)
    middle = photo.outline.mean(axis=0)
    found = trace.suggest(shop, kept, (float(middle[0]), float(middle[1])))
    traced = trace.trace(replace(tracing, outline=found))
    assert traced.area == pytest.approx(photo.area, rel=0.01)
    assert abs(traced.area - photo.area) < traced.area_interval
    assert [share for _, share in traced.causes] == sorted(
        (share for _, share in traced.causes), reverse=True
    )
    assert [f.code for f in traced.findings] == ["lens-not-corrected"]
    with pytest.raises(NotFoundError):
        trace.photo(shop, JOB, tracing.photo + 99)
    with pytest.raises(GeometryError):
        trace.suggest(shop, kept, (-5.0, 10.0))


def test_rough_corners_lead_to_the_lines_of_the_frame(
    shop: Archive, photo: Photo, tracing: Tracing
) -> None:
    kept = trace.photo(shop, JOB, tracing.photo)
    off = np.array([[4.0, -3.0], [-3.0, 4.0], [2.0, 5.0], [-5.0, -2.0]])
    rough = points(photo.corners + off)
    marks = trace.find_lines(shop, kept, rough)
    assert np.abs(np.array(marks[::2]) - photo.corners).max() < trace.LINE_ERROR
    assert trace.find_lines(shop, kept, marks) == pytest.approx(np.array(marks), abs=0.05)
    errors = trace.hand_errors([None], [None] * 8, PictureErrors())
    assert errors.marking == trace.LINE_ERROR
    by_lines = replace(tracing, scale=ScaleKind.FRAME_WITH_MIDDLES, marks=marks, errors=errors)
    share = dict(trace.trace(by_lines).causes)
    assert trace.trace(by_lines).findings == ()
    assert share["lens"] < 0.5 * dict(trace.trace(replace(tracing, errors=errors)).causes)["lens"]
    with pytest.raises(GeometryError, match="2 marks"):
        trace.find_lines(shop, kept, marks[:2])


def test_a_section_joins_the_profile_of_its_port(
    shop: Archive, photo: Photo, tracing: Tracing
) -> None:
    stored = trace_store.store(shop, SLICE, tracing)
    assert [m.quantity for m in stored] == ["section area", "section perimeter"]
    area = stored[0]
    assert (area.place, area.stage, area.instrument) == (
        "pinch; distance 52 mm",
        "S7",
        "photo trace",
    )
    # the text carries what the interval leaves: here two digits of some 20 mm2
    assert area.value.text == f"{area.value.si * 1e6:.0f}"
    assert area.note.startswith(f"{area.value.text} ± ")
    assert "mm² (95 %), traced on photo" in area.note
    profile = port_profile(shop.job(JOB), "I1", "S7")
    here = next(s for s in profile.stations if s.distance == pytest.approx(0.052))
    assert here.area == pytest.approx(photo.area, rel=0.01)
    assert here.perimeter == pytest.approx(stored[1].value.si)
    assert here.landmark == "pinch"


def test_every_mark_and_point_comes_back(shop: Archive, tracing: Tracing) -> None:
    trace_store.store(shop, SLICE, tracing)
    (kept,) = trace_store.traces(shop, JOB)
    assert kept.tracing == tracing
    assert (kept.subject, kept.stage, kept.target, kept.place) == (
        "I1",
        "S7",
        Target.SECTION,
        "pinch; distance 52 mm",
    )
    assert kept.traced == trace.trace(tracing)
    assert [p.id for p in trace.photos(shop, JOB)] == [tracing.photo], "a trace is no photo"


def test_a_size_that_is_there_needs_a_reason_and_keeps_its_old_row(
    shop: Archive, tracing: Tracing
) -> None:
    same_place = replace(SLICE, distance=typed(4.8, "cm", Kind.LENGTH))  # sectioned at 48 mm before
    before = trace_store.present(shop, same_place)
    assert before is not None
    assert before.place == "pushrod pinch; distance 48 mm"
    with pytest.raises(InputError, match="already"):
        trace_store.store(shop, same_place, tracing)
    assert trace_store.traces(shop, JOB) == [], "nothing is kept of a refused one"
    trace_store.store(shop, same_place, tracing, "mould poured again")
    after = trace_store.present(shop, same_place)
    assert after is not None
    assert after.place == before.place
    assert after.value != before.value
    assert trace_store.present(shop, replace(SLICE, stage="S3")) is None


def test_a_chamber_belongs_to_the_cylinder_and_an_opening_to_the_face(
    shop: Archive, tracing: Tracing
) -> None:
    chamber = Belongs(JOB, "E3", "S7", Target.CHAMBER)
    (stored,) = trace_store.store(shop, chamber, tracing)
    assert (stored.subject, stored.quantity, stored.place) == ("cyl 3", "chamber open area", "")
    opening = Belongs(JOB, "E3", "S7", Target.OPENING)
    area, length = trace_store.store(shop, opening, tracing)
    assert (area.subject, area.place) == ("E3", "port opening; distance 0 mm")
    assert length.place == area.place
    assert trace_store.questions((stored, area, length)) == ()


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        (replace(SLICE, port="I99"), UnknownNameError),
        (replace(SLICE, stage="S99"), UnknownNameError),
        (replace(SLICE, landmark="somewhere"), UnknownNameError),
        (replace(SLICE, distance=None), InputError),
        (replace(SLICE, distance=typed(-1.0, "mm", Kind.LENGTH)), InputError),
    ],
)
def test_a_place_that_does_not_exist_is_refused(
    shop: Archive, tracing: Tracing, wrong: Belongs, error: type[Exception]
) -> None:
    with pytest.raises(error):
        trace_store.store(shop, wrong, tracing)


def test_an_unfinished_tracing_says_what_is_missing(tracing: Tracing) -> None:
    with pytest.raises(GeometryError, match="3 of 4 marks"):
        trace.trace(replace(tracing, marks=tracing.marks[:3]))
    with pytest.raises(InputError, match="size of the scale"):
        trace.trace(replace(tracing, sizes=()))
    with pytest.raises(GeometryError, match="no outline"):
        trace.trace(replace(tracing, outline=()))


def test_doubtful_pictures_are_questioned(photo: Photo, tracing: Tracing) -> None:
    def codes(changed: Tracing) -> set[str]:
        return {finding.code for finding in trace.trace(changed).findings}

    bar = replace(
        tracing,
        scale=ScaleKind.BAR,
        marks=points(photo.corners[:2]),
        sizes=tracing.sizes[:1],
    )
    assert codes(bar) == {"tilt-not-corrected"}
    lens = {"lens-not-corrected"}
    few = replace(tracing, outline=points(photo.outline[::90]))
    assert codes(few) == lens | {"few-trace-points"}
    away = points(photo.outline[::18] + [330.0, 0.0])  # noqa: RUF005
    assert codes(replace(tracing, outline=away)) == lens | {"outline-outside-frame"}
    middles = 0.5 * (photo.corners + np.roll(photo.corners, -1, axis=0))
    eight = np.stack((photo.corners, middles), axis=1).reshape(8, 2)
    eight[3] += 40.0
    slipped = replace(tracing, scale=ScaleKind.FRAME_WITH_MIDDLES, marks=points(eight))
    assert "marks-off-frame" in codes(slipped)
    turn = 2.0 * np.pi * np.arange(8) / 8.0
    ring = np.array([0.02, 0.02]) + 0.01 * np.column_stack((np.cos(turn), np.sin(turn)))
    circle = replace(
        tracing,
        scale=ScaleKind.CIRCLE,
        marks=points(photo.camera.see(ring)),
        sizes=(typed(20.0, "mm", Kind.LENGTH),),
    )
    assert codes(circle) == {"circle-beside-outline"}


def test_command_finds_lines_and_outline_and_keeps_them(
    demo_path: Path, photo: Photo, tmp_path: Path
) -> None:
    with open_shop(demo_path) as opened:
        number = opened.add_attachment(JOB, photo.data, "slice.jpg", "image/jpeg", subject="I1")

    def said(*words: str) -> dict[str, Any]:
        answer = CliRunner().invoke(app, ["trace", JOB, *words, "--shop", str(demo_path), "--json"])
        assert answer.exit_code == 0, answer.output
        return dict(json.loads(answer.stdout))

    rough = " ".join(f"{x:.0f},{y:.0f}" for x, y in photo.corners + 3.0)
    middle = ",".join(f"{v:.0f}" for v in photo.outline.mean(axis=0))
    size = ("--size", "120 mm", "--size", "90 mm")
    keep = ("--store", "I1", "S7", "--as", "section", "--distance", "52 mm", "--landmark", "pinch")
    by_lines = said(f"{number}", "--mark", rough, *size, "--find-lines", "--inside", middle, *keep)
    assert by_lines["area_mm2"] == pytest.approx(photo.area * 1e6, rel=0.003)
    assert len(by_lines["marks_px"]) == 8
    assert by_lines["findings"] == []
    assert by_lines["stored"][0].startswith("I1 section area")
    (kept,) = said()["traces"]
    assert kept["area_mm2"] == by_lines["area_mm2"]
    # the same outline from a file, the corners as written down
    file = tmp_path / "outline.csv"
    lines = [f"{x},{y}" for x, y in by_lines["outline_px"]]
    file.write_text("\n".join(["x,y", *lines]), encoding="utf-8")
    by_hand = said(
        f"{number}", "--mark", rough, *size, "--outline", str(file), "--hole", "9,9 99,9"
    )
    assert by_hand["area_mm2"] == pytest.approx(photo.area * 1e6, rel=0.02)
    assert by_hand["holes_px"] == [[9.0, 9.0], [99.0, 9.0]]
    assert by_hand["findings"][0]["code"] == "lens-not-corrected"
    plain = CliRunner().invoke(app, ["trace", JOB, "--shop", str(demo_path)]).stdout
    assert "slice.jpg" in plain
    assert "pinch; distance 52 mm" in plain
    with pytest.raises(InputError, match="no place on a picture"):
        read_points(["12;5"])
    with pytest.raises(InputError, match="point 2"):
        read_outline(b"1,2\n3,here\n", "points.csv")
    with pytest.raises(UnknownNameError, match="scale of a photo called 'ruler'"):
        one_of(trace.ScaleKind, "ruler", "scale of a photo")


def test_points_placed_close_up_are_more_certain() -> None:
    base = PictureErrors()
    far = trace.hand_errors([0.5] * 10, [0.5] * 4, base)
    close = trace.hand_errors([4.0] * 10, [4.0] * 4, base)
    given = trace.hand_errors([None] * 10, [4.0] * 4, base)
    assert far.tracing == pytest.approx(trace.SCREEN_ERROR / 0.5)
    assert far.edge == pytest.approx(far.tracing / 3.0)
    assert close.tracing == given.tracing == trace.LEAST_ERROR
    assert close.edge == base.edge
    assert far.marking > close.marking


@pytest.mark.parametrize(("interval", "digits"), [(21e-6, 0), (4.3e-6, 1), (0.57e-6, 2), (0.0, 0)])
def test_no_more_digits_than_are_known(interval: float, digits: int) -> None:
    assert trace.known_decimals(interval, "mm2", Kind.AREA) == digits
