"""Valves, seats, room, manifold, springs, inspection and figures in the browser, on one shop."""

from __future__ import annotations

import io
import re
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from portwright.services import shop_file, trace_store
from portwright.services.trace_store import Belongs, Target
from tests.opening_traces import HOLES, LOPSIDED, askew, tracing, turned_over
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"
HOLES_CHOICE = "the two holes marked on each photo"


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet], demo: Server) -> Page:
    page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_text("More on this job").click()
    return page


def enter(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label, exact=True)
    box.fill(text)
    box.press("Enter")
    expect(box.locator("xpath=ancestor::*[@data-state][1]")).to_have_attribute(
        "data-state", "saved"
    )


def test_valves_are_placed_in_the_bore(page: Page, demo: Server) -> None:
    page.get_by_role("link", name="Room for valves").click()
    ready(page)
    expect(page.get_by_role("cell", name="needs intake offsets").first).to_be_visible()
    for side, along in (("Intake", "-20"), ("Exhaust", "20,5")):
        enter(page, f"{side} offset along", along)
        enter(page, f"{side} offset across", "0")
    expect(page.get_by_role("img", name="Bore and both valves from below")).to_be_visible()
    expect(page.get_by_text("Largest pair on these centres")).to_be_visible()
    expect(page.get_by_text("Check physically", exact=True)).to_be_visible()
    assert page.get_by_role("cell", name="NOT CHECKED YET").count() == 6
    assert serious_violations(page) == []
    link = page.get_by_role("link", name="Print the sheet").get_attribute("href")
    with urllib.request.urlopen(f"{demo.address}{link}") as answer:  # noqa: S310
        assert answer.read(4) == b"%PDF"


def test_a_runner_is_laid_on_the_port(page: Page) -> None:
    page.get_by_role("link", name="Manifold fit").click()
    ready(page)
    enter(page, "Runner width", "31")
    enter(page, "Runner height", "38")
    enter(page, "Runner corner radius", "9")
    enter(page, "Runner offset up", "0,8")
    expect(page.get_by_text("The head's roof stands 0.55 mm into the flow")).to_be_visible()
    expect(page.get_by_text("manifold + carburettor + air trumpet")).to_be_visible()
    assert serious_violations(page) == []


def test_traced_openings_are_laid_on_one_another(
    demo: Server, demo_shop: Path, open_tablet: Callable[..., Tablet]
) -> None:
    with shop_file.open_shop(demo_shop) as opened:
        for target, outline, holes in (
            (Target.OPENING, LOPSIDED, HOLES),
            (Target.RUNNER, askew(turned_over(LOPSIDED), 4.0), askew(turned_over(HOLES), 4.0)),
        ):
            picture = io.BytesIO()
            Image.new("RGB", (40, 30), "grey").save(picture, "JPEG")
            photo = opened.add_attachment(JOB, picture.getvalue(), f"{target}.jpg", "image/jpeg")
            trace_store.store(
                opened, Belongs(JOB, "I6", "S7", target), tracing(photo, outline, holes)
            )
    page = open_tablet().page
    page.goto(f"{demo.address}/manifold?job={JOB}&port=I6&stage=S7")
    ready(page)
    expect(page.get_by_text("Not worked out")).to_be_visible()
    page.get_by_label("Head's opening", exact=True).select_option(index=1)
    expect(page).to_have_url(re.compile("traced=head"))
    ready(page)
    page.get_by_label("Manifold or pipe", exact=True).select_option(index=1)
    expect(page).to_have_url(re.compile("traced=head.*runner"))
    ready(page)
    expect(page.get_by_text("Traced on photos: head, runner.")).to_be_visible()
    enter(page, "Runner turn", "-4")
    expect(page.get_by_text("turned 4.0° clockwise")).to_be_visible()
    expect(page.get_by_text("No edge of the head stands in the flow.")).to_be_visible()
    enter(page, "Runner turn", "0")
    page.get_by_label("Laid on one another", exact=True).select_option(label=HOLES_CHOICE)
    expect(page).to_have_url(re.compile("by=holes"))
    ready(page)
    expect(page.get_by_text("Laid by two holes")).to_be_visible()
    expect(page.get_by_text("No edge of the head stands in the flow.")).to_be_visible()
    enter(page, "Runner offset up", "-1")
    expect(page.get_by_text("The head's floor stands 1.00 mm into the flow")).to_be_visible()
    link = page.get_by_role("link", name="Print the sheet").get_attribute("href")
    with urllib.request.urlopen(f"{demo.address}{link}") as answer:  # noqa: S310
        text = PdfReader(io.BytesIO(answer.read())).pages[0].extract_text()
    assert "Traced on photos" in text
    assert "Laid by two holes" in text
    assert serious_violations(page) == []


