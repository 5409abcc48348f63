"""Springs and clearances in the browser: loud until measured with instrument and day."""

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


def test_a_clearance_is_open_until_recorded(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page: Page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_role("link", name="Record a check").click()
    ready(page)
    loud = page.locator(".notice.fault li")
    expect(loud.filter(has_text="Valve to valve at overlap")).to_have_count(1)
    box = page.get_by_label("Valve to valve at overlap", exact=True)
    box.fill("1,5")
    box.press("Enter")
    expect(page.get_by_text("A check needs the instrument")).to_be_visible()
    page.get_by_label("Measured with").fill("feeler")
    page.get_by_label("Measured with").press("Tab")
    box.fill("1,5")
    box.press("Enter")
    expect(loud.filter(has_text="Valve to valve at overlap")).to_have_count(0)
    expect(page.get_by_role("cell", name="1,5 mm, feeler")).to_be_visible()
    assert serious_violations(page) == []
