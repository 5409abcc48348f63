"""The port screen: one picture, reasons in sentences, walls at the limit loud."""

from __future__ import annotations

import re
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


def open_port(page: Page, demo: Server, port: str, stage: str) -> None:
    page.goto(f"{demo.address}/port?job={JOB}&port={port}&stage={stage}")
    ready(page)


def test_the_picture_says_where_the_smallest_section_is(demo: Server, page: Page) -> None:
    open_port(page, demo, "I1", "S7")
    picture = page.get_by_role("img", name="Smallest section 995 mm² at the pinch")
    expect(picture).to_be_visible()
    expect(picture).to_contain_text("995")
    expect(picture).to_contain_text("999")  # the rival is marked too
    expect(page.get_by_role("heading", name="Where to cut next")).to_be_visible()
    expect(page.get_by_role("img", name="Velocity map of the pinch plane")).to_be_visible()
    page.get_by_role("button", name="in", exact=True).click()
    expect(page.get_by_role("img", name="Smallest section 1.542 in²")).to_be_visible()


def test_no_metal_is_loud(demo: Server, page: Page) -> None:
    open_port(page, demo, "I5", "S7")
    loud = page.locator(".notice.fault", has_text="at the limit, no metal here")
    expect(loud.first).to_be_visible()
    expect(page.locator(".notice.fault", has_text="Widen the pinch")).to_contain_text(
        "No metal here"
    )
    expect(page.get_by_text("Stop.", exact=True)).to_be_visible()


def test_a_port_nobody_measured_leads_to_measuring(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/port?job=TH-14-019")
    ready(page)
    expect(page.get_by_text("No sections of")).to_be_visible()
    page.get_by_role("link", name="Measure", exact=True).last.click()
    expect(page).to_have_url(re.compile(r"/measure\?job=TH-14-019"))


def test_measuring_leads_here(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/measure?job={JOB}&port=I4&stage=S7")
    ready(page)
    page.get_by_role("link", name="Where to cut next").click()
    expect(page.get_by_role("heading", name="I4 at S7")).to_be_visible()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_screen_is_accessible(
    demo: Server, open_tablet: Callable[..., Tablet], theme: str
) -> None:
    page = open_tablet(color_scheme=theme).page
    open_port(page, demo, "I4", "S7")
    expect(page.get_by_role("heading", name="Wall left")).to_be_visible()
    assert serious_violations(page) == []
