"""Comparing any sweeps, and all ports of a head: the sentence, the picture, the conditions."""

from __future__ import annotations

import re
import struct
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


def compare(page: Page, server: Server, *names: str) -> None:
    page.goto(f"{server.address}/compare?names={','.join(names)}")
    ready(page)
    answered(page)


def answered(page: Page) -> None:
    expect(page.get_by_role("progressbar")).to_have_count(0)


def test_stage_to_stage_says_what_it_did(demo: Server, page: Page, tmp_path: Path) -> None:
    page.goto(f"{demo.address}/compare?job={JOB}")  # first against last stage of the busiest port
    ready(page)
    answered(page)
    expect(page.locator(".verdict")).to_contain_text("I1 S0 to I1 S7: a real gain")
    expect(page.locator(".verdict")).to_contain_text("±")
    numbers = page.locator("section", has=page.get_by_role("heading", name="Numbers"))
    expect(numbers).to_contain_text("S7 [cfm]")
    page.get_by_text("Discharge coefficients of I1 S7").click()
    expect(page.get_by_role("columnheader", name="cfm/cm² of valve")).to_be_visible()
    expect(page.get_by_text("Every size of the valve was measured.").last).to_be_visible()
    page.get_by_role("button", name="L/s").click()
    expect(numbers).to_contain_text("S7 [L/s]")
    conditions = page.locator("section", has=page.get_by_role("heading", name="Conditions"))
    expect(conditions).to_contain_text("printed radius plate r=12 mm")
    gain = page.locator("section", has=page.get_by_role("heading", name="Gain", exact=True))
    with page.expect_download() as svg:
        gain.get_by_role("button", name="Save SVG").click()
    text = svg.value.path().read_text(encoding="utf-8")
    assert svg.value.suggested_filename == "Gain-over-S0.svg"
    assert "gain [%]" in text
    assert "bore adapter 90.0 mm" in text, "the conditions must travel with the picture"
    with page.expect_download() as png:
        gain.get_by_role("button", name="Save PNG").click()
    data = png.value.path().read_bytes()
    width, height = struct.unpack(">II", data[16:24])
    assert (width, height) >= (2126, 1417), "180 mm by 120 mm at 300 dots per inch"


def test_the_choices_are_in_the_address(demo: Server, page: Page) -> None:
    compare(page, demo, f"{JOB}/I1:S0", f"{JOB}/I1:S1")
    second = page.get_by_role("group", name="Against curve")
    second.get_by_label("Stage or sweep").select_option("S4")
    answered(page)
    expect(page.locator(".verdict")).to_contain_text("I1 S0 to I1 S4")
    page.get_by_role("button", name="Add a curve").click()
    third = page.get_by_role("group", name="Against 2 curve")
    third.get_by_label("Stage or sweep").select_option("S7")
    expect(page.locator(".verdict")).to_have_count(2)
    page.reload()  # also while it is being worked out
    page.reload()
    expect(page.locator(".verdict")).to_have_count(2)
    expect(page.locator(".verdict").last).to_contain_text("I1 S0 to I1 S7")
    assert serious_violations(page) == []


def test_a_faulty_run_is_left_out_by_name(demo: Server, page: Page) -> None:
    compare(page, demo, f"{JOB}/I1:S1", f"{JOB}/I1:S2")
    limits = page.locator("section", has=page.get_by_role("heading", name="What limits"))
    expect(limits).to_contain_text("Left out: Run R107")
    expect(limits).to_contain_text("open 0.25 mm")


def test_what_cannot_be_compared_is_refused_and_the_rest_is_shown(demo: Server, page: Page) -> None:
    compare(page, demo, f"{JOB}/I1:S0", f"{JOB}/E1:S0", f"{JOB}/I2:S0")
    refused = page.get_by_role("alert")
    expect(refused).to_contain_text("an intake port and E1 S0 an exhaust port")
    expect(page.locator(".verdict")).to_contain_text("I1 S0 to I2 S0")


def test_job_to_job_on_another_bench_is_translated_or_warns(demo: Server, page: Page) -> None:
    compare(page, demo, "TH-14-019/I1:S0", f"{JOB}/I1:S0")
    limits = page.locator("section", has=page.get_by_role("heading", name="What limits"))
    expect(limits).to_contain_text("it is shown as B2 would read it")
    expect(limits).not_to_contain_text("different benches or calibrations")
    numbers = page.locator("section", has=page.get_by_role("heading", name="Numbers"))
    expect(numbers).to_contain_text("TH-14-019 S0 on B1, as B2 would read [cfm]")
    page.get_by_role("button", name="As read").click()
    expect(limits).to_contain_text("different benches or calibrations")
    expect(limits).to_contain_text("moved to the shown one")
    conditions = page.locator("section", has=page.get_by_role("heading", name="Conditions"))
    expect(conditions.locator("tr", has_text="bench").first).to_contain_text("differs")


def test_the_job_page_leads_here(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/compare?job={JOB}&runs=R111,R112")
    ready(page)
    answered(page)
    expect(page.locator(".verdict")).to_contain_text("I1 S2 to I1 S3")


@pytest.mark.parametrize(("width", "height", "scheme"), [(820, 1180, "dark"), (1180, 820, "light")])
def test_the_odd_port_is_found_and_explained(
    demo: Server,
    open_tablet: Callable[..., Tablet],
    tmp_path: Path,
    width: int,
    height: int,
    scheme: str,
) -> None:
    page = open_tablet(width=width, height=height, color_scheme=scheme).page
    page.goto(f"{demo.address}/uniformity?job={JOB}&side=intake&stage=S7")
    ready(page)
    answered(page)
    expect(page.locator(".verdict")).to_contain_text("I4 stands out: \u2212")
    expect(page.locator(".notice.ask")).to_contain_text("pinch width 25.9 mm")
    strips = page.locator(".strip svg")
    assert strips.count() >= 4
    expect(strips.first).to_have_attribute("aria-label", re.compile("I4 \u2212"))
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert serious_violations(page) == []
    page.screenshot(path=tmp_path / f"uniformity-{scheme}.png")
    if scheme == "light":
        page.get_by_label("Stage").select_option("S0")
        answered(page)
        expect(page.locator(".verdict")).to_contain_text("alike as far as this bench can tell")
