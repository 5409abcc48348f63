"""How good is it: ranking, searching, cuts, two benches, bench health, foreign sheets."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def scan() -> bytes:
    """A page of paper, as a scanner makes it."""
    picture = io.BytesIO()
    Image.new("RGB", (620, 877), "white").save(picture, "png")
    return picture.getvalue()


def opened(page: Page, server: Server, path: str) -> None:
    page.goto(f"{server.address}{path}")
    ready(page)
    expect(page.get_by_role("progressbar")).to_have_count(0)


def test_a_head_is_ranked_and_its_class_remembered(demo: Server, page: Page) -> None:
    opened(page, demo, f"/rank?job={JOB}&valves=1")
    expect(page.locator(".verdict")).to_contain_text("better than about")
    expect(page.locator(".verdict")).to_contain_text("none of 10 reached this")
    assert not serious_violations(page)
    page.get_by_text("Class: intake ports").click()
    page.get_by_label("Key lifts").fill("8 mm; highest lift")
    page.get_by_label("Remember this class as").fill("two-valve")
    page.get_by_role("button", name="Remember the class").click()
    expect(page.get_by_label("Class", exact=True)).to_have_value("two-valve")
    numbers = page.locator("section", has=page.get_by_role("heading", name="Numbers"))
    expect(numbers).to_contain_text("8 mm")


def test_a_class_by_valve_angle_and_port_location(demo: Server, page: Page) -> None:
    """Entered once of a casting on the job sheet, then chosen; also by who only listens."""
    opened(page, demo, f"/job/sheet?number={JOB}")
    form = page.locator(
        "section", has=page.get_by_role("heading", name="Valve angle and port location")
    )
    expect(form.get_by_label("Intake valve angle")).to_have_value("15 deg")
    form.get_by_label("Of", exact=True).select_option("head R of this job alone")
    expect(form.get_by_label("Intake valve angle")).to_have_value("")
    form.get_by_label("Intake valve angle").fill("14,5")
    form.get_by_label("Exhaust port location").fill("raised")
    form.get_by_role("button", name="Save valve angle and port location").click()
    expect(form.get_by_label("Intake valve angle")).to_have_value("15 deg")
    assert not serious_violations(page)
    opened(page, demo, f"/job?number={JOB}")
    facts = page.locator("dl.facts").first
    expect(facts).to_contain_text("intake 15 deg (L), exhaust 15 deg, intake 14,5 deg (R)")
    expect(facts).to_contain_text("exhaust spread port (L), exhaust raised (R)")
    opened(page, demo, f"/rank?job={JOB}&valves=1")
    page.get_by_text("Class: intake ports").click()
    # boxes in what is folded away end where they should
    expect(page.get_by_label("Valve angle from")).to_have_css("box-sizing", "border-box")
    page.get_by_label("Valve angle from").fill("14 deg")
    page.get_by_label("Valve angle to").fill("20")
    page.get_by_label("Port location").select_option("down draft")
    page.get_by_role("button", name="Rank in this class").click()
    said = page.get_by_text("valve angle 14 deg to 20 deg from the bore, down draft")
    expect(said.last).to_be_visible(timeout=90_000)
    expect(page.get_by_text("no valve angle or port location entered")).to_be_visible()
    assert not serious_violations(page)


def test_numbers_are_searched_from_the_job_list(demo: Server, page: Page) -> None:
    opened(page, demo, "/jobs")
    page.get_by_role("link", name="Search words and numbers").click()
    box = page.get_by_label("Search everything")
    box.fill("44 mm intake over 150 at 11")
    box.press("Enter")
    expect(page.get_by_role("link", name="TH-11-022")).to_be_visible(timeout=90_000)
    expect(page.get_by_text("152.0 cfm at 11.80 mm")).to_be_visible()
    assert not serious_violations(page)


def test_cuts_are_steps_and_seat_and_port_are_told_apart(demo: Server, page: Page) -> None:
    opened(page, demo, f"/cuts?job={JOB}")
    expect(page.locator(".verdict")).to_contain_text("Nothing the bench can see: S7")
    expect(page.get_by_role("img", name="over the cam").first).to_be_visible()
    expect(page.get_by_text("two resistances in series")).to_be_visible()
    assert not serious_violations(page)


def test_the_2014_sheet_reads_on_the_new_bench(demo: Server, page: Page) -> None:
    opened(page, demo, "/translate?job=TH-14-019&port=I1&stage=S0&there=B2")
    expect(page.locator(".verdict")).to_contain_text("would read about 127 on B2, plus or minus 3")
    assert not serious_violations(page)
    opened(page, demo, "/translate?here=B1&there=B2")
    expect(page.get_by_text("Read one port live on both")).to_be_visible()
    expect(page.locator(".verdict")).to_contain_text("B2 reads +2.5 %")


def test_a_plate_out_of_line_is_said(demo: Server, page: Page) -> None:
    opened(page, demo, "/benches?bench=B2")
    expect(page.locator(".verdict")).to_contain_text("Nothing says that B2 has changed")
    assert not serious_violations(page)
    page.get_by_label("Plate", exact=True).fill("P3")
    page.get_by_label("Certified flow").fill("69.6 cfm")
    page.get_by_label("Readings").fill("72.4; 72.6")
    page.get_by_role("button", name="Keep the readings").click()
    expect(page.locator(".verdict")).to_contain_text("1 plate reading of B2 falls outside")


def test_a_foreign_sheet_asks_and_its_answers_are_kept(demo: Server, page: Page) -> None:
    opened(page, demo, f"/claims?job={JOB}")
    expect(page.locator(".verdict")).to_contain_text("Doubtful at 1 of 5 lifts")
    expect(page.locator(".verdict")).to_contain_text("8 questions are open")
    expect(page.get_by_role("listitem").filter(has_text="What bore adapter")).to_be_visible()
    page.get_by_text("Write the answers").click()
    page.get_by_label("What bore adapter, how long?").fill("4.03 in, 7 in long")
    assert not serious_violations(page)
    page.get_by_role("button", name="Keep the answers").click()
    expect(page.locator(".verdict")).to_contain_text("7 questions are open")
    expect(page.get_by_role("definition")).to_contain_text("4.03 in, 7 in long")


def test_rows_of_an_old_sheet_are_confirmed_beside_its_scan(demo: Server, page: Page) -> None:
    opened(page, demo, "/review?job=TH-14-019&run=2014-06-17-B1-I1-S0-1")
    expect(page.locator(".verdict")).to_contain_text("9 of 9 rows are not compared")
    expect(page.get_by_role("cell", name="75.5 %", exact=True)).to_be_visible()
    assert not serious_violations(page)
    confirm = page.get_by_role("button", name="Confirm the ticked rows")
    for row in (1, 2, 9):
        page.get_by_role("checkbox", name=f"Row {row}, ").click()
    confirm.click()
    said = page.get_by_role("alertdialog")
    expect(said).to_contain_text("Who confirms these rows?")
    said.get_by_role("button").first.click()
    expect(said).to_have_count(0)
    page.get_by_label("Compared with the paper by").fill("R. O.-H.")
    confirm.click()
    expect(page.locator(".verdict")).to_contain_text("6 of 9 rows are not compared")
    expect(page.get_by_role("cell", name="R. O.-H.")).to_have_count(3)
    expect(page.get_by_role("checkbox")).to_have_count(6)
    page.get_by_label("Add photos").set_input_files(
        {"name": "1983.png", "mimeType": "image/png", "buffer": scan()}
    )
    scanned = page.get_by_role("img", name="Scan of the sheet: 1983.png")
    expect(scanned).to_be_visible()
    narrow = scanned.evaluate("picture => picture.getBoundingClientRect().width")
    page.get_by_role("button", name="Larger").click()
    expect(scanned).to_have_css("width", re.compile(rf"^{1.5 * narrow:.0f}"))
    assert not serious_violations(page)


def test_a_place_to_leave_alone_is_noted_where_ports_are_compared(demo: Server, page: Page) -> None:
    opened(page, demo, f"/uniformity?job={JOB}&side=exhaust&stage=S7")
    alone = page.locator("section", has=page.get_by_role("heading", name="Do not touch"))
    alone.get_by_label("Place").fill("E2 roof")
    alone.get_by_label("Why").fill("thin above the guide boss")
    alone.get_by_role("button", name="Note it for this casting").click()
    expect(alone.locator(".notice", has_text="E2 roof")).to_contain_text("thin above the guide")
    expect(alone.get_by_label("Place")).to_have_value("")


def test_plates_become_a_calibration_and_old_sweeps_are_seen_under_it(
    demo: Server, page: Page
) -> None:
    opened(page, demo, "/benches?bench=B1")
    form = page.locator("section", has=page.get_by_role("heading", name="New calibration"))
    expect(form.get_by_label("Shown = true")).to_have_value("")
    form.get_by_role("button", name="Take the newest plate readings").click()
    expect(form.get_by_label("Shown = true")).to_have_value(re.compile("= 69.6 cfm"))
    expect(form.get_by_label("Why")).to_have_value(re.compile("plates read on 20"))
    form.get_by_role("button", name="Keep as a new version").click()
    versions = page.locator("section", has=page.get_by_role("heading", name="Calibrations"))
    expect(versions.get_by_role("cell", name="plates read on 20")).to_be_visible(timeout=60_000)
    ready(page)
    versions.get_by_role("button", name="Recompute").click()
    changed = versions.get_by_role("row", name="TH-26-041").first
    expect(changed).to_contain_text("+")
    expect(versions.get_by_role("row", name="TH-14-019").first).to_contain_text("cannot be")
    assert not serious_violations(page)
    # ranges are asked for where the version it begins from has them
    form.get_by_label("Begin from version").select_option("1")
    expect(form.get_by_label("Range 4, 100 % is")).to_be_visible()
    expect(form.get_by_label("Shown = true")).to_have_count(0)


def test_the_study_asks_for_one_reading_at_a_time(demo: Server, page: Page) -> None:
    opened(page, demo, "/benches/study?bench=B2")
    page.get_by_label("What is read").fill("intake flow at 8 mm, 28 inH2O")
    page.get_by_label("Persons").fill("Ann, Ben")
    page.get_by_label("Ports").fill("I1, I2, I3")
    page.get_by_role("button", name="Begin the study").click()
    sizes = {"I1": 150.2, "I2": 152.9, "I3": 147.4}
    for number in range(1, 13):
        expect(page.get_by_role("heading", name=f"Reading {number} of 12")).to_be_visible()
        who = page.locator(".verdict").inner_text()
        if number == 2:
            assert not serious_violations(page)
        box = page.get_by_label("Flow [cfm]")
        if number > 1:
            expect(box).to_be_focused()
        flow = sizes[who[-2:]] + (0.3 if who.startswith("Ben") else 0.0) + 0.1 * (number % 3)
        box.fill(f"{flow:.1f}")
        box.press("Enter")
    expect(page.locator(".verdict")).to_contain_text("of port can be told apart")
    expect(page.get_by_role("cell", name="from person to person")).to_be_visible()
    assert not serious_violations(page)
