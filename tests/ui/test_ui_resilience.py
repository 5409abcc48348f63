"""Lost connections, killed servers, two tablets: nothing acknowledged is lost, nothing doubles."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.ui.bench_help import USUAL, begin, digits, learned, own_copy, saved, stored, type_in
from tests.ui.conftest import Server, Tablet, ready, start_again

pytestmark = pytest.mark.browser


@pytest.fixture
def shop(demo_file: Path, tmp_path: Path) -> Path:
    return own_copy(demo_file, tmp_path)


@pytest.fixture
def server(serve: Callable[..., Server], shop: Path) -> Server:
    return serve(shop)


def test_a_killed_server_loses_nothing_it_acknowledged(
    server: Server, shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    run = begin(page, server)
    for text in USUAL[:4]:
        type_in(page, text)
    acknowledged = {str(n + 1): f"{t} cfm" for n, t in enumerate(USUAL[:4])}
    server.kill()
    assert stored(shop, run) == acknowledged
    page.keyboard.type(USUAL[4])
    page.keyboard.press("Enter")
    lost = page.get_by_role("alertdialog", name="Not saved")
    expect(lost).to_contain_text(f"Not saved: {USUAL[4]} cfm at 5 mm")
    expect(page.get_by_text("Not connected: not saved")).to_be_visible()
    expect(page.get_by_role("button", name="Save it now")).to_be_disabled()
    page.keyboard.type("99")  # locked: nothing piles up behind an unsaved number
    expect(lost).to_contain_text(f"{USUAL[4]} cfm at 5 mm")
    start_again(server, page)
    expect(page.get_by_text("Not connected: not saved")).to_be_hidden()
    learned(page)
    expect(page.locator(".call .count")).to_have_text("4 of 13")
    expect(lost).to_contain_text("It is saved only when you say so.")
    assert stored(shop, run) == acknowledged, "sent again without being asked"
    page.get_by_role("button", name="Save it now").tap()
    saved(page, USUAL[4])
    assert stored(shop, run) == acknowledged | {"5": f"{USUAL[4]} cfm"}
    type_in(page, USUAL[5])


def test_killed_between_enter_and_answer(
    server: Server, shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    """Whether the number made it to the disk or not, it is there once in the end."""
    page = open_tablet().page
    run = begin(page, server)
    for lift, (text, wait) in enumerate(zip(USUAL[:3], (0, 20, 60), strict=True), start=1):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
        page.wait_for_timeout(wait)
        server.kill()
        acknowledged = page.evaluate("document.querySelector('.pad .say').innerText")
        on_disk = stored(shop, run)
        assert ("is saved" not in acknowledged) or str(lift) in on_disk
        start_again(server, page)
        save = page.get_by_role("button", name="Save it now")
        if str(lift) in on_disk:
            expect(save).to_have_count(0)
        else:
            save.tap()
            saved(page, text)
        assert stored(shop, run)[str(lift)] == f"{text} cfm"
    assert len(stored(shop, run)) == 3


def test_a_reload_goes_on_where_it_was(
    server: Server, shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    tablet = open_tablet()
    page = tablet.page
    run = begin(page, server, lifts="1 2 4 8")
    for text in USUAL[:2]:
        type_in(page, text)
    page.keyboard.type("65.")
    page.reload()
    ready(page)
    learned(page)
    expect(page.locator(".call strong")).to_have_text("4")
    expect(page.locator(".call .count")).to_have_text("2 of 4")
    assert digits(page) == "65."
    page.keyboard.type("9")
    page.keyboard.press("Enter")
    saved(page, "65.9")
    assert stored(shop, run) == {"1": "17.9 cfm", "2": "34.9 cfm", "4": "65.9 cfm"}
    page.goto(f"{server.address}/bench?job=TH-26-041&port=I2&stage=S0")
    ready(page)
    page.get_by_role("link", name=f"{run}: 3 lifts read").click()
    ready(page)
    expect(page.locator(".call strong")).to_have_text("8")


def test_two_tablets_on_two_ports(
    server: Server, shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    pages = [open_tablet().page, open_tablet().page]
    numbers = {"I4": ("17.9", "34.6", "50.9"), "I5": ("17.8", "34.9", "50.8")}
    runs = [
        begin(page, server, port, lifts="1 2 3") for page, port in zip(pages, numbers, strict=True)
    ]
    assert len(set(runs)) == 2
    for texts in zip(*numbers.values(), strict=True):
        for page, text in zip(pages, texts, strict=True):
            page.keyboard.type(text)
        for page in pages:
            page.keyboard.press("Enter")
        for page, text in zip(pages, texts, strict=True):
            saved(page, text)
    for run, texts in zip(runs, numbers.values(), strict=True):
        assert stored(shop, run) == {str(n + 1): f"{t} cfm" for n, t in enumerate(texts)}


def test_two_tablets_on_one_run_show_both_values(
    server: Server, shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    first, second = open_tablet().page, open_tablet().page
    run = begin(first, server, "I6", lifts="1 2 3")
    second.goto(first.url)
    ready(second)
    learned(second)
    second.keyboard.type("18.0")
    type_in(first, "17.8")
    tile = second.get_by_role("button", name="1.00 mm")
    expect(tile).to_contain_text("17.8")  # heard of it without a reload
    # what was being typed for 1 mm does not slip to the lift that is called now
    expect(second.locator(".call strong")).to_have_text("1")
    second.keyboard.press("Enter")
    for page in (first, second):
        conflict = page.get_by_role("alert").filter(has_text="Two values at 1 mm")
        expect(conflict).to_be_visible()
        expect(conflict.get_by_role("button", name="17.8 cfm")).to_be_visible()
        expect(conflict.get_by_role("button", name="18.0 cfm")).to_be_visible()
    assert stored(shop, run) == {"1": "17.8 cfm"}
    first.get_by_role("button", name="18.0 cfm").tap()
    for page in (first, second):
        expect(page.get_by_text("Two values at 1 mm")).to_have_count(0)
        expect(page.locator(".call strong")).to_have_text("2")
    type_in(second, "35.0")
    assert stored(shop, run) == {"1": "18.0 cfm", "2": "35.0 cfm"}
