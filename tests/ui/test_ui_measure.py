"""Measuring a port by touch and keyboard: what is typed is what is kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from portwright.model.job import Measurement
from portwright.services import shop_file
from tests.ui.conftest import Server, Tablet, ready

pytestmark = pytest.mark.browser
JOB = "TH-26-041"


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def open_screen(page: Page, demo: Server, port: str, stage: str = "S7") -> None:
    page.goto(f"{demo.address}/measure?job={JOB}&port={port}&stage={stage}")
    ready(page)


def stored(shop: Path, port: str, quantity: str, stage: str = "S7") -> list[Measurement]:
    with shop_file.open_shop(shop) as opened:
        contents = opened.job(JOB)
    return [
        m
        for m in contents.measurements
        if (m.subject, m.quantity, m.stage) == (port, quantity, stage)
    ]


def field(page: Page, label: str) -> Locator:
    return page.locator(".field", has=page.get_by_label(label, exact=True))


def enter(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label, exact=True)
    box.fill(text)
    box.press("Enter")


@pytest.mark.parametrize(
    ("typed", "text", "unit", "metres"),
    [
        ("1,25", "1,25", "mm", 1.25e-3),
        ("0.05 in", "0.05", "in", 1.27e-3),
        ("3/64 in", "3/64", "in", 25.4e-3 * 3 / 64),
    ],
)
def test_a_number_is_kept_as_typed(
    demo: Server, demo_shop: Path, page: Page, typed: str, text: str, unit: str, metres: float
) -> None:
    port = {"1,25": "I2", "0.05 in": "I3", "3/64 in": "I4"}[typed]
    open_screen(page, demo, port)
    enter(page, "Margin", typed)
    expect(field(page, "Margin").get_by_role("status")).to_have_text("Saved")
    (found,) = stored(demo_shop, port, "margin")
    assert (found.value.text, found.value.unit) == (text, unit)
    assert found.value.si == pytest.approx(metres, rel=1e-12)


def test_a_number_that_could_mean_two_is_refused(demo: Server, demo_shop: Path, page: Page) -> None:
    open_screen(page, demo, "I5")
    enter(page, "Margin", "1,250")
    expect(field(page, "Margin").get_by_role("status")).to_contain_text("could mean")
    expect(page.get_by_label("Margin")).to_have_value("1,250")
    assert stored(demo_shop, "I5", "margin") == []


def test_enter_goes_from_box_to_box_and_areas_follow(
    demo: Server, demo_shop: Path, page: Page
) -> None:
    page.goto(f"{demo.address}/measure?job=TH-14-019")
    ready(page)
    page.get_by_label("Valve head diameter").focus()
    page.keyboard.type("42,00")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Stem diameter")).to_be_focused()
    enter(page, "Throat diameter", "36,0")
    expect(page.get_by_label("Bowl diameter")).to_be_focused()
    group = page.locator("section", has=page.get_by_role("heading", name="Throat and bowl"))
    expect(group).to_contain_text("1018 mm²")  # pi/4 * 36.0^2
    expect(group).to_contain_text("85.7 %")  # 36.0 / 42.0
    page.get_by_role("button", name="in", exact=True).click()
    expect(group).to_contain_text("1.578 in²")
    expect(page.get_by_label("Throat diameter")).to_have_value("1.417")
    page.get_by_role("button", name="mm", exact=True).click()
    expect(page.get_by_label("Throat diameter")).to_have_value("36,0")


def test_a_correction_needs_a_reason_and_keeps_the_old_value(
    demo: Server, demo_shop: Path, page: Page
) -> None:
    open_screen(page, demo, "E2")
    before = stored(demo_shop, "E2", "bowl diameter")[-1]
    box = page.get_by_label("Bowl diameter")
    shown = box.input_value()
    enter(page, "Bowl diameter", "36.6")
    page.get_by_role("button", name="Keep the old value").click()
    expect(box).to_have_value(shown)
    enter(page, "Bowl diameter", "36.6")
    page.get_by_role("button", name="Measured again").click()
    expect(field(page, "Bowl diameter").get_by_role("status")).to_contain_text("Saved")
    assert stored(demo_shop, "E2", "bowl diameter")[-1].value.text == "36.6"
    page.reload()
    ready(page)
    expect(box).to_have_value("36.6")
    assert before.value.text != "36.6"


@pytest.mark.parametrize(
    ("label", "typed", "asked"),
    [
        ("Margin", "12", "outside the usual range"),
        ("Guide length", "2.0", "measured in inches"),
    ],
)
def test_an_implausible_value_is_questioned_and_kept(
    demo: Server, demo_shop: Path, page: Page, label: str, typed: str, asked: str
) -> None:
    open_screen(page, demo, "E4")
    enter(page, label, typed)
    expect(field(page, label)).to_have_attribute("data-state", "asked")
    expect(field(page, label).get_by_role("status")).to_contain_text(asked)
    assert stored(demo_shop, "E4", label.lower())[-1].value.text == typed


def test_metal_that_grew_back_is_questioned(demo: Server, page: Page) -> None:
    open_screen(page, demo, "E6")
    expect(field(page, "Opening width")).to_contain_text("S0:")
    enter(page, "Opening width", "20.0")
    page.get_by_role("button", name="Typing slip").click()
    expect(field(page, "Opening width").get_by_role("status")).to_contain_text(
        "metal does not grow back"
    )


def test_the_drawing_lights_what_is_measured(demo: Server, page: Page) -> None:
    open_screen(page, demo, "I1")
    page.get_by_label("Pinch width").focus()
    expect(page.locator(".drawing")).to_have_attribute("data-lit", "pinch")


# The next box has the focus, and lies between the drawing above and the places below.
_NEXT_IS_SEEN = """() => {
  const now = document.activeElement, box = now.getBoundingClientRect();
  const edge = (name) => document.querySelector(name).getBoundingClientRect();
  return now !== window.box && now.tagName === 'INPUT'
    && box.top >= edge('.drawing').bottom && box.bottom <= edge('.rail').top;
}"""


def test_the_next_box_is_never_hidden(demo: Server, page: Page) -> None:
    open_screen(page, demo, "I1")
    page.get_by_label("Valve head diameter").focus()
    for _ in range(20):
        page.evaluate("window.box = document.activeElement")
        page.keyboard.press("Enter")
        page.wait_for_function(_NEXT_IS_SEEN)
