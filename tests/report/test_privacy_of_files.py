"""Nothing that leaves the shop carries place, name or serial number unless it was released.

Looked for in the bytes of the files themselves, and in what can be unpacked from them.
"""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from portwright.archive.archive import Archive
from portwright.model.contents import JobContents
from portwright.model.head import Head
from portwright.model.job import Job, Shop, Stage
from portwright.report import share as pictures
from portwright.report.document import Document, Lines, Photo, Photos, Section
from portwright.report.pdf import render
from portwright.services import photos
from portwright.services.demo import DEMO_JOB
from portwright.services.privacy import hide, private_texts, without_names
from portwright.services.share import share_picture

NAME, SERIAL, PLACE = "Quentin Zweigelt", "SN-77-ABLE", "Secret Lane"
CONTENTS = JobContents(
    Job("J-9", customer=f"{NAME} (invented)", vehicle="coupe", facts={"serials": f"Left {SERIAL}"}),
    heads=(Head("L", serial=SERIAL),),
    stages=(Stage("S0"),),
)


def photo_with_secrets() -> bytes:
    """A JPEG as a phone writes it: GPS, owner, remark, thumbnail text."""
    rng = np.random.default_rng(5)
    picture = Image.fromarray(rng.integers(0, 255, (300, 400, 3), dtype=np.uint8))
    exif = Image.Exif()
    exif[0x010E] = f"{NAME} {SERIAL}"  # description
    exif[0x013B] = NAME  # artist
    exif[0x0112] = 6  # lies on its side
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (51.0, 30.0, 26.46), "W", (0.0, 7.0, 39.93)
    out = io.BytesIO()
    xmp = f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{PLACE} {NAME}</x:xmpmeta>".encode()
    picture.save(out, "JPEG", exif=exif, comment=f"{PLACE} {SERIAL}".encode(), xmp=xmp)
    return out.getvalue()


SECRETS = [NAME, "Quentin", "Zweigelt", SERIAL, PLACE, "Exif", "GPS", "xmpmeta"]


def unpacked(data: bytes) -> Iterator[bytes]:
    """The bytes, and every stream in them that can be inflated."""
    yield data
    for found in re.finditer(rb"stream\r?\n", data):
        try:
            yield zlib.decompressobj().decompress(data[found.end() :])
        except zlib.error:
            continue


def assert_clean(data: bytes, secrets: list[str]) -> None:
    for part in unpacked(data):
        for secret in secrets:
            for encoding in ("utf-8", "utf-16-be", "utf-16-le"):
                assert secret.encode(encoding) not in part, secret


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Archive]:
    with Archive.create(tmp_path / "a.shop") as archive:
        archive.save_shop(Shop("Shop (invented)"))
        archive.add_job(CONTENTS.job)
        yield archive


def test_a_photo_is_kept_as_taken_and_given_away_clean(shop: Archive, tmp_path: Path) -> None:
    taken = photo_with_secrets()
    assert all(s.encode() in taken for s in [NAME, SERIAL, PLACE, "Exif"]), "the test has teeth"
    number = photos.keep_photo(shop, "J-9", taken, "IMG.jpg", subject="", stage="S0")
    assert shop.attachment_data(number) == taken
    kept = photos.photo_of(shop, "J-9", number)
    marks = photos.read_marks(
        [
            {"kind": "arrow", "x": 0.1, "y": 0.1, "x2": 0.5, "y2": 0.5},
            {"kind": "ring", "x": 0.4, "y": 0.4, "x2": 0.7, "y2": 0.7},
            {"kind": "words", "x": 0.1, "y": 0.8, "x2": 0.1, "y2": 0.8, "words": "burnt path"},
        ]
    )
    plain = photos.shared_jpeg(shop, "J-9", kept)
    photos.keep_marks(shop, "J-9", kept, marks, "burnt")
    assert photos.marked(shop.job("J-9"), kept).marks == marks
    drawn = photos.shared_jpeg(shop, "J-9", kept)
    assert shop.attachment_data(number) == taken
    for copy in (plain, drawn, photos.thumbnail(shop, number)):
        assert_clean(copy, SECRETS)
        opened = Image.open(io.BytesIO(copy))
        assert not opened.getexif()
        assert opened.size[1] > opened.size[0], "turned upright before the tag was dropped"
    apart = np.abs(np.asarray(Image.open(io.BytesIO(plain)), int) - Image.open(io.BytesIO(drawn)))
    height, width, _ = apart.shape
    ring = apart[int(0.38 * height) : int(0.72 * height), int(0.38 * width) : int(0.72 * width)]
    assert ring.max() > 100
    assert apart[: height // 20].max() < 60, "no mark near the upper edge"
    (written,) = photos.export_photos(shop, "J-9", tmp_path / "out")
    assert_clean(written.read_bytes(), SECRETS)


def test_a_report_with_photos_is_clean(shop: Archive) -> None:
    number = photos.keep_photo(shop, "J-9", photo_with_secrets(), f"{NAME}.jpg")
    jpeg = photos.shared_jpeg(shop, "J-9", photos.photo_of(shop, "J-9", number), 400)
    said = Lines((f"The head of {NAME.upper()}, serial {SERIAL}, is done.",))
    document = Document(
        "Report", "Shop", "", (), (Section("S", (said, Photos((Photo(jpeg, NAME),)))),)
    )
    pdf = render(without_names(document, CONTENTS))
    assert_clean(pdf, [s for s in SECRETS if s != "xmpmeta"])  # a PDF describes itself in XMP
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "is done" in text
    for secret in ("quentin", "zweigelt", "sn-77"):
        assert secret not in text.lower()


def test_pictures_and_clips_are_clean(
    demo_archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    contents = demo_archive.job(DEMO_JOB)
    secrets = [*private_texts(contents, demo_archive.shop())]
    assert len(secrets) >= 5
    picture = share_picture(demo_archive, DEMO_JOB)
    shown = f"{picture.headline} {picture.under} {picture.conditions} {picture.named}"
    assert not any(s.lower() in shown.lower() for s in secrets)
    assert "28 inH2O" in picture.conditions
    still = pictures.still_png(picture, "square")
    assert_clean(still, secrets)
    assert not any(kind in still for kind in (b"tEXt", b"iTXt", b"eXIf", b"zTXt"))
    monkeypatch.setattr(pictures, "_DRAWN", 0.2)
    monkeypatch.setattr(pictures, "_HELD", 0.1)
    clip = pictures.clip_mp4(picture)
    assert clip[4:8] == b"ftyp"
    assert_clean(clip, secrets)
    assert b"\xa9xyz" not in clip  # where players look for a place
    assert b"creation_time" not in clip


def test_released_names_are_shown(demo_archive: Archive) -> None:
    from portwright.services.report import ReportChoices

    picture = share_picture(demo_archive, DEMO_JOB, ReportChoices(names=True))
    assert "HM-L-1183" in picture.named
    assert "Ingrid" in picture.named


@pytest.mark.parametrize(
    ("text", "hidden"),
    [
        (f"for {NAME}", "for ···"),
        ("for mr zweigelt's coupe", "for mr ···'s coupe"),
        ("Zweigeltrebe", "Zweigeltrebe"),
        (f"({SERIAL})", "(···)"),
        ("coupe", "coupe"),
    ],
)
def test_what_is_private_is_blanked_and_nothing_else(text: str, hidden: str) -> None:
    assert hide(text, private_texts(CONTENTS)) == hidden
