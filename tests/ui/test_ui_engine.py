"""The engine screen: quick answers, numbers to set, both heads simulated."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from portwright.services import shop_file
from portwright.services.engine_facts import set_engine_value
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"
LONG = 240_000  # a simulation on a loaded machine; nothing here is timed


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    # three speeds are enough to see the screen work
    with shop_file.open_shop(demo_shop) as opened:
        set_engine_value(opened, JOB, "lowest_speed", "5000 rpm")
        set_engine_value(opened, JOB, "highest_speed", "6000 rpm")
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
    expect(page.get_by_text("The smallest section is pushrod pinch")).to_contain_text("120 m/s")
    expect(page.get_by_text("Peak power is to be expected near")).to_be_visible()
    page.get_by_label("Mean velocity not to exceed", exact=True).fill("100")
    page.get_by_label("Mean velocity not to exceed", exact=True).press("Enter")
    expect(page.get_by_text("The smallest section is pushrod pinch")).to_contain_text("100 m/s")
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
    assert serious_violations(page) == []
    # a reload shows the kept result at once, without simulating again
    page.reload()
    ready(page)
    expect(page.get_by_role("heading", name="What it does on this engine")).to_be_visible()
    expect(page.get_by_role("button", name="Stop")).to_have_count(0)


def test_a_simulation_can_be_stopped(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&before=S1&after=S6&run=1")
    ready(page)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("alert")).to_contain_text("Stopped", timeout=LONG)


def test_small_changes_are_tried_when_asked_for(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number={JOB}&after=S7")
    ready(page)
    page.get_by_role("button", name="Try the changes").click()
    expect(page.get_by_role("cell", name="+1 mm lift")).to_be_visible(timeout=LONG)
    expect(page.get_by_role("cell", name="+5 mm runner")).to_be_visible()


def test_a_job_without_engine_says_what_to_do(demo: Server, page: Page) -> None:
    page.goto(f"{demo.address}/engine?number=REF-1")
    ready(page)
    expect(page.get_by_text("does not say the engine's bore and stroke")).to_be_visible()
    expect(page.get_by_role("link", name="Job sheet")).to_be_visible()
