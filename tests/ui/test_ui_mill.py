"""Planning a deck cut in the browser: both ways, other numbers, the drawing and the paper."""

from __future__ import annotations

import io
import re
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from portwright.services import shop_file
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet], demo: Server) -> Page:
    page = open_tablet().page
    page.goto(f"{demo.address}/mill?job={JOB}")
    ready(page)
    return page


def expect_fact(page: Page, name: str, start: str) -> None:
    value = page.locator(f"dl.facts dt:has-text('{name}') + dd")
    expect(value).to_have_text(re.compile("^" + re.escape(start)))


def enter(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label, exact=True)
    box.fill(text)
    box.press("Enter")


def test_the_target_on_record_is_planned_and_drawn(page: Page) -> None:
    expect_fact(page, "Deck to take off", "0.83 mm ± 0.09 mm")
    expect_fact(page, "Intake face cut", "0.54 mm")
    expect_fact(page, "Manifold drop", "1.06 mm")
    expect_fact(page, "Compression after", "11.20")
    drawing = page.get_by_role("img", name=re.compile("V seen along the crank"))
    expect(drawing).to_contain_text("deck 0.83 mm")
    assert serious_violations(page) == []


def test_the_same_cut_the_other_way_round(page: Page) -> None:
    page.get_by_role("button", name="Ratio", exact=True).click()
    expect(page.get_by_label("Compression ratio to reach")).to_have_value("11.197")
    expect_fact(page, "Deck to take off", "0.83 mm")
    enter(page, "Compression ratio to reach", "11,0")
    expect(page.locator("dl.facts").first).to_contain_text("11.00")
    # 477.13 / 10 = 47.713 cc, less 7.29 leaves 40.423: (43.3 - 40.423) / 4.6
    expect_fact(page, "Deck to take off", "0.63 mm")
    expect(page).to_have_url(re.compile("11%2C0"))
    page.reload()  # the address keeps the plan
    ready(page)
    expect_fact(page, "Deck to take off", "0.63 mm")


def test_other_numbers_count_for_this_plan_only(page: Page, demo_shop: Path) -> None:
    enter(page, "Face tilt", "-10")
    expect(page.locator("dl.facts").first).to_contain_text("0.42 mm")  # 0.826 sin 30 / cos 10
    enter(page, "Face tilt", "89")
    expect(page.get_by_text("cannot be corrected by dropping")).to_be_visible()
    expect_fact(page, "Intake face cut", "0.42 mm")
    with shop_file.open_shop(demo_shop) as opened:
        tilts = [m.value.text for m in opened.job(JOB).measurements if "face tilt" in m.quantity]
    assert tilts == ["40"]


def test_what_cannot_be_milled_is_said(page: Page) -> None:
    enter(page, "Chamber volume to reach", "45")
    expect(page.get_by_text("milling only makes it smaller")).to_be_visible()
    expect_fact(page, "Deck to take off", "0.83 mm")


def test_clearances_are_to_be_checked_again(page: Page) -> None:
    expect(page.get_by_text("Check physically")).to_be_visible()
    expect(page.get_by_text("hold only for the deck they were measured on")).to_be_visible()


def test_the_sheet_on_paper(page: Page, demo: Server) -> None:
    link = page.get_by_role("link", name="Print the sheet").get_attribute("href")
    with urllib.request.urlopen(f"{demo.address}{link}") as answer:  # noqa: S310
        text = "".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.read())).pages)
    assert "Order of work" in text
    assert "0.83 mm" in text
    with pytest.raises(urllib.error.HTTPError, match="422"):
        urllib.request.urlopen(f"{demo.address}/mill/sheet?job={JOB}&aim=hope")  # noqa: S310
