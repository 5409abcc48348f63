"""The frame round every screen: places, units, lamp, connection, errors, first run."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.ui.conftest import Server, Tablet, ready, serious_violations, start_again
from tests.ui.test_ui_jobs import png

pytestmark = pytest.mark.browser

MEASURE = "/measure?job=TH-26-041&port=I1&stage=S7"


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture(scope="module")
def empty(serve: Callable[..., Server]) -> Server:
    return serve()


def test_units_switch_at_once_and_stay_for_this_browser(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(demo.address + MEASURE)
    ready(page)
    throat = page.get_by_label("Throat diameter")
    shown = throat.input_value()
    page.get_by_role("button", name="in", exact=True).click()
    expect(throat).not_to_have_value(shown)
    assert abs(float(throat.input_value()) * 25.4 - float(shown)) < 0.003  # 4 decimals of an inch
    page.reload()
    ready(page)
    expect(page.get_by_role("button", name="in", exact=True)).to_have_attribute(
        "aria-pressed", "true"
    )
    page.get_by_role("button", name="mm", exact=True).click()
    expect(throat).to_have_value(shown)


def test_the_lamp_turns_the_page_dark_and_back(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet(color_scheme="light").page
    page.goto(demo.address)
    ready(page)
    root = page.locator("html")
    expect(root).to_have_attribute("data-theme", "light")
    page.get_by_role("button", name="Dark or light").click()
    expect(root).to_have_attribute("data-theme", "dark")
    page.reload()
    expect(root).to_have_attribute("data-theme", "dark")


def test_the_keyboard_reaches_every_place(demo: Server, open_tablet: Callable[..., Tablet]) -> None:
    page = open_tablet().page
    page.goto(demo.address)
    ready(page)
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the work")).to_be_focused()
    seen = set()
    for _ in range(14):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.textContent.trim()"))
    assert {"Jobs", "Bench", "Measure", "Compare", "Shop", "mm", "in", "cfm", "L/s"} <= seen


def test_the_logo_is_a_picture(
    demo: Server, open_tablet: Callable[..., Tablet], tmp_path: Path
) -> None:
    page = open_tablet().page
    page.goto(demo.address + "/shop")
    ready(page)
    (tmp_path / "words.png").write_text("no picture", encoding="utf-8")
    box = page.get_by_label("Picture (PNG or JPEG)")
    box.set_input_files(tmp_path / "words.png")
    expect(page.get_by_text("words.png was not read")).to_be_visible()
    (tmp_path / "logo.png").write_bytes(png(300, 120))
    box.set_input_files(tmp_path / "logo.png")
    expect(page.get_by_role("img", name="The shop's logo")).to_be_visible()
    page.get_by_role("button", name="Take the logo off").click()
    expect(page.get_by_text("No logo yet.")).to_be_visible()


def test_the_bar_over_a_slow_answer_has_a_name(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(demo.address)
    ready(page)
    page.evaluate("Quasar.LoadingBar.start()")
    expect(page.get_by_role("progressbar", name="Loading")).to_be_attached()


def test_an_unknown_job_is_explained(demo: Server, open_tablet: Callable[..., Tablet]) -> None:
    page = open_tablet().page
    page.goto(demo.address + "/job?number=nothing-like-it")
    expect(page.get_by_text("There is no job called 'nothing-like-it'.")).to_be_visible()
    assert serious_violations(page) == []


def test_an_incomplete_address_is_explained(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(demo.address + "/job")
    expect(page.get_by_role("heading", name="This address is not complete")).to_be_visible()
    assert serious_violations(page) == []
    page.get_by_role("link", name="All jobs").click()
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()


def test_an_address_nothing_lies_at_shows_the_way_back(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(demo.address + "/nothing/like/it")
    expect(page.get_by_role("heading", name="Nothing is at this address")).to_be_visible()
    expect(page.get_by_role("link", name="All jobs")).to_have_attribute("href", "/jobs")
    assert serious_violations(page) == []


def test_an_empty_shop_explains_itself(empty: Server, open_tablet: Callable[..., Tablet]) -> None:
    page = open_tablet().page
    page.goto(empty.address)
    ready(page)
    expect(page.get_by_role("heading", name="Nothing is in this shop file yet")).to_be_visible()
    assert serious_violations(page) == []
    page.get_by_role("link", name="Next: open a job").click()
    page.get_by_role("button", name="Open the job").click()
    expect(page.get_by_text("Not checked yet")).to_be_visible()
    page.goto(empty.address)
    ready(page)
    page.get_by_role("link", name="Next: describe the bench").click()
    expect(page.get_by_role("heading", name="New bench")).to_be_visible()
    page.get_by_label("Short name").fill("B7")
    page.get_by_label("Bore adapter").fill("3 1/2 in")
    page.get_by_role("button", name="Add the bench").click()
    expect(page.get_by_role("cell", name="B7")).to_be_visible()
    expect(page.get_by_role("cell", name="3 1/2 in")).to_be_visible()
    page.goto(empty.address)
    ready(page)
    last = page.get_by_role("link", name="Next: first flow test")
    expect(last).to_have_attribute("href", re.compile(r"^/bench\?job=\d\d-001$"))
    last.click()
    page.get_by_role("button", name="Begin I1 S0").click()
    page.wait_for_url("**run=R**")
    ready(page)
    expect(page.locator(".call strong")).to_have_text("1")
    page.keyboard.type("17.9")
    page.keyboard.press("Enter")
    expect(page.locator(".pad .say")).to_contain_text("17.9 cfm at 1 mm is saved.")
    page.goto(empty.address)
    ready(page)
    expect(page.get_by_role("heading", name="Newest jobs")).to_be_visible()
    expect(page.get_by_role("heading", name="Your first flow test")).to_have_count(0)


def test_the_demo_shop_is_one_click(
    serve: Callable[..., Server], open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(serve().address)
    ready(page)
    page.get_by_role("button", name="Fill in the demo shop").click()
    expect(page.get_by_role("heading", name="Job TH-26-041")).to_be_visible(timeout=600_000)


def test_a_lost_connection_is_red_and_comes_back(
    serve: Callable[..., Server],
    demo_file: Path,
    tmp_path: Path,
    open_tablet: Callable[..., Tablet],
) -> None:
    server = serve(
        Path(tmp_path / "cut.shop").write_bytes(demo_file.read_bytes()) and tmp_path / "cut.shop"
    )
    page = open_tablet().page
    page.goto(server.address + MEASURE)
    ready(page)
    banner = page.get_by_text("Not connected: not saved")
    expect(banner).to_be_hidden()
    server.kill()
    expect(banner).to_be_visible()
    margin = page.get_by_label("Margin")
    margin.fill("1,15")
    margin.press("Enter")
    expect(page.get_by_text("Not saved yet. Press Enter to save.")).to_be_visible()
    start_again(server, page)
    expect(banner).to_be_hidden()
    expect(margin).to_have_value("1,15")
    expect(page.get_by_text("Not saved yet. Press Enter to save.")).to_be_visible()
    margin.press("Enter")
    expect(page.locator(".field", has=margin).get_by_text("Saved")).to_be_visible()
    page.reload()
    ready(page)
    expect(margin).to_have_value("1,15")
