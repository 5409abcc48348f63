"""A sheet read in the app, and the report printed from it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from portwright.archive.archive import Archive
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser

SHEET = """run_id;port;stage;bench;date;lift_mm;flow_cfm_28;test_pressure_inH2O
X1;I1;S7;B2;2026-04-01;2;39,8;28
X1;I1;S7;B2;2026-04-01;4;76,1;28
X1;I1;S7;B2;2026-04-01;6;abc;28
"""


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(demo: Server, open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def test_a_sheet_is_shown_as_understood_and_then_stored(
    demo: Server, page: Page, tmp_path: Path
) -> None:
    sheet = tmp_path / "april.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    page.goto(demo.address + "/sheets?job=TH-26-041")
    ready(page)
    page.get_by_label("Sheet (CSV or XLSX)").set_input_files(sheet)
    expect(page.get_by_text("2 rows understood, 1 not.")).to_be_visible()
    expect(page.get_by_text("'abc' is not a number")).to_be_visible()
    assert serious_violations(page) == []
    page.get_by_role("button", name="Store the rows understood").click()
    expect(page.get_by_role("heading", name="Stored")).to_be_visible()
    with Archive.open(demo.shop) as archive:
        run = archive.run("TH-26-041/X1")
    assert [r.flow.text for r in run.readings if r.flow] == ["39,8", "76,1"]


def test_an_unknown_heading_is_given_its_meaning_on_the_screen(
    demo: Server, page: Page, tmp_path: Path
) -> None:
    sheet = tmp_path / "paper.csv"
    sheet.write_text("Hub;Pull A;Pull B\n2;39,8;39,6\n4;76,1;76,4\n", encoding="utf-8")
    page.goto(demo.address + "/sheets?job=TH-26-041")
    ready(page)
    for label, text in (("Bench", "B2"), ("Port", "I1"), ("Stage", "S7")):
        page.get_by_label(label, exact=True).fill(text)
    page.get_by_label("Flow holds at").fill("28 inH2O")
    page.get_by_label("Sheet (CSV or XLSX)").set_input_files(sheet)
    expect(page.get_by_text("None of its headings is known")).to_be_visible()
    page.get_by_label("Hub").select_option("lift [mm]")
    expect(page.get_by_text("also needs flow")).to_be_visible()
    page.get_by_label("Pull A").select_option("flow [cfm]")
    expect(page.get_by_role("cell", name="flow [cfm]", exact=True)).to_be_visible()
    page.get_by_label("Pull B").select_option("flow [cfm]")
    expect(page.get_by_text("4 rows understood, 0 not.")).to_be_visible()
    expect(page.get_by_role("cell", name="flow of repeat 2 [cfm]")).to_be_visible()
    assert serious_violations(page) == []


def test_a_file_that_is_no_sheet_is_refused_in_words(
    demo: Server, page: Page, tmp_path: Path
) -> None:
    page.goto(demo.address + "/sheets?job=TH-26-041")
    ready(page)
    picture = tmp_path / "photo.bmp"
    picture.write_bytes(b"BM0000")
    page.get_by_label("Sheet (CSV or XLSX)").set_input_files(picture)
    expect(page.get_by_text("choose a CSV or XLSX file")).to_be_visible()


def test_a_sheet_from_another_site_is_refused(demo: Server, page: Page) -> None:
    answer = page.request.post(demo.address + "/sheets/file?name=a.csv", data="lift_mm\n1\n")
    assert answer.status == 403


def test_the_report_is_one_press_away(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/job?number=TH-26-041")
    ready(page)
    address = page.get_by_role("link", name="Report").get_attribute("href")
    answer = page.request.get(demo.address + str(address))
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF")
    none = page.request.get(demo.address + "/report?number=nothing")
    assert none.status == 422
    assert "no job" in none.text()
