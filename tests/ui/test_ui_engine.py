"""The engine screen: quick answers, numbers to set, both heads simulated."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from portwright.services import shop_file
from portwright.services.engine_facts import set_engine_value
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"
SPEEDS = ("5000 rpm", "6000 rpm")
LONG = 900_000  # a solver compiled and run on a loaded machine; nothing here is timed


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    # three speeds are enough to see the screen work
    set_speeds(demo_shop, *SPEEDS)
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def test_quick_answers_come_first_and_follow_the_numbers(
    demo: Server, demo_shop: Path, page: Page
) -> None:
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_role("link", name="Engine").click()
    ready(page)
    expect(page.get_by_text("It reaches 120 m/s mean air speed at")).to_be_visible()
    expect(page.get_by_text("Peak power to be expected near")).to_be_visible()
    page.get_by_role("button", name="How these are worked out").click()
    expect(page.get_by_text("The smallest section is pushrod pinch")).to_contain_text("120 m/s")
    page.get_by_label("Mean velocity not to exceed", exact=True).fill("100")
    page.get_by_label("Mean velocity not to exceed", exact=True).press("Enter")
    expect(page.get_by_text("It reaches 100 m/s mean air speed at")).to_be_visible()
    with shop_file.open_shop(demo_shop) as opened:
        assert opened.job(JOB).job.facts["velocity_limit_m_per_s"] == "100"
    assert serious_violations(page) == []


def test_both_heads_are_simulated_with_ranges(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&before=S0&after=S7")
    ready(page)
    page.get_by_role("button", name="Simulate both heads").click()
    ready(page)
    expect(page.get_by_role("heading", name="What it does on this engine")).to_be_visible(
        timeout=LONG
    )
    expect(page.get_by_text("better known than the level")).to_be_visible()
    expect(page.get_by_text("certifies nothing")).to_be_visible()
    for title in ("Change of torque", "Torque", "Power", "Mach number along the port"):
        expect(page.get_by_role("heading", name=title, exact=True)).to_be_visible()
    expect(page.get_by_role("columnheader", name="torque, 95 % range")).to_be_visible()
    _move_through_the_waves(page)
    page.get_by_role("button", name="Keep this for the report").click()
    expect(page.get_by_text("S0 against S7 on I1, kept on")).to_be_visible()
    assert serious_violations(page) == []
    # a reload shows the kept result at once, without simulating again
    page.reload()
    ready(page)
    expect(page.get_by_role("heading", name="What it does on this engine")).to_be_visible()
    expect(page.get_by_role("button", name="Stop")).to_have_count(0)
    page.get_by_role("button", name="Take it off the report").click()
    expect(page.get_by_text("No run is kept yet")).to_be_visible()


def _move_through_the_waves(page: Page) -> None:
    """Play, pause, and go on with the keyboard; the words follow the slider."""
    expect(page.get_by_role("heading", name="Waves in runner and port")).to_be_visible()
    slider = page.get_by_role("slider", name="Crank angle")
    first = slider.get_attribute("aria-valuetext") or ""
    assert "after firing dead centre, intake valve" in first
    page.get_by_role("button", name="Play").click()
    expect(slider).not_to_have_attribute("aria-valuetext", first)
    page.get_by_role("button", name="Pause").click()
    slider.press("Home")
    expect(slider).to_have_attribute("aria-valuetext", re.compile("^0° .* intake valve shut"))
    expect(page.locator("figure.waves .readout")).to_contain_text("Pressure at the valve: S0")
    slider.press("ArrowRight")
    expect(slider).to_have_attribute("aria-valuetext", re.compile("^4° "))
    page.get_by_role("button", name="Mach number", exact=True).click()
    expect(slider).to_have_attribute("aria-valuetext", re.compile("Mach number at the valve"))
    expect(page.locator("figure.waves figcaption")).to_contain_text("kPa as it closes")


def set_speeds(shop: Path, lowest: str, highest: str) -> None:
    with shop_file.open_shop(shop) as opened:
        set_engine_value(opened, JOB, "lowest_speed", lowest)
        set_engine_value(opened, JOB, "highest_speed", highest)


def test_a_simulation_can_be_stopped(demo: Server, demo_shop: Path, page: Page) -> None:
    set_speeds(demo_shop, "1500 rpm", "12000 rpm")  # no machine is through before Stop is pressed
    page.goto(f"{demo.address}/engine?number={JOB}&before=S1&after=S6&run=1")
    ready(page)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("alert")).to_contain_text("Stopped", timeout=LONG)
    set_speeds(demo_shop, *SPEEDS)


def test_small_changes_are_tried_when_asked_for(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&after=S7")
    ready(page)
    page.get_by_role("button", name="Try the changes").click()
    expect(page.get_by_role("cell", name="+1 mm lift")).to_be_visible(timeout=LONG)
    expect(page.get_by_role("cell", name="+5 mm runner")).to_be_visible()


def test_every_step_of_a_range_is_tried(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&after=S7")
    ready(page)
    for number in (2, 3):
        row = page.get_by_role("group", name=f"Range {number}")
        row.get_by_label("Vary").select_option("nothing")
    lift = page.get_by_role("group", name="Range 1")
    lift.get_by_label("from", exact=True).fill("1")
    lift.get_by_label("to", exact=True).fill("0,5")
    page.get_by_role("button", name="Try every step").click()
    expect(page.get_by_role("dialog")).to_contain_text("is no range")
    page.get_by_role("dialog").get_by_role("button").click()
    lift.get_by_label("from", exact=True).fill("0")
    page.get_by_role("button", name="Try every step").click()
    expect(page.get_by_text("Most mean torque from")).to_be_visible(timeout=LONG)
    expect(page.get_by_role("cell", name="+0.50 mm")).to_be_visible()
    expect(page.get_by_role("cell", name="as it is")).to_be_visible()
    assert serious_violations(page) == []


def test_a_stopped_search_says_what_is_kept(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&after=S7")
    ready(page)
    page.get_by_role("button", name="Search, about").click()
    expect(page.get_by_text(re.compile(r"^Tried \d+ of about"))).to_be_visible(timeout=LONG)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("alert")).to_contain_text("of this engine are kept", timeout=LONG)


def test_ports_and_dyno_sheet_are_compared_when_asked_for(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&before=S0&after=S7")
    ready(page)
    expect(page.get_by_text("forecasts have no hit rate")).to_be_visible()
    page.get_by_label("Standard of correction").select_option("ISO 1585")
    page.get_by_label("Barometer, like 98.2 kPa").fill("98,2 kPa")
    page.get_by_role("button", name="Compare with the forecast").click()
    expect(page.get_by_role("dialog")).to_contain_text("belong together")
    page.get_by_role("dialog").get_by_role("button").click()
    page.get_by_label("Intake air, like 28 degC").fill("28 degC")
    page.get_by_role("button", name="Compare with the forecast").click()
    expect(page.get_by_text("validate nothing")).to_be_visible(timeout=LONG)
    expect(page.get_by_text("Torque after over before: measured is")).to_be_visible()
    # invented data teach nothing
    expect(page.get_by_role("button", name="Let it teach")).to_have_count(0)
    page.get_by_role("button", name="Run every port").click()
    expect(page.get_by_text("Largest less smallest:")).to_be_visible(timeout=LONG)
    expect(page.get_by_role("cell", name="I4")).to_be_visible()
    assert serious_violations(page) == []


def test_a_job_without_engine_says_what_to_do(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number=REF-1")
    ready(page)
    expect(page.get_by_text("does not say the engine's bore and stroke")).to_be_visible()
    expect(page.get_by_role("link", name="Job sheet")).to_be_visible()
