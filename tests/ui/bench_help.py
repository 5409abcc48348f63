"""Driving the bench screen: begin a sweep, type, wait until it is on disk."""

from __future__ import annotations

import math
import re
import shutil
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from portwright.services import shop_file
from portwright.services.shop_file import ShopFile
from tests.ui.conftest import Server, ready

JOB = "TH-26-041"
# What a port of the demo head shows at S0 within the scatter of its bench (invented data).
USUAL = ("17.9", "34.9", "51.4", "65.9", "79.1", "90.4", "99.6", "108.1", "115.5", "119.6", "124.0")


def own_copy(demo_file: Path, folder: Path) -> Path:
    """A shop file of its own for a test that changes it."""
    path = folder / "bench.shop"
    shutil.copy(demo_file, path)
    return path


def begin(page: Page, server: Server, port: str = "I2", stage: str = "S0", lifts: str = "") -> str:
    """Begin a sweep through the form and give its run code."""
    page.goto(f"{server.address}/bench?job={JOB}&port={port}&stage={stage}")
    ready(page)
    if lifts:
        page.get_by_label("Go through").select_option(label="own list")
        page.get_by_label("Lifts [mm]").fill(lifts)
    page.get_by_role("button", name=f"Begin {port} {stage}").click()
    page.wait_for_url(re.compile(r"run=R\d+"))
    ready(page)
    learned(page)
    found = re.search(r"run=(R\d+)", page.url)
    assert found is not None
    return found[1]


def learned(page: Page) -> None:
    """Wait until the earlier sweeps are on the screen."""
    waiting = page.get_by_text("earlier sweeps are being read")
    expect(waiting).to_have_count(0)


def digits(page: Page) -> str:
    """What stands in the entry."""
    return page.get_by_label("Reading", exact=True).get_by_role("textbox").input_value()


def saved(page: Page, text: str) -> None:
    """Wait for the acknowledgement of one number."""
    expect(page.locator(".pad .say")).to_contain_text(f"{text} ")
    expect(page.locator(".pad .say")).to_contain_text("is saved.")


def type_in(page: Page, text: str) -> None:
    """Type a number, send it with Enter and wait until it is on disk."""
    page.keyboard.type(text)
    page.keyboard.press("Enter")
    saved(page, text)


def stored(shop: Path | ShopFile, run: str) -> dict[str, str]:
    """Readings of a run that count, lift to number, as typed."""
    opened = shop_file.open_shop(shop) if isinstance(shop, Path) else shop
    try:
        return {r.lift.text: str(r.flow) for r in opened.run(run).readings}
    finally:
        if isinstance(shop, Path):
            opened.close()


def port_flow(lift_mm: float) -> float:
    """A smooth port of invented size. [cfm]"""
    return 136.0 * math.tanh(lift_mm / 7.0)


Serve = Callable[..., Server]
