"""Valve and seat of the demo job and of one with nothing measured."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import InputError, RangeError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job
from portwright.services import shop_file
from portwright.services.demo import create_demo
from portwright.services.display import Display
from portwright.services.plan_terms import Origin
from portwright.services.seat_plan import materials, read_seat_numbers, seat_plan
from portwright.services.seat_sheet import seat_pdf, seat_sheet, side_by_side
from portwright.services.shop_figures import (
    OWN,
    figures_of,
    set_figure_text,
    shipped,
)

JOB = "TH-26-041"
MM = 1e-3


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("seat") / "demo.shop"
    create_demo(path).close()
    return path


@pytest.fixture(scope="module")
def contents(shop: Path) -> JobContents:
    with shop_file.open_shop(shop) as opened:
        return opened.job(JOB)


def test_a_usual_seat_and_the_two_steeper_ones(contents: JobContents) -> None:
    plan = seat_plan(contents, "I1")
    angles = [round(math.degrees(a.seat.face.angle)) for a in plan.alternatives]
    assert angles == [45, 50, 55]
    assert plan.known["valve head diameter"].origin is Origin.MEASURED
    assert plan.known["seat outside diameter"].origin is Origin.ASSUMED
    first, second, third = plan.alternatives
    low = int(0.05 / 0.30 * 60)
    # at small lift the area goes with the cosine, the widths alike
    for made, angle in ((second, 50.0), (third, 55.0)):
        ratio = float(made.area[low] / first.area[low])
        cosine = math.cos(math.radians(angle)) / math.cos(math.radians(45.0))
        assert ratio == pytest.approx(cosine, rel=0.02)
    # at L/D 0.30 the fillet has all but left the throat
    assert first.area[-1] == pytest.approx(first.net_throat, rel=1e-3)
    assert [f.code for f in first.cautions] == []
    assert "steep-seat" in [f.code for f in second.cautions]


def test_an_alternative_differs_only_where_it_is_told_to(contents: JobContents) -> None:
    given = read_seat_numbers(["B stem diameter=7 mm", "C back-cut 1 angle=35 deg"])
    plan = seat_plan(contents, "E1", given=given, made_of={"B": "titanium"})
    a, b, c = plan.alternatives
    assert b.seat == a.seat
    assert b.stiffness[1] == pytest.approx((7 / 8) ** 4 * 114 / 200)
    assert b.stiffness[0] == pytest.approx((7 / 8) ** 4 * 105 / 210)
    assert b.mass[1] < 0.6 * a.mass[0]
    assert {f.code for f in b.cautions} >= {"thin-stem", "titanium"}
    assert c.valve.back_cuts[0].angle == pytest.approx(math.radians(35.0))
    assert a.force is not None
    seal = 0.25 * math.pi * a.shut.outer_diameter**2
    assert a.force[1] == pytest.approx(5e5 * seal)
    assert seat_plan(contents, "I1").alternatives[0].force is None


def test_further_cuts_and_an_insert(contents: JobContents) -> None:
    given = read_seat_numbers(
        [
            "cut below 1 width=1 mm",
            "cut below 2 angle=75 deg",
            "cut below 2 width=1 mm",
            "cut above 1 width=0 mm",
            "insert outside diameter=42 mm",
            "insert height=7 mm",
        ]
    )
    made = seat_plan(contents, "I1", given=given).alternatives[0]
    assert [round(math.degrees(c.angle)) for c in made.seat.below] == [60, 75]
    assert made.seat.above == ()
    assert made.room is not None
    assert made.room.wall == pytest.approx(0.5 * (42.0 - 37.4) * MM)
    assert "insert-limit" in [f.code for f in made.cautions]
    assert "cuts-end-early" in [f.code for f in made.cautions]


def test_what_cannot_be_is_refused_with_its_reason(contents: JobContents) -> None:
    plan = seat_plan(contents, "I1", given=read_seat_numbers(["B throat diameter=41.5 mm"]))
    assert [a.name for a in plan.alternatives] == ["A", "C"]
    assert "past the throat" in plan.refused["B"]
    with pytest.raises(RangeError):
        seat_plan(contents, "I1", given=read_seat_numbers(["throat diameter=41.5 mm"]))
    with pytest.raises(UnknownNameError):
        read_seat_numbers(["seat angel=45 deg"])
    with pytest.raises(UnknownNameError):
        seat_plan(contents, "I1", made_of={"B": "brass"})
    with pytest.raises(InputError, match="not measured"):
        seat_plan(JobContents(Job("1"), ports=(Port("I1", Side.INTAKE),)), "I1")
    with pytest.raises(InputError, match="no ports"):
        seat_plan(JobContents(Job("1")), "")


def test_nothing_measured_but_the_valve_is_enough(contents: JobContents) -> None:
    bare = JobContents(Job("1"), ports=(Port("I1", Side.INTAKE),))
    plan = seat_plan(bare, "", given=read_seat_numbers(["valve head diameter=38 mm"]))
    assert np.all(np.isfinite(plan.alternatives[0].area))
    assert plan.known["throat diameter"].origin is Origin.ASSUMED


def test_the_shops_own_figure_counts(shop: Path) -> None:
    with shop_file.open_shop(shop) as opened:
        contents = opened.job(JOB)
        rules = set_figure_text(opened, "intake seat width least", "1,4")
        assert rules["intake seat width least"].tag == OWN
        codes = [f.code for f in seat_plan(contents, "I1", figures=rules).alternatives[0].cautions]
        assert "narrow-seat" in codes
        assert set_figure_text(opened, "intake seat width least", "") == shipped()
        assert figures_of(opened) == shipped()
        with pytest.raises(RangeError):
            set_figure_text(opened, "intake seat width least", "-1 mm")
        with pytest.raises(UnknownNameError):
            set_figure_text(opened, "no such figure", "1 mm")


def test_every_figure_and_material_has_its_label() -> None:
    assert all(f.tag for f in shipped().values())
    assert all(m.label for m in materials().values())


def test_the_sheet_has_datum_order_and_tolerances(contents: JobContents) -> None:
    plan = seat_plan(contents, "E1")
    titles = [p.title for p in seat_sheet(contents, plan, "B")]
    assert {"What to cut", "Datum", "Order of work", "Tolerances"} <= set(titles)
    assert seat_pdf(contents, plan, "B").startswith(b"%PDF")
    rows = side_by_side(plan, Display())
    assert {len(r) for r in rows} == {4}


def test_the_command(shop: Path) -> None:
    runner = CliRunner()
    found = runner.invoke(app, ["seat", JOB, "I1", "--shop", str(shop), "--json"])
    assert found.exit_code == 0
    said = json.loads(found.stdout)
    assert [a["seat_angle_deg"] for a in said["alternatives"]] == [45.0, 50.0, 55.0]
    sheet = runner.invoke(app, ["seat", JOB, "I1", "--shop", str(shop), "--sheet", "C"])
    assert "ORDER OF WORK" in sheet.stdout
    listed = runner.invoke(app, ["limits", "coil bind least", "1.5 mm", "--shop", str(shop)])
    assert "the shop's own" in listed.stdout
    plain = runner.invoke(app, ["seat", JOB, "E1", "--shop", str(shop), "--material", "B=titanium"])
    assert "Titanium galls" in plain.stdout