def test_the_shop_changes_a_figure_and_takes_it_back(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page = open_tablet().page
    page.goto(f"{demo.address}/shop")
    ready(page)
    page.get_by_role("link", name="The shop's figures").click()
    ready(page)
    enter(page, "Coil bind, at least", "1,6")
    expect(page.get_by_text("the shop's own").first).to_be_visible()
    enter(page, "Throat diameter of copies", "0,05")
    expect(page.get_by_text("Kept as the shop's own")).to_have_count(2)
    page.reload()
    ready(page)
    expect(page.get_by_label("Throat diameter of copies", exact=True)).to_have_value("0,05")
    expect(page.get_by_label("Coil bind, at least", exact=True)).to_have_value("1,6")
    assert serious_violations(page) == []
    # only what the shop changed can go back
    expect(page.get_by_role("button", name=re.compile("As it came"))).to_have_count(2)
    back = page.get_by_role("button", name="As it came: 1.3 mm")
    back.click()
    expect(page.get_by_label("Coil bind, at least", exact=True)).to_have_value("1.3")
    expect(back).to_have_count(0)
    expect(page.get_by_label("Coil bind, at least", exact=True)).to_be_focused()


def test_a_seat_is_chosen_drawn_and_printed(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page: Page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_text("More on this job").click()
    page.get_by_role("link", name="Valve and seat").click()
    ready(page)
    drawing = page.get_by_role("img", name=re.compile("Half section of valve and seat A of I1"))
    expect(drawing).to_be_visible()
    assert serious_violations(page) == []
    box = page.get_by_label("Seat angle", exact=True)
    box.fill("50")
    box.press("Enter")
    expect(page.get_by_text("A 50 degree seat wedges").first).to_be_visible()
    page.get_by_label("Throat diameter", exact=True).fill("41,9")
    page.get_by_label("Throat diameter", exact=True).press("Enter")
    expect(page.get_by_text("past the throat")).to_be_visible()
    page.get_by_role("button", name="B", exact=True).click()
    expect(page.get_by_role("img", name=re.compile("valve and seat B of I1"))).to_be_visible()
    expect(page).to_have_url(re.compile("show=B"))
    page.reload()  # the address keeps the plan
    ready(page)
    expect(page.get_by_label("Seat angle", exact=True)).to_have_value("50.00")
    link = page.get_by_role("link", name="Print the sheet").get_attribute("href")
    with urllib.request.urlopen(f"{demo.address}{link}") as answer:  # noqa: S310
        text = "".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.read())).pages)
    assert "Order of work" in text
    assert "I1 (B)" in text


def test_a_clearance_is_open_until_recorded(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page: Page = open_tablet().page
    page.goto(f"{demo.address}/job?number={JOB}")
    ready(page)
    page.get_by_role("link", name="Record a check").click()
    ready(page)
    loud = page.locator(".notice.fault li")
    expect(loud.filter(has_text="Valve to valve at overlap")).to_have_count(1)
    box = page.get_by_label("Valve to valve at overlap", exact=True)
    box.fill("1,5")
    box.press("Enter")
    expect(page.get_by_text("A check needs the instrument")).to_be_visible()
    page.get_by_label("Measured with").fill("feeler")
    page.get_by_label("Measured with").press("Tab")
    box.fill("1,5")
    box.press("Enter")
    expect(loud.filter(has_text="Valve to valve at overlap")).to_have_count(0)
    expect(page.get_by_role("cell", name="1,5 mm, feeler")).to_be_visible()
    assert serious_violations(page) == []


def test_something_is_seen_and_the_customer_asked(
    open_tablet: Callable[..., Tablet], demo: Server
) -> None:
    page: Page = open_tablet().page
    page.goto(f"{demo.address}/inspection?job={JOB}")
    ready(page)
    expect(page.get_by_text("Chalky or white: cyl 5 exhaust seat, cyl 6")).to_be_visible()
    guides = page.locator("li", has_text="Exhaust guide clearance")
    expect(guides).to_contain_text("cyl 1 exhaust guide 0.15 mm, cyl 2 exhaust guide 0.16 mm")
    page.get_by_label("Where").fill("cyl 2")
    page.get_by_label("Part").select_option("between the seats")
    page.get_by_label("Seen", exact=True).select_option("metal lost between seats")
    page.get_by_label("Suspected, if anything").fill("knock")
    page.get_by_label("Suspected, if anything").press("Tab")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("cyl 2 between the seats: knock")).to_be_visible()
    asked = page.locator(".notice.ask", has_text="Metal lost between the seats: cyl 2")
    asked.get_by_role("button", name="Put the question").click()
    expect(page.get_by_text("Put to the customer").first).to_be_visible()
    assert serious_violations(page) == []
    page.goto(f"{demo.address}/card?job={JOB}")
    ready(page)
    expect(page.get_by_text("Metal lost between the seats: cyl 2").first).to_be_visible()
