"""No page runs over: one port or forty-eight, long names, no photos or two hundred."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typst
from PIL import Image
from pypdf import PdfReader

from portwright.archive.archive import Archive
from portwright.model.bench import Bench, Calibration, Conditions, Metering
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement, SheetKind, SheetRow, Shop, Stage
from portwright.model.run import Reading, Run
from portwright.report.document import Document, Grid, Photos, texts
from portwright.report.pdf import render
from portwright.services.inspection import observe
from portwright.services.photos import keep_photo
from portwright.services.report import customer_report
from portwright.services.report_found import MOST_PHOTOS
from portwright.units import Kind, typed

JOB = "J-1"
LONG = "Wilhelmine Featherstonehaugh-Cholmondeley and the Unbelievably Long Name Racing Association"
UNBROKEN = "Zylinderkopfkanalbearbeitungswerkstattbetriebsgesellschaft"


def _sweep(code: str, port: str, stage: str, gain: float, rng: np.random.Generator) -> Run:
    readings = tuple(
        Reading(
            typed(lift, "mm", Kind.LENGTH),
            typed(
                gain * 130.0 * math.tanh(lift / 7.0) * math.exp(rng.normal(0.0, 0.003)),
                "cfm",
                Kind.FLOW,
            ),
        )
        for lift in (2.0, 4.0, 6.0, 8.0, 10.0, 12.0)
    )
    conditions = Conditions(bore_adapter="90 mm")
    return Run(
        code, JOB, port, stage, "B1", date="2026-01-02", conditions=conditions, readings=readings
    )


def _shop(path: Path, ports: int, *, long: bool) -> Archive:
    rng = np.random.default_rng(7)
    sides = [Side.INTAKE if n % 2 == 0 else Side.EXHAUST for n in range(ports)]
    codes = [f"{s.value[0].upper()}{n // 2 + 1}" for n, s in enumerate(sides)]
    runs = [_sweep("R0", codes[0], "S0", 1.0, rng)]
    runs += [_sweep(f"R{k + 1}", c, "S1", 1.1, rng) for k, c in enumerate(codes)]
    sizes = (("valve head diameter", 42.0), ("throat diameter", 37.4))
    measured = [
        Measurement(c, name, typed(value, "mm", Kind.LENGTH), stage="S1")
        for c in codes
        for name, value in sizes
    ]
    measured += [
        Measurement(f"cyl {n + 1}", "chamber volume", typed(40.0, "cc", Kind.VOLUME), stage="S1")
        for n in range((ports + 1) // 2)
    ]
    rows = [
        SheetRow(
            SheetKind.INSPECTION,
            {
                "cyl": c,
                "item": f"Seat {UNBROKEN if long else ''}",
                "verdict": "recut",
                "note": LONG,
            },
        )
        for c in codes
        if long
    ]
    name = LONG if long else "A. Person"
    archive = Archive.create(path)
    archive.save(
        ShopContents(
            shop=Shop(UNBROKEN if long else "Shop", town=LONG if long else "", length_unit="mm"),
            benches=(Bench("B1"),),
            calibrations=(
                Calibration(
                    "B1", 1, "2026-01-01", Metering.DIRECT, typed(28.0, "inH2O", Kind.PRESSURE)
                ),
            ),
            jobs=(
                JobContents(
                    Job(JOB, customer=name, vehicle=name if long else "coupe", goal=UNBROKEN),
                    ports=tuple(
                        Port(c, s, cylinder=n // 2 + 1)
                        for n, (c, s) in enumerate(zip(codes, sides, strict=True))
                    ),
                    stages=(Stage("S0"), Stage("S1", LONG if long else "bowls blended")),
                    measurements=tuple(measured),
                    rows=tuple(rows),
                    runs=tuple(runs),
                ),
            ),
        )
    )
    return archive


def _inside(document: Document, monkeypatch: pytest.MonkeyPatch) -> int:
    """Number of pages, nothing printed into the margins of any of them."""
    made: list[bytes] = []
    real = typst.Compiler

    class Drawn:
        """Draws the pages that would have been written."""

        def __init__(self, *sources: Any, **options: Any) -> None:
            self._real = real(*sources, **options)

        def compile(self, **_: object) -> bytes:
            pages = self._real.compile(format="png", ppi=50)
            made.extend([pages] if isinstance(pages, bytes) else pages or [])
            return made[0]

    with monkeypatch.context() as patched:
        patched.setattr(typst, "Compiler", Drawn)
        render(document)
    for page in made:
        dark = np.asarray(Image.open(io.BytesIO(page)).convert("L")) < 200
        assert dark.any(), "an empty page"
        margin = round(17.0 / 25.4 * 50)  # [px] of 18 mm
        assert not dark[:, :margin].any(), "into the left margin"
        assert not dark[:, -margin:].any(), "into the right margin"
        assert not dark[-8:].any(), "below the foot"
    return len(made)


@pytest.fixture
def many(tmp_path: Path) -> Iterator[Document]:
    with _shop(tmp_path / "many.shop", 48, long=True) as archive:
        yield customer_report(archive, JOB)


def test_forty_eight_ports_and_long_names_stay_on_the_page(
    many: Document, monkeypatch: pytest.MonkeyPatch
) -> None:
    pages = _inside(many, monkeypatch)
    assert pages <= 8  # 48 remarks of the inspection alone take two
    grid = next(b for s in many.sections if s.title.startswith("All ports") for b in s.blocks)
    assert isinstance(grid, Grid)
    assert len(grid.rows) == 48


def test_one_port_without_anything_else_is_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with _shop(tmp_path / "one.shop", 1, long=False) as archive:
        document = customer_report(archive, JOB)
    assert _inside(document, monkeypatch) <= 2
    titles = [s.title for s in document.sections]
    assert "What was found" not in titles
    assert "Photos" not in titles
    assert all(s.blocks for s in document.sections)
    assert sum("not checked yet" in text for text in texts(document)) == 7


def test_what_was_seen_in_the_app_is_found_apart_from_what_is_suspected(tmp_path: Path) -> None:
    with _shop(tmp_path / "seen.shop", 1, long=False) as archive:
        observe(archive, JOB, "cyl 1", "other", seen="one burnt path", suspicion="lash closed up")
        document = customer_report(archive, JOB)
    lines = [getattr(b, "lines", ()) for s in document.sections for b in s.blocks]
    at = lines.index(("Suspected, not proven:",))
    assert any("one burnt path" in line for line in lines[at - 1])
    assert lines[at + 1] == ("cyl 1: lash closed up",)


def test_two_hundred_photos_become_a_few(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with _shop(tmp_path / "photos.shop", 1, long=False) as archive:
        for n in range(200):
            out = io.BytesIO()
            Image.new("RGB", (40, 30), (n, 80, 255 - n)).save(out, "PNG")
            keep_photo(archive, JOB, out.getvalue(), f"{n}.png", stage=f"S{n % 2}")
        document = customer_report(archive, JOB)
    photos = next(b for s in document.sections for b in s.blocks if isinstance(b, Photos))
    assert len(photos.items) == MOST_PHOTOS
    assert any("194 more photos" in text for text in texts(document))
    assert _inside(document, monkeypatch) <= 3
    pages = PdfReader(io.BytesIO(render(document))).pages
    images = [image for page in pages for image in page.images]
    assert len(images) == MOST_PHOTOS
