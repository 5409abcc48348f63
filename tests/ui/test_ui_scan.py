"""A scan through the browser: unit asked, profile between two openings, kept with a port."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from portwright.core.mesh.mesh import Mesh
from portwright.services import shop_file
from portwright.ui.security import LARGEST_SCAN
from tests.geometry.shapes import bent_line, circle, tube
from tests.geometry.test_mesh_files import stl_binary
from tests.ui.conftest import Server, Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
JOB = "TH-26-041"
# Looks along the end of a mould from outside and touches it where it is seen.
_TOUCH = """(canvas, at) => {
  const view = getElement(Number(canvas.closest('.mesh-view').id.slice(1)));
  const out = at.map((v, k) => v - view.middle[k]);
  const n = Math.hypot(...out), [x, y, z] = out.map((v) => v / n);
  // turn that brings this direction towards the eye
  const w = 1 + z, s = Math.hypot(w, y, x);
  view.turn = [w / s, y / s, -x / s, 0];
  view.draw();
  const R = view.axes(), box = canvas.getBoundingClientRect(), wide = box.width / box.height;
  const near = view.zoom / view.size;
  const p = R.map((r) => r[0] * out[0] + r[1] * out[1] + r[2] * out[2]);
  const place = {
    clientX: box.left + box.width * (1 + p[0] * near * Math.min(1, 1 / wide)) / 2,
    clientY: box.top + box.height * (1 - p[1] * near * Math.min(1, wide)) / 2,
    pointerId: 1, isPrimary: true, bubbles: true,
  };
  canvas.setPointerCapture = () => {};
  canvas.dispatchEvent(new PointerEvent('pointerdown', place));
  canvas.dispatchEvent(new PointerEvent('pointerup', place));
}"""


@pytest.fixture(scope="module")
def demo(serve: Callable[..., Server], demo_shop: Path) -> Server:
    return serve(demo_shop)


@pytest.fixture
def page(open_tablet: Callable[..., Tablet]) -> Page:
    return open_tablet().page


def pipe(folder: Path) -> Path:
    """Open bent tube of 17.5 mm radius, in millimetres."""
    points, tangents = bent_line(50.0, 1.2, 20.0, 60)
    mesh: Mesh = tube(points, tangents, circle(17.5, 64), np.ones(60), caps=False)
    stl_binary(mesh, folder / "pipe.stl")
    return folder / "pipe.stl"


def test_a_scan_needs_its_unit_and_becomes_sections(
    demo: Server, demo_shop: Path, page: Page, tmp_path: Path
) -> None:
    page.goto(f"{demo.address}/scan?job={JOB}&port=I3&stage=S3")
    ready(page)
    page.get_by_label("Scan (STL").set_input_files(pipe(tmp_path))
    expect(page.get_by_text("Choose the unit of the file first.")).to_be_visible()
    page.get_by_label("Unit of the numbers").select_option("in")
    expect(page.get_by_text("Is the unit right?")).to_be_visible()
    page.get_by_label("Unit of the numbers").select_option("mm")
    expect(page.get_by_text("2 holes")).to_be_visible()
    page.get_by_role("button", name="Profile").click()
    expect(page.get_by_text("962 mm²").first).to_be_visible()  # pi 17.5^2
    assert serious_violations(page) == []
    page.get_by_role("button", name="Keep as sections of I3 at S3").click()
    expect(page.get_by_text("sections kept with I3 at S3")).to_be_visible()
    with shop_file.open_shop(demo_shop) as shop:
        kept = [
            m
            for m in shop.job(JOB).measurements
            if (m.subject, m.stage, m.quantity) == ("I3", "S3", "section area")
        ]
    assert len(kept) >= 40
    assert kept[10].value.si == pytest.approx(np.pi * 0.0175**2, rel=1e-3)
    page.get_by_role("link", name="To the port").click()
    expect(page.get_by_role("heading", name="I3 at S3")).to_be_visible()


def test_the_ends_of_a_closed_mould_are_touched_in_the_picture(
    demo: Server, page: Page, tmp_path: Path
) -> None:
    points, tangents = bent_line(50.0, 1.2, 20.0, 60)
    mould = tube(points, tangents, circle(17.5, 64), np.ones(60))
    stl_binary(mould, tmp_path / "mould.stl")
    page.goto(f"{demo.address}/scan")
    ready(page)
    page.get_by_label("Unit of the numbers").select_option("mm")
    page.get_by_label("Scan (STL").set_input_files(tmp_path / "mould.stl")
    page.get_by_role("button", name="Profile").click()
    expect(page.get_by_role("alertdialog")).to_contain_text("inlet was not chosen yet")
    page.get_by_role("button", name="OK").click()
    picture = page.get_by_role("img", name="Scan of")
    for end, at in (("inlet", points[0]), ("outlet", points[-1])):
        page.get_by_role("button", name=f"Touch the {end}").click()
        expect(page.get_by_text(f"see the {end}, then touch it")).to_be_visible()
        picture.evaluate(_TOUCH, [float(v) * 1e-3 for v in at])
        expect(page.get_by_text(f"{end.capitalize()} marked by a ring")).to_be_visible()
    page.get_by_role("button", name="Profile").click()
    expect(page.get_by_text("Tightest bend")).to_contain_text("short side")
    expect(page.get_by_role("button", name="To the smallest section")).to_be_visible()
    assert serious_violations(page) == []


def test_metal_taken_between_two_scans(demo: Server, page: Page, tmp_path: Path) -> None:
    points, tangents = bent_line(50.0, 1.2, 20.0, 60)
    stl_binary(tube(points, tangents, circle(17.5, 64), np.ones(60)), tmp_path / "before.stl")
    size = 1.0 + 0.05 * np.exp(-(((np.arange(60) - 30) / 5.0) ** 2))
    after = tube(points, tangents, circle(17.5, 64), size)
    turned = after.vertices @ np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]) + 40.0
    stl_binary(Mesh(turned, after.faces), tmp_path / "after.stl")
    page.goto(f"{demo.address}/scan")
    ready(page)
    page.get_by_label("Unit of the numbers").select_option("mm")
    page.get_by_label("Scan (STL").set_input_files(tmp_path / "before.stl")
    expect(page.get_by_role("heading", name="Metal taken since")).to_be_visible()
    page.get_by_label("Scan (STL").last.set_input_files(tmp_path / "after.stl")
    # 5 % of 17.5 mm
    expect(page.get_by_text("deepest 0.8")).to_be_visible()


def test_a_picture_is_no_scan(demo: Server, page: Page, tmp_path: Path) -> None:
    (tmp_path / "port.stl").write_bytes(b"\x89PNG not a mesh")
    page.goto(f"{demo.address}/scan")
    ready(page)
    page.get_by_label("Unit of the numbers").select_option("mm")
    page.get_by_label("Scan (STL").set_input_files(tmp_path / "port.stl")
    expect(page.get_by_role("alert")).to_contain_text("port.stl cannot be read as STL")


def test_a_scan_over_the_limit_is_refused_before_it_is_sent(
    demo: Server, page: Page, tmp_path: Path
) -> None:
    with (tmp_path / "all ports.stl").open("wb") as file:
        file.truncate(LARGEST_SCAN + 1)  # takes no room on the disk
    page.goto(f"{demo.address}/scan")
    ready(page)
    page.get_by_label("Scan (STL").set_input_files(tmp_path / "all ports.stl")
    said = page.locator(".say", has_text="all ports.stl was not sent")
    expect(said).to_contain_text("the limit is 200 MB")
