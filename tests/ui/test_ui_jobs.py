"""Finding a job, opening one, and what its page tells."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from portwright.services import shop_file
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser


def png(width: int, height: int) -> bytes:
    """A grey picture."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\x80" * width) * height)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(demo: Server, open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def test_every_one_of_these_since(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/jobs")
    ready(page)
    count = page.get_by_role("status").filter(has_text="job")
    expect(count).to_have_text("16 jobs")
    page.get_by_label("Since year").fill("2020")
    expect(count).to_have_text("7 jobs")
    page.get_by_label("Casting").fill("hm 6207 b")
    expect(count).to_have_text("1 job")
    expect(page.get_by_role("link", name="TH-26-041")).to_be_visible()
    page.get_by_label("Casting").fill("")
    page.get_by_label("Since year").fill("")
    page.get_by_label("Words").fill("land-speed")
    expect(count).to_have_text("2 jobs")
    page.get_by_label("Words").fill("")
    page.get_by_label("Customer").fill("solheim")
    expect(count).to_have_text("1 job")


def test_a_new_job_takes_few_fields(demo: Server, demo_shop: Path, page: Page) -> None:
    page.goto(demo.address + "/jobs/new")
    ready(page)
    number = page.get_by_label("Job number").input_value()
    assert number.startswith("TH-")
    page.get_by_label("Casting number").fill("HM-6207-B")
    page.get_by_label("Customer").fill("A. Customer (FICTIONAL)")
    page.get_by_label("Heads").select_option("2")
    page.get_by_label("Intake ports in all").fill("6")
    page.get_by_role("button", name="Open the job").click()
    expect(page.get_by_role("heading", name=f"Job {number}")).to_be_visible()
    with shop_file.open_shop(demo_shop) as shop:
        made = shop.job(number)
    assert [h.code for h in made.heads] == ["L", "R"]
    assert [p.code for p in made.ports if p.head == "R"] == ["I4", "I5", "I6", "E4", "E5", "E6"]
    assert [s.code for s in made.stages] == ["S0"]
    open_box = page.locator(".notice.fault", has_text="Not checked yet")
    expect(open_box).to_be_visible()
    expect(open_box.get_by_role("listitem")).to_have_count(7)


def test_a_taken_number_is_refused_with_advice(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/jobs/new")
    ready(page)
    page.get_by_label("Job number").fill("TH-26-041")
    page.get_by_role("button", name="Open the job").click()
    dialog = page.get_by_role("alertdialog")
    expect(dialog).to_contain_text("There is already a job TH-26-041.")
    expect(dialog).to_contain_text("Choose another name")
    page.keyboard.press("Enter")
    expect(dialog).to_be_hidden()


def test_uneven_ports_are_refused(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/jobs/new")
    ready(page)
    page.get_by_label("Heads").select_option("4")
    page.get_by_label("Intake ports in all").fill("6")
    page.get_by_role("button", name="Open the job").click()
    expect(page.get_by_role("alertdialog")).to_contain_text("do not go evenly")


def test_the_job_page_tells_the_work(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/job?number=TH-26-041")
    ready(page)
    steps = page.locator("ol.timeline > li")
    assert steps.count() >= 8
    expect(steps.nth(2)).to_contain_text("Throat opened 36.0")
    steps.nth(7).get_by_text("Measured:").click()
    throat = steps.nth(7).get_by_role("row", name="throat diameter").first
    expect(throat).to_contain_text("I1 to I6")
    expect(throat).to_contain_text("36.01 mm")  # before
    expect(throat).to_contain_text("37.41 mm")  # at this stage
    findings = page.locator("section", has=page.get_by_role("heading", name="Findings"))
    expect(findings.get_by_text("as if the valve was open 0.25 mm")).to_be_visible()
    # as on the page of springs and clearances: a reading without a day does not count as a check
    expect(page.get_by_text("Not checked yet: on record without date")).to_be_visible()
    expect(page.get_by_text("to be judged by the assembler")).to_be_visible()


def test_a_stage_is_added(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/job?number=TH-24-012")
    ready(page)
    page.get_by_label("What was done").fill("bowl blended")
    page.get_by_role("button", name="Add the stage").click()
    expect(page.locator("ol.timeline")).to_contain_text("bowl blended")


def test_a_photo_is_kept_and_shown(demo: Server, page: Page, tmp_path: Path) -> None:
    picture = tmp_path / "face.png"
    picture.write_bytes(png(3000, 1000))
    page.goto(demo.address + "/job?number=TH-26-041")
    ready(page)
    page.get_by_label("Shows").select_option("I1")
    page.get_by_label("Add photos").set_input_files(picture)
    shown = page.get_by_role("img", name="I1 S7: face.png")
    expect(shown).to_be_visible()
    page.wait_for_function("document.querySelector('.pictures img').naturalWidth === 360")


def test_a_file_that_is_no_picture_is_refused(demo: Server, page: Page, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.png"
    sheet.write_text("lift,flow\n", encoding="utf-8")
    page.goto(demo.address + "/job?number=TH-26-041")
    ready(page)
    page.get_by_label("Add photos").set_input_files(sheet)
    expect(page.get_by_text("was not saved: it is not a picture")).to_be_visible()


def test_the_result_can_be_read_and_saved(demo: Server, page: Page, tmp_path: Path) -> None:
    page.goto(demo.address + "/job?number=TH-26-041")
    ready(page)
    result = page.locator("section", has=page.get_by_role("heading", name="Result"))
    plot = result.locator(".plot")
    expect(plot).to_be_visible()
    expect(plot).to_have_attribute("aria-label", re.compile("real gain"))
    expect(plot).to_contain_text("valve lift [mm]")
    expect(plot).to_contain_text("[cfm]")
    plot.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    readout = result.locator(".readout")
    expect(readout).to_have_attribute("aria-live", "polite")  # stepped through by key: read out
    expect(readout).to_have_text(re.compile(r"^2\.0 mm: S0 \d+\.\d, S7.* \d+\.\d ± \d\.\d cfm$"))
    curves = plot.locator("path[stroke-width='2.6']")
    expect(curves).to_have_count(2)
    result.get_by_role("button", name="S0", exact=True).click()
    expect(curves).to_have_count(1)
    page.get_by_role("button", name="L/s").click()
    expect(plot).to_contain_text("[L/s]")
    with page.expect_download() as svg:
        result.get_by_role("button", name="Save SVG").click()
    kept = tmp_path / "curve.svg"
    svg.value.save_as(kept)
    text = kept.read_text(encoding="utf-8")
    assert text.startswith("<svg")
    assert "[L/s]" in text
    assert "bore adapter" in text  # the conditions travel with the curve
    with page.expect_download() as picture:
        result.get_by_role("button", name="Save PNG").click()
    kept = tmp_path / "curve.png"
    picture.value.save_as(kept)
    width, height = struct.unpack(">II", kept.read_bytes()[16:24])
    assert (width, height) == (2126, 1418)  # 180 x 120 mm at 300 dots per inch


def test_the_job_sheet_is_written_later_and_not_over_someone_else(
    demo: Server, open_tablet: Callable[..., Tablet]
) -> None:
    first, second = open_tablet().page, open_tablet().page
    for page in (first, second):
        page.goto(demo.address + "/job/sheet?number=TH-25-030")
        ready(page)
    assert serious_violations(first) == []
    first.get_by_label("Customer").fill("B. Owner (FICTIONAL)")
    first.get_by_role("button", name="Save", exact=True).click()
    expect(first.get_by_text("B. Owner (FICTIONAL)")).to_be_visible()
    second.get_by_label("Customer").fill("C. Other (FICTIONAL)")
    second.get_by_role("button", name="Save", exact=True).click()
    expect(second.get_by_role("alertdialog")).to_contain_text("changed by someone else")
    second.reload()
    ready(second)
    expect(second.get_by_label("Customer")).to_have_value("B. Owner (FICTIONAL)")


def test_ports_and_notes_are_added(demo: Server, page: Page) -> None:
    page.goto(demo.address + "/job/sheet?number=TH-23-027")
    ready(page)
    page.get_by_role("textbox", name="Port", exact=True).fill("I1")
    page.get_by_role("button", name="Add the port").click()
    expect(page.get_by_text("I1", exact=True)).to_be_visible()
    page.get_by_label("New note").fill("short side is thin")
    page.get_by_role("button", name="Add the note").click()
    expect(page.get_by_text("short side is thin")).to_be_visible()
