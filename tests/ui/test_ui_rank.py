"""How good is it: ranking, searching, cuts, two benches, bench health, foreign sheets."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
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


def opened(page: Page, server: Server, path: str) -> None:
    page.goto(f"{server.address}{path}")
    ready(page)
    expect(page.get_by_role("progressbar")).to_have_count(0, timeout=90_000)


def test_a_head_is_ranked_and_its_class_remembered(demo: Server, page: Page) -> None:
    opened(page, demo, f"/rank?job={JOB}&valves=1")
    expect(page.locator(".verdict")).to_contain_text("better than about")
    expect(page.locator(".verdict")).to_contain_text("none of 10 reached this")
    assert not serious_violations(page)
    page.get_by_text("Class: intake ports").click()
    page.get_by_label("Key lifts").fill("8 mm; highest lift")
    page.get_by_label("Remember this class as").fill("two-valve")
    page.get_by_role("button", name="Remember the class").click()
    expect(page.get_by_label("Class", exact=True)).to_have_value("two-valve", timeout=60_000)
    numbers = page.locator("section", has=page.get_by_role("heading", name="Numbers"))
    expect(numbers).to_contain_text("8 mm", timeout=90_000)


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
    expect(page.locator(".verdict")).to_contain_text("B2 reads +2.5 %")


def test_a_plate_out_of_line_is_said(demo: Server, page: Page) -> None:
    opened(page, demo, "/benches?bench=B2")
    expect(page.locator(".verdict")).to_contain_text("Nothing says that B2 has changed")
    assert not serious_violations(page)
    page.get_by_label("Plate", exact=True).fill("P3")
    page.get_by_label("Certified flow").fill("69.6 cfm")
    page.get_by_label("Readings").fill("72.4; 72.6")
    page.get_by_role("button", name="Keep the readings").click()
    expect(page.locator(".verdict")).to_contain_text("fall outside their limits", timeout=60_000)


def test_a_foreign_sheet_asks(demo: Server, page: Page) -> None:
    opened(page, demo, f"/claims?job={JOB}")
    expect(page.locator(".verdict")).to_contain_text("Not possible as stated")
    expect(page.get_by_text("What bore adapter, how long?")).to_be_visible()
    assert not serious_violations(page)
