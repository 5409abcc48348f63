"""Tracing on a photo in a real browser: by finger and by mouse, what is traced is what is kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import CDPSession, Locator, Page, Route, expect

from benchmarks.tracing_photo import Photo, photograph
from portwright.services import shop_file, trace_store
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"
Spot = tuple[float, float]


@pytest.fixture(scope="module")
def photo() -> Photo:
    return photograph()


@pytest.fixture(scope="module")
def number(demo_shop: Path, photo: Photo) -> int:
    with shop_file.open_shop(demo_shop) as opened:
        return opened.add_attachment(
            JOB, photo.data, "slice.jpg", "image/jpeg", subject="I1", stage="S7"
        )


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path, number: int) -> Server:
    return serve(demo_shop)


class Finger:
    """A finger on the photo: picture places to touches of the real screen."""

    def __init__(self, page: Page) -> None:
        self._page = page
        self._touch: CDPSession = page.context.new_cdp_session(page)

    def at(self, spot: Iterable[float]) -> Spot:
        """Where a picture point lies on the screen now."""
        x, y = spot
        found = self._page.evaluate(
            """([x, y]) => {
                const picture = document.querySelector('.tracing img');
                const box = picture.getBoundingClientRect();
                return [box.left + x * box.width / picture.naturalWidth,
                        box.top + y * box.height / picture.naturalHeight];
            }""",
            [float(x), float(y)],
        )
        return (float(found[0]), float(found[1]))

    def _send(self, kind: str, *spots: Spot) -> None:
        self._touch.send(
            "Input.dispatchTouchEvent",
            {
                "type": kind,
                "touchPoints": [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(spots)],
            },
        )

    def tap(self, spot: Iterable[float]) -> None:
        """Touch and let go."""
        self._send("touchStart", self.at(spot))
        self._send("touchEnd")

    def draw(self, spots: Iterable[Iterable[float]]) -> None:
        """Touch, move from spot to spot, let go."""
        places = [self.at(spot) for spot in spots]
        self._send("touchStart", places[0])
        for place in places[1:]:
            self._send("touchMove", place)
        self._send("touchEnd")

    def spread(self, middle: Iterable[float], start: float, end: float) -> None:
        """Two fingers move apart."""
        x, y = self.at(middle)
        self._send("touchStart", (x - start, y))
        self._send("touchStart", (x - start, y), (x + start, y))
        for share in (0.25, 0.5, 0.75, 1.0):
            apart = start + share * (end - start)
            self._send("touchMove", (x - apart, y), (x + apart, y))
        self._send("touchEnd")


def open_photo(page: Page, demo: Server, number: int) -> Finger:
    page.goto(f"{demo.address}/trace?job={JOB}&photo={number}")
    ready(page)
    page.wait_for_function("document.querySelector('.tracing img')?.naturalWidth === 1000")
    return Finger(page)


TOOLS = {"Mark scale": "scale", "Trace": "outline", "Suggest": "suggest", "Holes": "holes"}


def tool(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()
    if name in TOOLS:  # the photo hears of it from the server
        expect(page.locator(".tracing .view")).to_have_attribute("data-tool", TOOLS[name])


def enter(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label)
    box.fill(text)
    box.press("Enter")


def give_scale(page: Page, finger: Finger, photo: Photo) -> None:
    for corner in photo.corners:
        finger.tap(corner)
    expect(page.locator(".tracing .mark")).to_have_count(4)
    enter(page, "Side between marks 1 and 2", "120")
    enter(page, "Side between marks 2 and 3", "90")


def result(page: Page) -> Locator:
    return page.locator("section", has=page.get_by_role("heading", name="Result"))


def shown_area(page: Page) -> tuple[float, float]:
    """Area and half interval on the screen, once they are those of the present outline. [mm2]"""
    page.wait_for_function(
        """() => {
            const drawn = document.querySelectorAll('.tracing .dot').length;
            const area = document.querySelector('.area');
            return drawn > 2 && area && Number(area.dataset.points) === drawn;
        }"""
    )
    expect(result(page).locator(".area")).to_have_text(re.compile(r"[\d.]+ ± [\d.]+ mm²"))
    value, interval = re.findall(r"[\d.]+", result(page).locator(".area").inner_text())[:2]
    return float(value), float(interval)


def test_a_finger_traces_a_section_and_keeps_it(
    demo: Server,
    demo_shop: Path,
    number: int,
    photo: Photo,
    open_tablet: Callable[..., Tablet],
    tmp_path: Path,
) -> None:
    page = open_tablet().page
    finger = open_photo(page, demo, number)
    expect(result(page)).to_contain_text("Mark the scale first")
    give_scale(page, finger, photo)
    expect(result(page)).to_contain_text("no outline yet")
    tool(page, "Trace")
    finger.draw(np.vstack((photo.outline[::8], photo.outline[:1])))
    expect(page.locator(".tracing path.edge")).to_have_attribute("data-closed", "true")
    area, interval = shown_area(page)
    true = photo.area * 1e6
    # the finger follows the true edge, rounded to screen pixels of 1.3 picture pixels
    assert area == pytest.approx(true, rel=0.01)
    assert 0.005 < interval / area < 0.08
    expect(page.locator(".tracing .figure")).to_be_in_viewport()  # seen without scrolling
    expect(page.locator(".tracing .figure")).to_contain_text(f"{area:g} ±")
    page.screenshot(path=tmp_path / "traced.png", full_page=True)
    assert serious_violations(page) == []
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0
    enter(page, "Distance from the opening", "52")
    page.get_by_label("Landmark").select_option("pinch")
    page.get_by_role("button", name="Save the outline").click()
    expect(page.get_by_text("Saved: section area of I1 S7")).to_be_visible()
    with shop_file.open_shop(demo_shop) as opened:
        kept = trace_store.traces(opened, JOB)[-1]
        found = [m for m in opened.job(JOB).measurements if m.place == "pinch; distance 52 mm"]
    assert kept.traced.area * 1e6 == pytest.approx(area, abs=1.0)  # shown without decimals
    assert [m.quantity for m in found] == ["section area", "section perimeter"]
    assert found[0].value.si == pytest.approx(kept.traced.area, abs=0.6e-6)


def test_a_photo_that_does_not_come_at_first_is_asked_for_again(
    demo: Server, number: int, photo: Photo, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    refused: list[str] = []

    def lose_two(route: Route) -> None:
        if len(refused) < 2:
            refused.append(route.request.url)
            route.abort()
        else:
            route.continue_()

    page.route(re.compile(rf"/photo/{number}\b"), lose_two)
    open_photo(page, demo, number)
    assert len(refused) == 2


def test_points_can_be_undone_moved_and_removed(
    demo: Server,
    demo_shop: Path,
    number: int,
    photo: Photo,
    open_tablet: Callable[..., Tablet],
) -> None:
    page = open_tablet().page
    finger = open_photo(page, demo, number)
    give_scale(page, finger, photo)
    tool(page, "Trace")
    dots = page.locator(".tracing .dot")
    for spot in photo.outline[::90]:
        finger.tap(spot)
    expect(dots).to_have_count(8)
    right, _ = shown_area(page)
    middle = photo.outline.mean(axis=0)
    finger.draw([photo.outline[0], 0.5 * (photo.outline[0] + middle), middle])  # a point dragged in
    expect(dots).to_have_count(8)
    page.wait_for_function(
        "was => !document.querySelector('.area').innerText.startsWith(was)", arg=f"{right:g}"
    )
    assert shown_area(page)[0] < 0.95 * right
    tool(page, "Undo")
    expect(result(page).locator(".area")).to_contain_text(f"{right:g} ±")
    finger.tap(photo.outline[90])  # takes hold of the second point, adds none
    expect(dots).to_have_count(8)
    tool(page, "Remove point")
    expect(dots).to_have_count(7)
    page.locator(".tracing .view").focus()
    page.keyboard.press("Control+z")
    expect(dots).to_have_count(8)
    tool(page, "New outline")
    expect(dots).to_have_count(0)
    tool(page, "Undo")
    expect(dots).to_have_count(8)
    tool(page, "Holes")
    holes = page.locator(".tracing .hole")
    for corner in photo.corners[:3]:  # a third one is not taken
        finger.tap(0.8 * corner + 0.2 * middle)
    expect(holes).to_have_count(2)
    page.get_by_role("button", name="Gasket", exact=True).click()
    page.get_by_role("button", name="Save the outline").click()
    expect(page.get_by_text("Saved: gasket opening area of I1 S7")).to_be_visible()
    with shop_file.open_shop(demo_shop) as opened:
        kept = trace_store.traces(opened, JOB)[-1].tracing
    assert np.array(kept.holes) == pytest.approx(0.8 * photo.corners[:2] + 0.2 * middle, abs=2.0)


def test_a_suggested_outline_is_corrected_by_drawing(
    demo: Server, number: int, photo: Photo, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    finger = open_photo(page, demo, number)
    give_scale(page, finger, photo)
    tool(page, "Suggest")
    finger.tap(photo.outline.mean(axis=0))
    area, interval = shown_area(page)
    assert area == pytest.approx(photo.area * 1e6, rel=0.01)
    assert abs(area - photo.area * 1e6) < interval
    expect(page.locator(".tracing .view")).to_have_attribute("data-tool", "outline")
    # a bite out of the right side, drawn from edge to edge
    middle = photo.outline.mean(axis=0)
    bite = [photo.outline[80], 0.6 * photo.outline[0] + 0.4 * middle, photo.outline[-80]]
    away = [bite[0] + share * (bite[1] - bite[0]) for share in np.linspace(0.12, 1.0, 8)]
    back = [bite[1] + share * (bite[2] - bite[1]) for share in np.linspace(0.0, 0.88, 8)]
    finger.draw([*away, *back])
    page.wait_for_function(
        "was => !document.querySelector('.area').innerText.startsWith(was)", arg=f"{area:g}"
    )
    bitten, _ = shown_area(page)
    assert 0.75 * area < bitten < 0.97 * area
    tool(page, "Undo")
    expect(result(page).locator(".area")).to_contain_text(f"{area:g} ±")


def test_roughly_marked_corners_snap_to_the_printed_lines(
    demo: Server, number: int, photo: Photo, open_tablet: Callable[..., Tablet], tmp_path: Path
) -> None:
    page = open_tablet().page
    finger = open_photo(page, demo, number)
    page.get_by_role("button", name="Find the frame").click()
    dialog = page.get_by_role("alertdialog")
    expect(dialog).to_contain_text("There are 0 marks")
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    page.locator(".tracing .view").scroll_into_view_if_needed()
    for corner, off in zip(photo.corners, [(5, 3), (-4, 5), (3, -5), (-5, 4)], strict=True):
        finger.tap(corner + np.array(off))
    expect(page.locator(".tracing .mark")).to_have_count(4)
    page.get_by_role("button", name="Find the frame").click()
    expect(page.locator(".tracing .mark")).to_have_count(8)
    enter(page, "Side from mark 1 to mark 3", "120")
    enter(page, "Side from mark 3 to mark 5", "90")
    tool(page, "Suggest")
    finger.tap(photo.outline.mean(axis=0))
    area, interval = shown_area(page)
    assert area == pytest.approx(photo.area * 1e6, rel=0.005)
    assert abs(area - photo.area * 1e6) < interval
    page.screenshot(path=tmp_path / "lines.png", full_page=True)
    assert serious_violations(page) == []
    page.reload()
    ready(page)
    expect(page.locator(".tracing .mark")).to_have_count(8)
    expect(result(page).locator(".area")).to_contain_text(f"{area:g} ±")


def test_two_fingers_enlarge_and_points_stay_where_they_are(
    demo: Server, number: int, photo: Photo, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    finger = open_photo(page, demo, number)
    picture = "document.querySelector('.tracing img').getBoundingClientRect()"
    finger.tap(photo.corners[0])
    expect(page.locator(".tracing .mark")).to_have_count(1)
    before = page.evaluate(f"{picture}.width")
    finger.spread(photo.corners[0], 60.0, 180.0)
    page.wait_for_function(f"Math.abs({picture}.width / {3.0 * before} - 1) < 0.05")
    expect(page.locator(".tracing .mark")).to_have_count(1)
    mark = page.locator(".tracing .mark path").last.bounding_box()
    assert mark is not None
    there = finger.at(photo.corners[0])
    assert mark["x"] + 0.5 * mark["width"] == pytest.approx(there[0], abs=2.0)
    assert mark["y"] + 0.5 * mark["height"] == pytest.approx(there[1], abs=2.0)
    tool(page, "Whole")
    page.wait_for_function(f"Math.abs({picture}.width / {before} - 1) < 0.01")


def test_a_mouse_does_the_same_and_a_reload_keeps_the_draft(
    demo: Server, number: int, photo: Photo, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet(width=1440, height=900, has_touch=False).page
    finger = open_photo(page, demo, number)
    expect(page.locator(".tracing .view")).to_be_in_viewport(ratio=1.0)
    page.get_by_role("button", name="Bar", exact=True).click()
    expect(page.get_by_label("Length of the bar")).to_be_visible()
    for corner in photo.corners[:2]:
        page.mouse.click(*finger.at(corner))
    enter(page, "Length of the bar", "12 cm")
    tool(page, "Trace")
    page.mouse.move(*finger.at(photo.outline[0]))
    page.mouse.down()
    for spot in photo.outline[8::8]:
        page.mouse.move(*finger.at(spot))
    page.mouse.move(*finger.at(photo.outline[0]))
    page.mouse.up()
    area, interval = shown_area(page)
    assert abs(area - photo.area * 1e6) < 2.0 * interval  # 10 degrees of tilt against 3 stated
    expect(result(page)).to_contain_text("A bar cannot show a tilted camera")
    page.reload()
    ready(page)
    expect(result(page).locator(".area")).to_contain_text(f"{area:g} ±")
    expect(page.get_by_label("Length of the bar")).to_have_value("12")
    expect(page.locator(".tracing .mark")).to_have_count(2)
    page.get_by_role("button", name="Circle", exact=True).click()
    expect(page.locator(".tracing .mark")).to_have_count(0)
    expect(result(page)).to_contain_text("0 of 5 marks")


def test_a_photo_is_chosen_from_the_job(
    demo: Server, number: int, open_tablet: Callable[..., Tablet]
) -> None:
    page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_role("link", name="Measure on a photo").click()
    expect(page.get_by_role("heading", name="Choose a photo")).to_be_visible()
    assert serious_violations(page) == []
    page.get_by_role("link", name="Trace I1 S7").click()
    expect(page).to_have_url(re.compile(f"photo={number}$"))
    page.goto(f"{demo.address}/trace?job={JOB}&photo=9999")
    expect(page.get_by_text("has no photo 9999")).to_be_visible()
