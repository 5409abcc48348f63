"""Inspection: seen, suspected and commonly meant stay three different things."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Job, SheetKind, SheetRow
from portwright.services import shop_file
from portwright.services.inspection import (
    OTHER,
    ask_customer,
    inspection,
    observe,
    signs,
)
from portwright.services.inspection_words import inspection_parts, inspection_pdf
from portwright.services.job_card import job_card
from portwright.services.shop_figures import OWN, set_figure_text


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "test.shop"
    with shop_file.create_shop(path) as opened:
        opened.add_job(Job("J-1"))
    return path


def row(**cells: str) -> SheetRow:
    return SheetRow(SheetKind.INSPECTION, cells, subject=cells.get("cyl", ""), source="sheet")


def test_one_cylinder_and_several_mean_different_things(shop: Path) -> None:
    with shop_file.open_shop(shop) as opened:
        observe(opened, "J-1", "cyl 5 exhaust seat", "chalky or white")
        alone = inspection(opened.job("J-1")).hints[0]
        assert "One cylinder alone" in alone.text
        observe(opened, "J-1", "cyl 6 exhaust seat", "chalky or white")
        both = inspection(opened.job("J-1")).hints[0]
    assert "watch mixture and timing" in both.text
    assert both.places == ("cyl 5 exhaust seat", "cyl 6 exhaust seat")


def test_what_is_suspected_stands_apart(shop: Path) -> None:
    with shop_file.open_shop(shop) as opened:
        observe(
            opened,
            "J-1",
            "cyl 3 exhaust seat",
            "burnt path",
            reading="1,2 mm",
            method="by eye",
            suspicion="lash closed up",
        )
        contents = opened.job("J-1")
    found = inspection(contents)
    grid = next(p.grid for p in inspection_parts(contents, found) if p.title == "Seen")
    assert grid is not None
    assert grid.headings[-1].startswith("Noted or suspected")  # apart from what was seen
    expected = ("cyl 3 exhaust seat", "burnt path", "1,2 mm", "by eye", "lash closed up")
    assert grid.rows == (expected,)
    assert inspection_pdf(contents, found).startswith(b"%PDF")


def test_a_crack_waits_for_the_customer(shop: Path) -> None:
    with shop_file.open_shop(shop) as opened:
        observe(opened, "J-1", "cyl 4 between the seats", "crack", reading="6 mm")
        hint = inspection(opened.job("J-1")).hints[0]
        assert hint.question == "Crack found: cyl 4 between the seats"
        assert not hint.asked
        ask_customer(opened, "J-1", hint.question)
        assert inspection(opened.job("J-1")).hints[0].asked
        assert [h.question for h in job_card(opened, "J-1").holds] == [hint.question]
        assert job_card(opened, "J-1").holds[0].waiting


@pytest.mark.parametrize(
    ("sign", "reading", "words"),
    [
        ("seat recessed", "0.2 mm", ""),
        ("seat recessed", "0.4 mm", "new insert"),
        ("seat recessed", "1.4 mm", "weld before"),
        ("soft metal", "71 HB", "ask before"),
        ("soft metal", "92 HB", ""),
        ("warped", "0.11 mm", "cam tunnel"),
        ("guide worn", "0.06 mm", "replace or line"),
    ],
)
def test_limits_are_the_shops_own(shop: Path, sign: str, reading: str, words: str) -> None:
    with shop_file.open_shop(shop) as opened:
        observe(opened, "J-1", "cyl 1 intake guide", sign, reading=reading)
        lines = inspection(opened.job("J-1")).limits
    assert (words in lines[0]) if words else (lines == ())


def test_readings_beyond_one_figure_stand_in_one_line_and_the_sheet_has_tolerances(
    shop: Path,
) -> None:
    with shop_file.open_shop(shop) as opened:
        for place, reading in (
            ("cyl 1 intake guide", "0.06 mm"),
            ("cyl 2 intake guide", "0.07 mm"),
        ):
            observe(opened, "J-1", place, "guide worn", reading=reading)
        rules = set_figure_text(opened, "intake guide clearance most", "0.055 mm")
        contents = opened.job("J-1")
    found = inspection(contents, rules)
    (line,) = found.limits
    assert line.startswith("Intake guide clearance, at most 0.055 mm")
    assert "cyl 1 intake guide 0.06 mm, cyl 2 intake guide 0.07 mm. Usual then" in line
    said = {p.title: p.lines for p in inspection_parts(contents, found, rules)}["Tolerances"]
    own = next(one for one in said if one.startswith("Intake guide clearance, at most"))
    assert own == f"Intake guide clearance, at most: 0.055 mm ({OWN})."
    assert any(one.startswith("Deck flatness, at most") and "from memory" in one for one in said)


def test_a_sheet_is_read_the_same_way() -> None:
    rows = (
        row(
            cyl="5",
            item="Exhaust seat condition",
            reading="chalky, recessed 0.4 mm",
            unit="-",
            verdict="replace insert",
            note="lean?",
        ),
        row(
            cyl="4",
            item="Linear indication beside exhaust seat",
            reading="6",
            unit="mm",
            verdict="repair",
            note="",
        ),
        row(cyl="L", item="Pressure test", reading="2.0", unit="bar", verdict="pass", note=""),
        row(
            cyl="R",
            item="Pressure test",
            reading="2.0",
            unit="bar",
            verdict="FAIL",
            note="weeps at the seat",
        ),
    )
    found = inspection(JobContents(Job("1"), rows=rows))
    assert [o.signs for o in found.observations] == [
        ("chalky or white", "seat recessed"),
        ("crack",),
        (),
        ("leak under pressure",),
    ]
    assert found.observations[0].suspicion == "lean?"
    assert found.observations[3].place == "head R"
    assert {h.question for h in found.hints if h.question} == {
        "Crack found: 4 exhaust seat",
        "Leak under pressure: head R",
    }


def test_what_makes_no_sense_is_refused(shop: Path) -> None:
    with shop_file.open_shop(shop) as opened:
        with pytest.raises(UnknownNameError):
            observe(opened, "J-1", "cyl 1", "chalkie")
        with pytest.raises(InputError, match="place"):
            observe(opened, "J-1", " ", "crack")
        with pytest.raises(InputError, match="said"):
            observe(opened, "J-1", "cyl 1", OTHER)
        with pytest.raises(InputError, match="no reading"):
            observe(opened, "J-1", "cyl 1", "crack", reading="long")
        assert inspection(opened.job("J-1")).observations == ()


def test_every_sign_has_its_label_and_meaning() -> None:
    assert all(s.means and s.tag for s in signs().values())


def test_the_command(shop: Path) -> None:
    words = ["inspect", "J-1", "--shop", str(shop)]
    runner = CliRunner()
    saw = ["--saw", "pitted", "--at", "cyl 2 intake seat", "--suspect", "stood wet"]
    assert "Dirt, standing moisture" in runner.invoke(app, [*words, *saw]).stdout
    said = json.loads(runner.invoke(app, [*words, "--json"]).stdout)
    assert said["observations"][0]["suspicion"] == "stood wet"
