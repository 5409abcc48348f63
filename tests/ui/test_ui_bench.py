"""A sweep taken on the bench screen: by keyboard, by touch, questioned, corrected."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.ui.bench_help import USUAL, begin, digits, own_copy, saved, stored, type_in
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
# Pixels per millimetre of a tablet whose page is 820 wide on 159 mm of glass.
PIXELS = 820 / 159


@pytest.fixture(scope="module")
def shop(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return own_copy(demo_file, tmp_path_factory.mktemp("bench"))


@pytest.fixture(scope="module")
def server(serve: Callable[..., Server], shop: Path) -> Server:
    return serve(shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def test_twelve_lifts_by_keyboard_alone(server: Server, shop: Path, page: Page) -> None:
    page.goto(f"{server.address}/bench?job=TH-26-041&port=I2&stage=S0")
    ready(page)
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate(
            "document.activeElement.closest('.field')?.innerText.includes('Go through')"
        ):
            break
    page.keyboard.press("ArrowDown")  # from the lifts of the last sweep to 1 to 12 by 1 mm
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Begin I2 S0")).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url("**run=R**")
    ready(page)
    expect(page.get_by_text("earlier sweeps are being read")).to_have_count(0)
    values = ("17,9", *USUAL[1:], "127.7")  # the first with a decimal comma
    for count, text in enumerate(values):
        expect(page.locator(".call .count")).to_have_text(f"{count} of 12")
        expect(page.locator(".call strong")).to_have_text(str(count + 1))
        type_in(page, text)
    expect(page.get_by_text("All lifts read")).to_be_visible()
    run = page.url.rpartition("run=")[2]
    assert stored(shop, run) == {str(n + 1): f"{t} cfm" for n, t in enumerate(values)}
    page.keyboard.press("Control+z")
    expect(page.locator(".call strong")).to_have_text("12")
    assert len(stored(shop, run)) == 11


def test_a_sweep_by_touch_with_undo(server: Server, shop: Path, page: Page) -> None:
    run = begin(page, server, "I3", lifts="1 2 3 4")

    def tap(text: str) -> None:
        for sign in (*text, "Enter"):
            name = "Decimal mark" if sign == "." else sign
            page.locator(".pad").get_by_role("button", name=name, exact=True).tap()
        saved(page, text)

    tap("18.0")
    tap("35.2")
    page.get_by_role("button", name="Take back the last").tap()
    expect(page.locator(".call strong")).to_have_text("2")
    assert stored(shop, run) == {"1": "18.0 cfm"}
    tap("35.3")
    page.get_by_role("button", name="3.00 mm").tap()
    tap("51.2")
    page.get_by_role("button", name="1.00 mm").tap()  # read already: read again
    expect(page.get_by_text("Again at")).to_be_visible()
    tap("18.1")
    expect(page.locator(".call strong")).to_have_text("4")
    assert stored(shop, run) == {"1": "18.1 cfm", "2": "35.3 cfm", "3": "51.2 cfm"}


def test_a_wrong_reading_is_questioned_before_it_is_stored(
    server: Server, shop: Path, page: Page
) -> None:
    run = begin(page, server, "I4", lifts="2 4 6 8")
    type_in(page, "34.7")
    page.keyboard.type("56.5")  # 65.5 with the digits swapped
    page.keyboard.press("Enter")
    question = page.get_by_role("alertdialog")
    expect(question).to_contain_text("Two digits swapped? 65.5 cfm would fit.")
    assert stored(shop, run) == {"2": "34.7 cfm"}
    assert serious_violations(page) == []
    page.keyboard.press("Enter")  # the pedal again: never keeps what is in doubt
    expect(question).to_have_count(0)
    assert digits(page) == ""
    type_in(page, "65.5")
    page.keyboard.type("82.0")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Keep 82.0").tap()
    saved(page, "82.0")
    assert stored(shop, run) == {"2": "34.7 cfm", "4": "65.5 cfm", "6": "82.0 cfm"}


def test_units_switch_what_is_shown_and_nothing_else(
    server: Server, shop: Path, page: Page
) -> None:
    run = begin(page, server, "I5", lifts="1 2 3")
    type_in(page, "17.9")
    tile = page.get_by_role("button", name="1.00 mm")
    expect(tile).to_contain_text("17.9")
    page.get_by_role("button", name="L/s").click()
    page.get_by_role("button", name="in", exact=True).click()
    tile = page.get_by_role("button", name="0.039 in")
    expect(tile).to_contain_text("8.4")  # 17.9 cfm = 8.448 L/s
    expect(page.locator(".call strong")).to_have_text("0.08")  # 2 mm, to the digit it was given
    expect(page.locator(".live svg").first).to_contain_text("valve lift [in]")
    type_in(page, "16,45")
    assert stored(shop, run) == {"1": "17.9 cfm", "2": "16,45 L/s"}
    page.get_by_role("button", name="cfm").click()
    page.get_by_role("button", name="mm", exact=True).click()
    expect(page.get_by_role("button", name="2.00 mm")).to_contain_text("34.9")
    page.keyboard.type("ab5x1.2")
    assert digits(page) == "51.2"
    page.keyboard.press("Escape")
    page.keyboard.type("1,250")
    page.keyboard.press("Enter")
    expect(page.locator(".pad .say")).to_contain_text("could mean")
    assert digits(page) == "1,250"


# A device with a voice of its own and one that would send the words elsewhere.
_VOICES = """
const own = { name: 'own', lang: 'en-GB', localService: true, default: false };
const far = { name: 'far', lang: 'en-US', localService: false, default: true };
window.heard = [];
window.SpeechSynthesisUtterance = function (text) { this.text = text; };
Object.defineProperty(window, 'speechSynthesis', { value: {
  getVoices: () => [far, own], cancel() {}, addEventListener() {}, removeEventListener() {},
  speak(said) { window.heard.push([said.voice.name, said.text]); },
} });
"""


def test_what_was_typed_is_read_back_with_the_next_lift(server: Server, page: Page) -> None:
    page.add_init_script(_VOICES)
    begin(page, server, "I5", lifts="1 2")
    type_in(page, "17.9")
    assert page.evaluate("window.heard") == []  # not before it is switched on
    page.get_by_role("button", name="Read back: off").tap()
    expect(page.get_by_text("No voice on this device")).to_have_count(0)
    page.get_by_role("button", name="Take back the last").tap()
    expect(page.locator(".call strong")).to_have_text("1")
    type_in(page, "17.9")
    type_in(page, "34.9")
    assert page.evaluate("window.heard") == [
        ["own", "1 millimetre, 17.9. Next 2 millimetres."],
        ["own", "2 millimetres, 34.9. All lifts read."],
    ]


# A flash is gone after a moment, so each is noted.
_NOTE_FLASHES = """() => {
  const flash = document.querySelector('.flash');
  window.flashed = [];
  new MutationObserver(() => window.flashed.push(flash.dataset.kind))
    .observe(flash, { attributes: true, attributeFilter: ['data-kind'] });
}"""


def test_the_pedal_and_the_voice(server: Server, shop: Path, page: Page) -> None:
    run = begin(page, server, "I6", lifts="1 2 3")
    page.get_by_label("Foot pedal sends").select_option("PageDown")
    page.get_by_role("button", name="Read back: off").tap()
    # this browser has no voice of its own, and others are never asked
    expect(page.get_by_text("No voice on this device: flash only")).to_be_visible()
    page.locator(".call").click()
    page.evaluate(_NOTE_FLASHES)
    page.keyboard.type("17.8")
    page.keyboard.press("PageDown")
    saved(page, "17.8")
    page.wait_for_function("window.flashed.includes('good')")
    assert stored(shop, run) == {"1": "17.8 cfm"}
    page.keyboard.type("53.4")  # 34.5 with the digits turned round
    page.keyboard.press("PageDown")
    expect(page.get_by_role("alertdialog")).to_be_visible()
    page.keyboard.press("PageDown")  # the pedal again: asks for the number, never keeps it
    expect(page.get_by_role("alertdialog")).to_have_count(0)
    page.wait_for_function("window.flashed.includes('ask')")
    assert (digits(page), stored(shop, run)) == ("", {"1": "17.8 cfm"})
    page.reload()
    ready(page)
    expect(page.get_by_role("button", name="Read back: on")).to_be_visible()
    expect(page.get_by_label("Foot pedal sends")).to_have_value("PageDown")


@pytest.mark.parametrize(
    ("width", "height", "scheme"),
    [(820, 1180, "dark"), (1180, 820, "light")],
)
def test_the_screen_is_read_at_arms_length(
    server: Server,
    open_tablet: Callable[..., Tablet],
    tmp_path: Path,
    width: int,
    height: int,
    scheme: str,
) -> None:
    page = open_tablet(width=width, height=height, color_scheme=scheme).page
    begin(page, server, "E2" if width < height else "E3", "S7")
    page.keyboard.type("132.1")
    tall = page.evaluate("""() => {
      const style = getComputedStyle(document.querySelector('.digits'));
      const pen = document.createElement('canvas').getContext('2d');
      pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
      return pen.measureText('1').actualBoundingBoxAscent;
    }""")
    assert tall >= 25.0 * PIXELS
    box = page.locator(".digits")
    assert box.evaluate("e => e.scrollWidth <= e.clientWidth"), "the number does not fit"
    sizes = page.eval_on_selector_all(
        ".pad .key, .lifts button",
        "all => all.map(e => e.getBoundingClientRect()).map(r => Math.min(r.width, r.height))",
    )
    assert min(sizes) >= 72
    keys = page.locator(".pad .enter").bounding_box()
    assert keys is not None
    assert keys["y"] + keys["height"] <= height - (84 if width < height else 0), "Enter is hidden"
    assert serious_violations(page) == []
    page.screenshot(path=tmp_path / f"bench-{scheme}.png")


def test_the_form_is_accessible(server: Server, page: Page) -> None:
    page.goto(f"{server.address}/bench?job=TH-26-041&port=I1&stage=S7")
    ready(page)
    # the newest sweep of this port had the manifold on, which must not pass unseen
    expect(page.locator(".notice.ask")).to_contain_text("manifold runner bolted on")
    assert serious_violations(page) == []
