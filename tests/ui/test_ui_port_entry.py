"""Sections, walls and pitot marks typed in at the tablet."""

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


def test_a_section_of_a_shape_is_measured_kept_and_changed(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/measure?job={JOB}&port=E2&stage=S0")
    ready(page)
    page.get_by_role("link", name="Sections", exact=True).click()
    page.get_by_label("Shape").select_option("D shape")
    expect(page.get_by_label("Roof height, mm")).to_be_visible()
    page.get_by_label("Landmark").select_option("short side")
    for name, text in (("Width", "32"), ("Height", "30,0"), ("Roof height", "16")):
        page.get_by_label(f"{name}, mm", exact=True).fill(text)
    page.get_by_label("Corner radius, mm").fill("0")
    # half circle of 16 mm over 32 x 14 mm: 850 mm2
    expect(page.get_by_text("Area 850 ±")).to_be_visible()
    page.get_by_text("Guide, boss or stem in this plane").click()
    page.get_by_label("Boss: area it takes away").fill("50")
    expect(page.get_by_text("Area 800 ±")).to_be_visible()
    assert serious_violations(page) == []
    page.get_by_role("button", name="Keep this section").click()
    expect(page.get_by_text("D shape: 800 ±")).to_be_visible()
    page.get_by_role("button", name="Change the section short side").click()
    expect(page.get_by_label("Width, mm")).to_have_value("32")
    page.get_by_label("Width, mm").fill("33")
    page.get_by_role("button", name="Keep this section").click()
    expect(page.get_by_text("section width is 32 mm already, now 33 mm")).to_be_visible()
    page.get_by_role("button", name="Typing slip").click()
    expect(page.get_by_text("D shape: 823 ±")).to_be_visible()


def test_a_wall_is_sounded_and_its_plan_is_judged(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/port/walls?job={JOB}&port=I2&stage=S7")
    ready(page)
    page.get_by_label("Where, in words").fill("guide boss, intake")
    page.get_by_role("button", name="Add it").click()
    boss = page.locator("section.sheet", has_text="Guide boss, intake, cyl 2")
    boss.get_by_label("Wall at S7").fill("4")
    boss.get_by_label("Wall at S7").press("Enter")
    expect(boss.get_by_text("4.00 mm left")).to_be_visible()
    boss.get_by_label("Cut planned here").fill("1.6")
    boss.get_by_label("Cut planned here").press("Enter")
    expect(boss.locator(".notice.ask")).to_contain_text("leaves 2.40 mm: below the limit")
    boss.get_by_label("Must stay").fill("2")
    boss.get_by_label("Must stay").press("Enter")
    expect(boss.locator(".notice.good")).to_contain_text("leaves 2.40 mm.")
    assert serious_violations(page) == []


def test_marks_are_touched_into_the_section(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/port/pitot?job={JOB}&port=I3&stage=S7&lift=8")
    ready(page)
    section = page.get_by_role("application", name="Section of the pinch")
    box = section.bounding_box()
    assert box is not None
    section.click(position={"x": box["width"] * 0.3, "y": box["height"] * 0.3})
    expect(page.get_by_label("Across, mm")).not_to_have_value("")
    page.get_by_label("Reading").fill("82")
    page.get_by_role("button", name="Keep this mark").click()
    expect(page.get_by_role("heading", name="1 mark")).to_be_visible()
    section.focus()
    page.keyboard.press("ArrowDown")
    page.get_by_label("Up, mm").fill("5")
    page.get_by_label("The needle").select_option("unsteady")
    page.get_by_role("button", name="Keep this mark").click()
    expect(page.get_by_role("cell", name="unsteady")).to_be_visible()
    page.get_by_label("Up, mm").fill("500")
    page.get_by_label("Reading").fill("3 inH2O")
    page.get_by_role("button", name="Keep this mark").click()
    expect(page.get_by_role("alertdialog")).to_contain_text("outside the section")
    page.get_by_role("button", name="OK").click()
    expect(page.get_by_role("alertdialog")).to_have_count(0)
    assert serious_violations(page) == []
    page.get_by_role("link", name="Where to cut next").click()
    expect(page.get_by_role("img", name="Velocity map of the pinch plane")).to_be_visible()


def test_walls_without_metal_stand_on_every_screen_of_the_job(demo: Server, page: Page) -> None:
    for address in ("job?number=", "measure?job=", "bench?job=", "compare?job=", "trace?job="):
        page.goto(f"{demo.address}/{address}{JOB}")
        ready(page)
        loud = page.get_by_role("region", name="Walls without metal")
        expect(loud.first).to_contain_text("limit")
