"""Valve and seat in the browser: drawing, alternatives, another number, the paper."""

from __future__ import annotations

import io
import re
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


def test_a_seat_is_chosen_drawn_and_printed(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page: Page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_text("More on this job").click()
    page.get_by_role("link", name="Valve and seat").click()
    ready(page)
    drawing = page.get_by_role("img", name=re.compile("Half section of valve and seat A of I1"))
    expect(drawing).to_be_visible()
    assert serious_violations(page) == []
    box = page.get_by_label("Seat angle", exact=True)
    box.fill("50")
    box.press("Enter")
    expect(page.get_by_text("A 50 degree seat wedges").first).to_be_visible()
    page.get_by_label("Throat diameter", exact=True).fill("41,9")
    page.get_by_label("Throat diameter", exact=True).press("Enter")
    expect(page.get_by_text("past the throat")).to_be_visible()
    page.get_by_role("button", name="B", exact=True).click()
    expect(page.get_by_role("img", name=re.compile("valve and seat B of I1"))).to_be_visible()
    page.reload()  # the address keeps the plan
    ready(page)
    expect(page.get_by_label("Seat angle", exact=True)).to_have_value("50.00")
    link = page.get_by_role("link", name="Print the sheet").get_attribute("href")
    with urllib.request.urlopen(f"{demo.address}{link}") as answer:  # noqa: S310
        text = "".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.read())).pages)
    assert "Order of work" in text
    assert "I1 (B)" in text
