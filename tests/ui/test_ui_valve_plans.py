"""Room for valves and manifold fit in the browser: typed numbers are drawn, kept and printed."""

from __future__ import annotations

import urllib.request
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
def page(open_tablet: Callable[..., Tablet], demo: Server) -> Page:
    page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_text("More on this job").click()
    return page


def enter(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label, exact=True)
    box.fill(text)
    box.press("Enter")
    expect(box.locator("xpath=ancestor::*[@data-state][1]")).to_have_attribute(
        "data-state", "saved"
    )


def test_valves_are_placed_in_the_bore(page: Page, demo: Server) -> None:
    page.get_by_role("link", name="Room for valves").click()
    ready(page)
    expect(page.get_by_text("Needs intake offset along")).to_be_visible()
    for side, along in (("Intake", "-20"), ("Exhaust", "20,5")):
        enter(page, f"{side} offset along", along)
        enter(page, f"{side} offset across", "0")
    expect(page.get_by_role("img", name="Bore and both valves from below")).to_be_visible()
    expect(page.get_by_text("Largest pair on these centres")).to_be_visible()
    assert page.get_by_text("Check physically").count() >= 3
    assert serious_violations(page) == []
    link = page.get_by_role("link", name="Print the sheet").get_attribute("href")
    with urllib.request.urlopen(f"{demo.address}{link}") as answer:  # noqa: S310
        assert answer.read(4) == b"%PDF"


def test_a_runner_is_laid_on_the_port(page: Page) -> None:
    page.get_by_role("link", name="Manifold fit").click()
    ready(page)
    enter(page, "Runner width", "31")
    enter(page, "Runner height", "38")
    enter(page, "Runner corner radius", "9")
    enter(page, "Runner offset up", "0,8")
    expect(page.get_by_text("The head's roof stands 0.55 mm into the flow")).to_be_visible()
    expect(page.get_by_text("manifold + carburettor + air trumpet")).to_be_visible()
    assert serious_violations(page) == []


def test_the_shop_changes_a_figure_and_takes_it_back(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page = open_tablet().page
    page.goto(f"{demo.address}/shop")
    ready(page)
    page.get_by_role("link", name="The shop's figures").click()
    ready(page)
    enter(page, "Coil bind least", "1,6")
    expect(page.get_by_text("the shop's own").first).to_be_visible()
    page.reload()
    ready(page)
    expect(page.get_by_label("Coil bind least", exact=True)).to_have_value("1,6")
    assert serious_violations(page) == []
    page.get_by_role("button", name="As it came: 1.3 mm").last.click()
    expect(page.get_by_label("Coil bind least", exact=True)).to_have_value("1.3")
