"""Work that takes long: seen, joined again after a reload, stopped.

The work ends when the test says so, so nothing here depends on how fast the machine is.
"""

from __future__ import annotations

import urllib.request
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page, expect

from portwright.ui.links import REPORT
from tests.ui.conftest import Server, Tablet, ready, serious_violations
from tests.ui.waiting_page import ADDRESS, GATED, LATE

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def server(serve: Callable[..., Server]) -> Server:
    return serve(extra="tests.ui.waiting_page")


@pytest.fixture
def gate(tmp_path: Path) -> Path:
    return tmp_path / "gate"


def begun(gate: Path) -> int:
    """How often the work was begun."""
    return len(Path(f"{gate}.begun").read_text(encoding="utf-8").splitlines())


def wait_at(page: Page, server: Server, gate: Path) -> None:
    page.goto(f"{server.address}{ADDRESS}?gate={gate}")
    ready(page)
    expect(page.get_by_role("status")).to_have_text("Waiting at the gate \u2026")


def test_work_goes_on_through_a_reload_and_two_tablets_share_it(
    server: Server, gate: Path, open_tablet: Callable[..., Tablet]
) -> None:
    first, second = open_tablet().page, open_tablet().page
    for page in (first, second):
        wait_at(page, server, gate)
    assert serious_violations(first) == []
    first.reload()
    ready(first)
    expect(first.get_by_role("progressbar", name="Work under way")).to_be_visible()
    assert begun(gate) == 1
    gate.touch()
    for page in (first, second):
        expect(page.get_by_text("Through the gate")).to_be_visible()
        expect(page.get_by_role("button", name="Stop")).to_have_count(0)
    assert begun(gate) == 1


def test_a_page_built_late_is_still_shown(
    server: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(server.address + LATE)
    expect(page.get_by_text("Better late than never")).to_be_visible()


def asked(server: Server, gate: Path, accept: str) -> tuple[int, str]:
    """Ask for the report that waits at the gate, as a browser or as a program."""
    address = f"{server.address}{REPORT}?{urlencode({'number': f'{GATED}{gate}'})}"
    request = urllib.request.Request(address, headers={"accept": accept})  # noqa: S310 - our own
    with urllib.request.urlopen(request) as answer:  # noqa: S310 - our own server
        return answer.status, answer.read().decode("latin-1")


def test_a_report_that_takes_long_says_how_far_it_is(
    server: Server, gate: Path, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(f"{server.address}{REPORT}?{urlencode({'number': f'{GATED}{gate}'})}")
    expect(page.get_by_role("heading", name="The report is being made")).to_be_visible()
    expect(page.get_by_role("status")).to_have_text("Opening the photos \u2026")
    expect(page.get_by_role("progressbar")).to_be_visible()
    assert serious_violations(page) == []
    page.goto("about:blank")  # the page that waits would take the report itself
    status, words = asked(server, gate, "text/html")
    assert status == 202, "a second browser waits for the same"
    assert "Opening the photos" in words
    assert begun(gate) == 1
    gate.touch()
    assert asked(server, gate, "*/*") == (200, "%PDF-1.7 through the gate")


def test_work_is_stopped(server: Server, gate: Path, open_tablet: Callable[..., Tablet]) -> None:
    page = open_tablet().page
    wait_at(page, server, gate)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("alert")).to_contain_text("Stopped.")
    assert serious_violations(page) == []
    wait_at(page, server, gate)  # asked for again, it begins anew
    assert begun(gate) == 2
    gate.touch()
    expect(page.get_by_text("Through the gate")).to_be_visible()
