"""Sheets to sign and labels: measured values with their tolerances, codes that lead home."""

from __future__ import annotations

import io
import json
import re
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
import segno
import typst
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from portwright.archive.archive import Archive
from portwright.errors import InputError, UnknownNameError
from portwright.report.document import Boxed, Grid, Ticks, texts
from portwright.report.figures import font_folder
from portwright.services import labels, sign_off
from portwright.services.demo import DEMO_JOB
from portwright.services.labels import labels_of, labels_pdf, qr_svg
from portwright.services.shop_figures import set_any_text
from portwright.services.sign_off import sheet_document, sheet_pdf, tolerances_of
from portwright.ui import links

BASE = "http://192.168.1.20:8080"


def test_copies_lie_between_pattern_less_and_plus_tolerance(demo_archive: Archive) -> None:
    document = sheet_document(demo_archive, DEMO_JOB, "copies", length="mm")
    grid = next(b for s in document.sections for b in s.blocks if isinstance(b, Grid))
    rows = {row[0]: row[1:3] for row in grid.rows}
    assert rows["throat diameter, mm"] == ("37.40 ± 0.10*", "37.30 – 37.50")
    assert rows["port volume, cc"] == ("124.8 ± 1.0*", "123.8 – 125.8")
    assert rows["seat angle, °"] == ("45.00 ± 0.25*", "44.75 – 45.25")
    assert grid.headings[3:] == ("I2", "I3", "I4", "I5", "I6")
    stops = next(b for s in document.sections for b in s.blocks if isinstance(b, Boxed))
    assert any("cyl 5" in line and "2.50 mm" in line for line in stops.lines)


def test_another_port_and_the_shops_own_tolerance(demo_path: Path) -> None:
    with Archive.open(demo_path) as shop:
        set_any_text(shop, "throat diameter of copies", "0,05 mm")
        assert tolerances_of(shop)["throat diameter"].text == "0,05 mm"
        document = sheet_document(shop, DEMO_JOB, "copies", port="E1", length="mm")
        said = list(texts(document))
        assert "31.14 – 31.24" in said
        assert "31.19 ± 0.05" in said, "the shop's own has no mark"
        with pytest.raises(UnknownNameError):
            sheet_document(shop, DEMO_JOB, "copies", port="I99")


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", list(sign_off.SheetName))
def test_sheets_are_set_without_serials(demo_archive: Archive, name: str, language: str) -> None:
    pdf = sheet_pdf(demo_archive, DEMO_JOB, name, language=language)
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert "HM-6207-B" in text, "the casting number is not private"
    assert "HM-L-1183" not in text
    assert "Ingrid" not in text


def test_the_limits_say_what_must_not_be_touched(demo_archive: Archive) -> None:
    said = list(texts(sheet_document(demo_archive, DEMO_JOB, "limits")))
    assert any("cyl 5, pinch" in line and "do not touch" in line for line in said)
    assert any("0.83 mm" in line for line in said)
    assert any("welded once" in line for line in said)


def test_delivery_is_a_list_to_tick(demo_archive: Archive) -> None:
    document = sheet_document(demo_archive, DEMO_JOB, "delivery")
    ticks = next(b for s in document.sections for b in s.blocks if isinstance(b, Ticks))
    assert len(ticks.lines) == 11


def test_each_casting_has_its_label(demo_archive: Archive) -> None:
    left, right = labels_of(demo_archive, DEMO_JOB, BASE + "/")
    assert left.address == f"{BASE}/job?number={DEMO_JOB}&head=L"
    assert right.title == f"{DEMO_JOB} · R"
    pages = PdfReader(io.BytesIO(labels_pdf(demo_archive, DEMO_JOB, BASE))).pages
    assert len(pages) == 2
    size = [
        round(float(v) * 25.4 / 72) for v in (pages[0].mediabox.width, pages[0].mediabox.height)
    ]
    assert size == [62, 29]
    assert re.search(r"TH-26-041\s*· L", pages[0].extract_text())
    assert "1183" not in pages[0].extract_text()
    one = PdfReader(io.BytesIO(labels_pdf(demo_archive, DEMO_JOB, BASE, sheet=True))).pages
    assert len(one) == 1


def test_the_code_holds_the_address_and_bears_dirt() -> None:
    address = f"{BASE}/job?number={DEMO_JOB}&head=L"
    code = segno.make_qr(address, error="q")
    assert code.error == "Q"
    assert f'width="{code.symbol_size(border=1)[0]}"' in qr_svg(address)


@pytest.mark.parametrize("base", ["", "192.168.1.20", "http://", "ftp://a"])
def test_an_address_that_is_none_is_refused(demo_archive: Archive, base: str) -> None:
    with pytest.raises(InputError, match="address"):
        labels_of(demo_archive, DEMO_JOB, base)


def test_a_label_that_cannot_be_set_is_refused(demo_archive: Archive) -> None:
    with pytest.raises(InputError, match="cannot be set"):
        labels_pdf(demo_archive, DEMO_JOB, BASE, size=(10.0, 10.0))


@pytest.mark.parametrize("size", [(62.0, 29.0), (40.0, 20.0)])
def test_a_reader_finds_the_castings_own_page_on_the_printed_label(
    demo_archive: Archive, monkeypatch: pytest.MonkeyPatch, size: tuple[float, float]
) -> None:
    made: list[dict[str, Any]] = []
    monkeypatch.setattr(labels, "set_labels", made.append)
    base = "http://head-works.local:8080"
    labels_pdf(demo_archive, DEMO_JOB, base, size=size)
    template = resources.files("portwright.report").joinpath("templates", "labels.typ")
    compiler = typst.Compiler(
        Path(str(template)),
        sys_inputs={"data": json.dumps(made[0])},
        font_paths=[font_folder()],
        ignore_system_fonts=True,
    )
    pictures: Any = compiler.compile(format="png", ppi=203)  # as a common label printer sets it
    addresses = [label.address for label in labels_of(demo_archive, DEMO_JOB, base)]
    assert len(addresses) == 2
    for picture, address in zip(pictures, addresses, strict=True):
        (read,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)))
        assert read.text == address
        said = urlsplit(read.text)
        assert said.path == links.JOB
        assert parse_qs(said.query)["number"] == [DEMO_JOB]
