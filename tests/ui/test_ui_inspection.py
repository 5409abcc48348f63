"""Inspection in the browser: seen and suspected apart, the question to the customer."""

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


def test_something_is_seen_and_the_customer_asked(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page: Page = open_tablet().page
    page.goto(f"{demo.address}/inspection?job={JOB}")
    ready(page)
    expect(page.get_by_text("Chalky or white: cyl 5 exhaust seat, cyl 6")).to_be_visible()
    page.get_by_label("Where").fill("cyl 2")
    page.get_by_label("Part").select_option("between the seats")
    page.get_by_label("Seen", exact=True).select_option("metal lost between seats")
    page.get_by_label("Suspected, if anything").fill("knock")
    page.get_by_label("Suspected, if anything").press("Tab")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("cyl 2 between the seats: knock")).to_be_visible()
    asked = page.locator(".notice.ask", has_text="Metal lost between the seats: cyl 2")
    asked.get_by_role("button", name="Put the question").click()
    expect(page.get_by_text("Put to the customer").first).to_be_visible()
    assert serious_violations(page) == []
    page.goto(f"{demo.address}/card?job={JOB}")
    ready(page)
    expect(page.get_by_text("Metal lost between the seats: cyl 2").first).to_be_visible()
