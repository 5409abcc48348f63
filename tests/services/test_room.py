"""Room for valves of the demo job: what follows, what is missing, and that it never certifies."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.job import Job
from portwright.services import shop_file
from portwright.services.demo import create_demo
from portwright.services.room import CHECK, RoomPlan, room_plan
from portwright.services.room_numbers import read_room_numbers
from portwright.services.room_words import room_drawing, room_parts, room_pdf

JOB = "TH-26-041"
MM = 1e-3
PLACES = [
    "intake offset along=-20 mm",
    "intake offset across=0 mm",
    "exhaust offset along=20.5 mm",
    "exhaust offset across=0 mm",
]
DEPTHS = [
    "gasket and deck clearance=1.6 mm",
    *(f"{s} valve to deck=3 mm" for s in Side),
    *(f"{s} pocket depth=1 mm" for s in Side),
]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("room") / "demo.shop"
    create_demo(path).close()
    return path


@pytest.fixture(scope="module")
def contents(shop: Path) -> JobContents:
    with shop_file.open_shop(shop) as opened:
        return opened.job(JOB)


def gaps(contents: JobContents, plan: RoomPlan) -> tuple[tuple[str, ...], ...]:
    """Rows of the sheet's table: gap, estimate, where, least, measured."""
    grid = next(part.grid for part in room_parts(contents, plan) if part.title == "Room")
    assert grid is not None
    return grid.rows


def test_what_is_not_known_is_named_not_assumed(contents: JobContents) -> None:
    plan = room_plan(contents)
    assert plan.pair is None
    assert plan.overlap is None
    assert plan.pistons == {}
    assert "intake offset along" in plan.missing["the intake valve against wall and neighbour"]
    (page,) = PdfReader(BytesIO(room_pdf(contents, plan))).pages
    assert "NOT WORKED OUT" in page.extract_text()
    empty = room_plan(JobContents(Job("1")))
    assert "valve to piston" in empty.missing
    assert {row[1] for row in gaps(JobContents(Job("1")), empty)} == {"NOT WORKED OUT"}


def test_upright_valves_by_hand(contents: JobContents) -> None:
    """40.5 mm between centres; upright valves keep their gap unless both lifts differ much."""
    plan = room_plan(contents, read_room_numbers(PLACES))
    assert plan.shut_gap == pytest.approx((40.5 - 0.5 * (41.98 + 34.97)) * MM, rel=1e-4)
    assert plan.overlap is not None
    assert plan.overlap.gap == pytest.approx(plan.shut_gap, rel=1e-4)
    assert plan.walls[0].least[0] == pytest.approx((45 - 20 - 20.99) * MM)
    assert plan.pair is not None
    share = 34.97 / 41.98
    by_gap = 2 * (40.5 - 1.5) / (1 + share)
    assert plan.pair.intake == pytest.approx(by_gap * MM, rel=1e-5)


def test_the_closest_approach_is_near_overlap_and_moves_with_the_cam(
    contents: JobContents,
) -> None:
    """Usual, from memory: 5 to 15 degrees off dead centre, 0.05 to 0.15 mm a degree of advance."""
    plan = room_plan(contents, read_room_numbers([*PLACES, *DEPTHS]))
    intake, exhaust = plan.pistons[Side.INTAKE], plan.pistons[Side.EXHAUST]
    assert 5.0 <= 57.3 * intake.crank_angle <= 15.0
    assert -15.0 <= 57.3 * exhaust.crank_angle <= -5.0
    assert intake.per_degree is not None
    assert exhaust.per_degree is not None
    assert -0.15 * MM < intake.per_degree < -0.05 * MM
    assert exhaust.per_degree > 0.0
    later = room_plan(contents, read_room_numbers([*PLACES, *DEPTHS, "cam advance=-4 deg"]))
    assert later.pistons[Side.INTAKE].gap > intake.gap
    deeper = [*PLACES, *DEPTHS[:-2], "intake pocket depth=3 mm", "exhaust pocket depth=1 mm"]
    assert room_plan(contents, read_room_numbers(deeper)).pistons[Side.INTAKE].gap == (
        pytest.approx(intake.gap + 2 * MM)
    )


def test_a_small_gap_is_said_and_every_estimate_asks_for_a_check(contents: JobContents) -> None:
    tight = [*PLACES, *DEPTHS[:-2], "intake pocket depth=-1 mm", "exhaust pocket depth=-1 mm"]
    plan = room_plan(contents, read_room_numbers(tight))
    assert "valve-to-piston" in [f.code for f in plan.findings]
    assert all(f.hint == CHECK for f in plan.findings)
    (first, *_) = room_parts(contents, plan)
    assert first.loud
    assert CHECK in first.lines[-1]
    rows = {row[0]: row for row in gaps(contents, plan)}
    assert rows["Intake valve to piston"][1].endswith("BELOW THE LEAST")
    assert "TDC of overlap" in rows["Intake valve to piston"][2]
    # the demo's own values have no day beside them
    assert all(row[-1] == "NOT CHECKED YET" for row in list(rows.values())[1:])
    (page,) = PdfReader(BytesIO(room_pdf(contents, plan))).pages  # all numbers given, one page
    assert "exhaust pocket depth" in page.extract_text()
    assert "ellipse" in room_drawing(plan)


def test_the_command(shop: Path) -> None:
    words = [part for text in PLACES for part in ("--set", text)]
    run = CliRunner().invoke(app, ["room", JOB, "--shop", str(shop), *words, "--json"])
    said = json.loads(run.stdout)
    assert said["largest_pair_mm"]["limited_by"] == "the gap between the valves"
    assert said["valve_to_valve"]["check"] == "physically"
    plain = CliRunner().invoke(app, ["room", JOB, "--shop", str(shop), *words]).stdout
    assert "Check physically." in plain
