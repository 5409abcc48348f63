"""Every page there is: readable, large enough to touch, nothing wider than the tablet.

Pages are taken from the app itself, so a new one is looked at without being named here.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode

import pytest
from nicegui import Client
from playwright.sync_api import Page

from portwright.services import shop_file
from portwright.ui import links, pages
from tests.ui.conftest import Server, Tablet, ready, serious_violations
from tests.ui.test_ui_jobs import png

pytestmark = pytest.mark.browser

JOB = "TH-26-041"
# Asked of every page; each takes what it knows.
USUAL = {"job": JOB, "number": JOB, "port": "I1", "stage": "S7"}
# A state of a page that shows more than the usual one, or needs something else.
INSTEAD = {
    links.BENCH: [{**USUAL}, {"job": JOB, "port": "I1", "stage": "S7", "run": "R141"}],
    links.SETTLING: [{"run": "R141"}],
    links.PHOTO_MARKS: [{"job": JOB, "photo": "1"}],
    links.COMPARE: [{"names": f"TH-14-019/I1:S0,{JOB}/I1:S0"}],
}
# What can be touched, as [text, width, height] of what is drawn.
_TOUCHED = """[...document.querySelectorAll(
  'button, input, select, textarea, .act, .line, .rail a, [role=button]')]
  .filter(e => e.checkVisibility({ visibilityProperty: true }) && e.type !== 'hidden')
  .map(e => [e.textContent.trim() || e.ariaLabel || e.type, e.getBoundingClientRect()])
  .map(([text, box]) => [text, Math.round(box.width), Math.round(box.height)])"""
SMALLEST = 56  # px, 15 mm on a tablet of 96 px per inch


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    with shop_file.open_shop(demo_shop) as shop:
        assert shop.add_attachment(JOB, png(300, 200), "face.png", "image/png", subject="I1") == 1
    return serve(demo_shop)


def every_page() -> list[str]:
    """Address of every page in every state looked at."""
    for module in pkgutil.iter_modules(pages.__path__):
        importlib.import_module(f"{pages.__name__}.{module.name}")
    # other tests of this process may have put up pages of their own
    ours = {
        path for page, path in Client.page_routes.items() if page.__module__[:11] == "portwright."
    }
    found = sorted(ours)
    assert {"/", "/bench", "/compare"} <= set(found)
    return [f"{p}?{urlencode(asked)}" for p in found for asked in INSTEAD.get(p, [USUAL])]


def settled(page: Page) -> None:
    """Wait until nothing on the page is still being worked out."""
    ready(page)
    page.wait_for_function(
        "!document.querySelector('[role=progressbar]') && "
        "![...document.querySelectorAll('.soft, [role=status]')]"
        ".some(e => e.checkVisibility() && (e.textContent || '').trim().endsWith('…'))"
    )


def widest_overflow(page: Page) -> int:
    """Pixels by which the page stays wider than its window; charts need some frames to follow."""
    wide: int = page.evaluate("""() => new Promise(done => {
        let frames = 60;
        const look = () => {
            const wide = document.documentElement.scrollWidth - window.innerWidth;
            if (wide <= 0 || --frames === 0) done(wide); else requestAnimationFrame(look);
        };
        look();
    })""")
    return wide


def faults_of(page: Page) -> list[str]:
    """What is wrong with the page shown: light, then dark, upright, then lying."""
    found = []
    if page.get_by_role("heading", name="That did not work").count():
        found.append("it shows an error: give it an address in INSTEAD")
    sizes = page.evaluate(_TOUCHED)
    found += [f"too small to touch: {s}" for s in sizes if min(s[1], s[2]) < SMALLEST]
    found += serious_violations(page)
    page.emulate_media(color_scheme="dark")
    page.wait_for_function("document.documentElement.dataset.theme === 'dark'")
    found += [f"dark: {v}" for v in serious_violations(page, "color-contrast")]
    for width, height in ((820, 1180), (1180, 820), (1440, 900)):
        page.set_viewport_size({"width": width, "height": height})
        wide = widest_overflow(page)
        if wide > 0:
            found.append(f"{wide} px wider than a screen of {width}")
    page.set_viewport_size({"width": 820, "height": 1180})
    page.emulate_media(color_scheme="light")
    return found


def test_every_page_is_accessible_and_fits(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet(color_scheme="light").page
    wrong = []
    for address in every_page():
        answer = page.goto(demo.address + address)
        assert answer is not None
        if not answer.ok:
            wrong.append(f"{address}: answers {answer.status}: give it an address in INSTEAD")
            continue
        settled(page)
        wrong += [f"{address}: {f}" for f in faults_of(page)]
    assert not wrong, "\n".join(wrong)
