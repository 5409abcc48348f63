"""Openings traced on photographs laid on one another."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import InputError, NotFoundError, UnknownNameError
from portwright.services import shop_file, trace_store
from portwright.services.demo import DEMO_JOB, create_demo
from portwright.services.line_up import LineUp
from portwright.services.manifold_drawing import fit_drawing
from portwright.services.manifold_fit import manifold_fit, read_fit_numbers
from portwright.services.manifold_traces import (
    opening_traces,
    read_traces,
    traced_outlines,
)
from portwright.services.manifold_words import fit_parts
from portwright.services.trace import ScaleKind
from portwright.services.trace_plane import upright
from portwright.services.trace_store import Belongs, Target
from portwright.units import Kind, typed
from tests.opening_traces import HOLES, LOPSIDED, askew, tracing, turned_over

MM = 1e-3


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (2, 3, 0, 1), (3, 2, 1, 0), (1, 0, 3, 2)])
def test_right_and_up_do_not_depend_on_how_the_scale_was_marked(order: tuple[int, ...]) -> None:
    corners = ((200.0, 150.0), (800.0, 150.0), (800.0, 650.0), (200.0, 650.0))
    framed = replace(
        tracing(1),
        scale=ScaleKind.FRAME,
        marks=tuple(corners[k] for k in order),
        # the side that is marked first comes first: all these begin along a wide one
        sizes=(typed(120.0, "mm", Kind.LENGTH), typed(100.0, "mm", Kind.LENGTH)),
    )
    by_bar, _ = upright(tracing(1))
    found, _ = upright(framed)
    assert np.ptp(found, axis=0) == pytest.approx([40 * MM, 40 * MM], rel=1e-6)
    middles = [p - 0.5 * (p.min(axis=0) + p.max(axis=0)) for p in (by_bar, found)]
    assert middles[1] == pytest.approx(middles[0], abs=1e-8)
    # the picture's lower right corner is the one cut back: low and right here as well
    lowest = middles[1][middles[1][:, 1] < 0.0]
    assert lowest[:, 0].max() == pytest.approx(12 * MM, abs=1e-8)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, int]]:
    path = tmp_path_factory.mktemp("traces") / "demo.shop"
    create_demo(path).close()
    with shop_file.open_shop(path) as opened:
        for target, outline in (
            (Target.OPENING, LOPSIDED),
            (Target.RUNNER, turned_over(LOPSIDED)),
            (Target.GASKET, LOPSIDED),
        ):
            photo = opened.add_attachment(DEMO_JOB, b"-", f"{target}.jpg", "image/jpeg")
            belongs = Belongs(DEMO_JOB, "I3", "S7", target)
            trace_store.store(opened, belongs, tracing(photo, outline))
        kept = {one.part: one.id for one in opening_traces(opened, DEMO_JOB, "I3")}
    return path, kept


def test_a_manifold_photographed_from_its_own_side_is_turned_over(
    shop: tuple[Path, dict[str, int]],
) -> None:
    path, kept = shop
    with shop_file.open_shop(path) as opened:
        contents = opened.job(DEMO_JOB)
        outlines = traced_outlines(opened, DEMO_JOB, "I3", kept)
        areas = {m.quantity for m in contents.measurements if m.instrument == "photo trace"}
    assert areas == {
        "section area",
        "section perimeter",
        "runner opening area",
        "gasket opening area",
    }
    fit = manifold_fit(contents, "I3", outlines=outlines)
    assert fit.meeting is not None
    # the same opening twice: nothing stands out; the overlap is summed in 2000 strips
    assert fit.meeting.overlap == pytest.approx(fit.meeting.upstream, rel=1e-5)
    assert fit.meeting.facing.height < 1e-3 * MM
    assert set(fit.traced) == {"head", "runner", "gasket"}
    low = read_fit_numbers(["runner offset up=-1 mm"])
    moved = manifold_fit(contents, "I3", given=low, outlines=outlines)
    assert moved.meeting is not None
    # 1 mm low: the head's floor stands 1 mm in the flow
    assert moved.meeting.facing.height == pytest.approx(1 * MM, rel=1e-6)
    assert moved.meeting.facing.edge.value == "floor"
    said = " ".join(fit_parts(contents, moved)[0].lines)
    assert "Traced on photos: head, runner, gasket" in said


@pytest.fixture(scope="module")
def askew_shop(shop: tuple[Path, dict[str, int]]) -> tuple[Path, dict[str, int]]:
    """The same on another port, the manifold photographed 4 degrees askew, holes marked."""
    path, _ = shop
    with shop_file.open_shop(path) as opened:
        for target, outline, holes in (
            (Target.OPENING, LOPSIDED, HOLES),
            (Target.RUNNER, askew(turned_over(LOPSIDED), 4.0), askew(turned_over(HOLES), 4.0)),
            (Target.GASKET, LOPSIDED, ()),
        ):
            photo = opened.add_attachment(DEMO_JOB, b"-", f"{target} 4.jpg", "image/jpeg")
            kept = tracing(photo, outline, holes)
            trace_store.store(opened, Belongs(DEMO_JOB, "I4", "S7", target), kept)
        (again,) = (t for t in trace_store.traces(opened, DEMO_JOB) if t.tracing == kept)
        assert again.tracing.holes == ()
        with pytest.raises(InputError, match="One hole"):
            trace_store.store(
                opened,
                Belongs(DEMO_JOB, "I5", "S7", Target.OPENING),
                tracing(photo, holes=HOLES[:1]),
            )
        return path, {one.part: one.id for one in opening_traces(opened, DEMO_JOB, "I4")}


def test_holes_lay_a_manifold_photographed_askew(askew_shop: tuple[Path, dict[str, int]]) -> None:
    path, kept = askew_shop
    with shop_file.open_shop(path) as opened:
        contents = opened.job(DEMO_JOB)
        outlines = traced_outlines(opened, DEMO_JOB, "I4", kept)
        bare = traced_outlines(opened, DEMO_JOB, "I4", {"gasket": kept["gasket"]})

    def facing(way: LineUp, *numbers: str) -> float:
        given = read_fit_numbers(numbers)
        fit = manifold_fit(contents, "I4", given=given, outlines=outlines, line_up=way)
        assert fit.meeting is not None
        return fit.meeting.facing.height

    # 40 mm wide, turned by 4 degrees: half of it stands out by about 20 mm sin 4 degrees
    assert facing(LineUp.MIDDLES) > 1 * MM
    assert facing(LineUp.HOLES) < 1e-3 * MM
    # by hand the middles meet after the turn
    assert facing(LineUp.MIDDLES, "runner turn=-4 deg") < 1e-3 * MM
    assert facing(LineUp.MIDDLES, "runner turn=4 deg") > 1.5 * facing(LineUp.MIDDLES)
    assert facing(LineUp.HOLES, "runner offset up=-1 mm") == pytest.approx(1 * MM, abs=1e-3 * MM)
    fit = manifold_fit(contents, "I4", outlines=outlines, line_up=LineUp.HOLES)
    assert fit.laid["runner"].apart == pytest.approx(fit.laid["runner"].apart_head)
    assert fit.holes["runner"] == pytest.approx(fit.holes["head"], abs=1e-9)
    said = " ".join(fit_parts(contents, fit)[0].lines)
    assert "Laid by two holes" in said
    assert "turned 4.0° clockwise" in said
    assert "gasket has no holes marked" in said
    assert fit_drawing(fit).count('class="hole"') == 4
    other = outlines | {"runner": replace(outlines["runner"], holes=HOLES_SWAPPED)}

    asked = manifold_fit(contents, "I4", outlines=other, line_up=LineUp.HOLES)
    assert {f.code for f in asked.findings} >= {"holes-apart", "turned-far"}
    with pytest.raises(InputError, match="photo of the head"):
        manifold_fit(contents, "I4", outlines=bare, line_up=LineUp.HOLES)


HOLES_SWAPPED = np.array([[100.0, 0.0], [-100.0, 0.0]]) * MM  # 200 mm apart, not 76


def test_traces_are_named_and_refused_with_a_way_out(shop: tuple[Path, dict[str, int]]) -> None:
    path, kept = shop
    with shop_file.open_shop(path) as opened:
        assert opening_traces(opened, DEMO_JOB, "I1") == ()
        with pytest.raises(NotFoundError, match="no traced outline 999"):
            traced_outlines(opened, DEMO_JOB, "I3", {"head": 999})
        with pytest.raises(NotFoundError, match="for the head"):
            traced_outlines(opened, DEMO_JOB, "I3", {"head": kept["runner"]})
    with pytest.raises(UnknownNameError):
        read_traces(["heda=1"])
    with pytest.raises(InputError):
        read_traces(["head=first"])


def test_command_lists_and_takes_traces(shop: tuple[Path, dict[str, int]]) -> None:
    path, kept = shop
    words = ["manifold", DEMO_JOB, "I3", "--shop", str(path)]
    plain = CliRunner().invoke(app, words).stdout
    assert f"--outline runner={kept['runner']}" in plain
    chosen = [f"--outline={part}={number}" for part, number in kept.items()]
    said = json.loads(CliRunner().invoke(app, [*words, *chosen, "--json"]).stdout)
    assert said["traced"] == ["head", "runner", "gasket"]
    assert said["line_up"]["runner"] == {"across_mm": 0.0, "up_mm": 0.0, "turn_deg": 0.0}
    # 40 mm by (40 + 32) / 2 mm
    assert said["meeting"]["upstream_mm2"] == pytest.approx(1440.0, rel=1e-3)
    assert [one["part"] for one in said["traces"]] == ["head", "runner", "gasket"]


def test_command_lays_by_holes(askew_shop: tuple[Path, dict[str, int]]) -> None:
    path, kept = askew_shop
    words = ["manifold", DEMO_JOB, "I4", "--shop", str(path), "--line-up", "holes", "--json"]
    chosen = [f"--outline={part}={number}" for part, number in kept.items()]
    said = json.loads(CliRunner().invoke(app, [*words, *chosen]).stdout)
    assert said["line_up"]["by"] == "holes"
    assert said["line_up"]["runner"]["turn_deg"] == pytest.approx(-4.0, abs=1e-3)
    assert said["meeting"]["facing"]["height_mm"] == pytest.approx(0.0, abs=1e-3)
    assert CliRunner().invoke(app, words).exit_code != 0
