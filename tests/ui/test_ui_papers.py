"""Job card, papers and photos in the browser: the clock, the yes, the invoice, what goes out."""

from __future__ import annotations

import io
import re
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect
from pypdf import PdfReader

from portwright.services import photos, shop_file
from portwright.services.demo import DEMO_JOB
from tests.ui.conftest import Server, Tablet, ready, serious_violations, start_again

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def fetch(address: str) -> tuple[str, bytes]:
    with urllib.request.urlopen(address) as answer:  # noqa: S310 - our own server
        return str(answer.headers["content-type"]), answer.read()


def test_the_clock_outlives_reload_and_power_cut(page: Page, demo: Server) -> None:
    page.goto(f"{demo.address}/card?job={DEMO_JOB}")
    ready(page)
    page.get_by_role("button", name="Start Guides: bore, fit, hone").click()
    expect(page.get_by_text("The clock runs on: Guides: bore, fit, hone")).to_be_visible()
    expect(page.get_by_text("Running since")).to_be_visible()
    demo.kill()
    start_again(demo, page)
    expect(page.get_by_text("Running since")).to_be_visible()
    page.get_by_role("button", name="Stop Guides: bore, fit, hone").click()
    expect(page.get_by_text("Running since")).to_have_count(0)
    assert serious_violations(page) == []


def test_found_work_waits_and_the_invoice_names_what_is_unbilled(page: Page, demo: Server) -> None:
    page.goto(f"{demo.address}/card?job={DEMO_JOB}")
    ready(page)
    page.get_by_label("What is to be done").fill("Sleeve cyl 2")
    page.get_by_label("Hours quoted").fill("2,5")
    page.get_by_label("It is").select_option("yes")
    page.get_by_role("button", name="Add the work").click()
    expect(page.get_by_text("waits for the customer's yes")).to_be_visible()
    page.get_by_role("button", name="Start Sleeve cyl 2").click()
    expect(page.get_by_text(re.compile("waits for the customer's yes: Found"))).to_be_visible()
    page.keyboard.press("Escape")
    page.get_by_label("How it was answered").select_option("in writing")
    page.get_by_role("button", name="Customer says yes").click()
    expect(page.get_by_text(re.compile(r"Yes on \d{4}-\d\d-\d\d, in writing"))).to_be_visible()
    expect(page.get_by_text("9.0 h worked would not be billed")).to_be_visible()
    page.get_by_role("button", name="Close the invoice").click()
    expect(page.get_by_text(re.compile("worked are not on this invoice"))).to_be_visible()
    page.keyboard.press("Escape")
    page.get_by_label("Why they are not billed").fill("agreed price")
    page.get_by_role("button", name="Close the invoice").click()
    expect(page.get_by_text(re.compile(r"Invoice \d{4}-001"))).to_be_visible()
    address = page.get_by_role("link", name="PDF").first.get_attribute("href") or ""
    kind, pdf = fetch(demo.address + address)
    assert kind == "application/pdf"
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "€437.00" in text  # 2.1 h unquoted weld repair and 2.5 h sleeve at 95.00
    assert "HM-L-1183" not in text


def test_papers_show_what_leaves_the_shop(page: Page, demo: Server) -> None:
    page.goto(f"{demo.address}/papers?number={DEMO_JOB}")
    ready(page)
    expect(page.get_by_text(re.compile("Over the time the valve is open"))).to_be_visible()
    expect(page.get_by_role("button", name="Listen")).to_be_visible()
    preview = page.get_by_role("img", name="Preview, square: flow before and after with conditions")
    expect(preview).to_be_visible()
    expect(preview).to_have_js_property("naturalWidth", 1080)
    assert serious_violations(page) == []
    page.get_by_role("button", name="Deutsch").click()
    expect(page.get_by_text(re.compile("Hier ist das Ergebnis"))).to_be_visible()
    shown = page.get_by_role("link", name="As a page").get_attribute("href") or ""
    kind, report = fetch(demo.address + shown)
    assert kind.startswith("text/html")
    assert "In einfachen Worten" in report.decode()
    assert "Ingrid" not in report.decode()
    page.get_by_role("button", name="Name and serials released").click()
    expect(page.get_by_text(re.compile("; with name and serials"))).to_be_visible()
    assert "Ingrid" in fetch(demo.address + shown)[1].decode()
    page.get_by_role("button", name="Without names").click()
    expect(page.get_by_text(re.compile("; without name and serials"))).to_be_visible()
    assert "Ingrid" not in fetch(demo.address + shown)[1].decode()
    kind, sheet = fetch(f"{demo.address}/papers/sheet?number={DEMO_JOB}&name=copies")
    assert "37.30 – 37.50" in PdfReader(io.BytesIO(sheet)).pages[0].extract_text()


def test_a_photo_is_marked_and_copied(page: Page, demo: Server, demo_shop: Path) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (800, 600), (90, 90, 90)).save(picture, "JPEG")
    page.goto(f"{demo.address}/job?number={DEMO_JOB}")
    ready(page)
    taken: FilePayload = {
        "name": "a.jpg",
        "mimeType": "image/jpeg",
        "buffer": picture.getvalue(),
    }
    page.get_by_label("Caption").fill("burnt path")
    page.get_by_label("Add photos").set_input_files([taken])
    expect(page.get_by_text("1 saved")).to_be_visible()
    with shop_file.open_shop(demo_shop) as opened:
        (kept,) = photos.photos_of(opened, DEMO_JOB)
        assert opened.attachment_data(kept.id) == picture.getvalue(), "kept as taken"
    page.get_by_role("link", name=re.compile("a.jpg")).click()
    ready(page)
    view = page.get_by_role("application")
    box = view.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 200)
    page.mouse.up()
    expect(page.get_by_text("Saved; the photo itself stays as it was taken")).to_be_visible()
    page.get_by_role("button", name="Ring").click()
    view.focus()
    for key in ("ArrowLeft", "Enter", "ArrowRight", "ArrowDown", "ArrowDown", "Enter"):
        page.keyboard.press(key)
    expect(page.get_by_text(re.compile("2 on this photo"))).to_be_visible()
    page.reload()
    ready(page)
    expect(page.get_by_text(re.compile("2 on this photo"))).to_be_visible()
    assert serious_violations(page) == []
    with shop_file.open_shop(demo_shop) as opened:
        drawn = photos.marked(opened.job(DEMO_JOB), kept)
    assert [m.kind for m in drawn.marks] == ["arrow", "ring"]
    kind, copy = fetch(f"{demo.address}/photo/copy?job={DEMO_JOB}&photo={kept.id}")
    assert kind == "image/jpeg"
    assert Image.open(io.BytesIO(copy)).getextrema() != ((90, 90),) * 3
