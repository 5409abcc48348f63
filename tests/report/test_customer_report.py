"""The customer's pages say what the results say, as paper and as page, in any unit and language."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from pypdf import PageObject, PdfReader

from portwright.archive.archive import Archive
from portwright.catalogue import words
from portwright.errors import Finding, InputError, ReportError, Severity, UnknownNameError
from portwright.report.document import Document, Drawings, Grid, Section, texts
from portwright.report.page import document_html, page_file
from portwright.report.pdf import render, write_bytes
from portwright.services.compare import compare_names
from portwright.services.demo import DEMO_JOB
from portwright.services.display import Display
from portwright.services.privacy import without_names
from portwright.services.report import ReportChoices, customer_report, write_report
from portwright.services.report_flow import conditions
from portwright.services.report_said import Said
from portwright.services.wording import percent

INCH = ReportChoices(length="in")
GERMAN = ReportChoices(language="de")


def text_of(pdf: bytes) -> str:
    """Text of all pages without white space and hyphens: lines break anywhere on paper."""
    pages = PdfReader(io.BytesIO(pdf)).pages
    return folded(" ".join(page.extract_text() for page in pages))


def folded(text: str) -> str:
    return re.sub(r"[\s\u00ad‐-]+", "", text)


@pytest.fixture(scope="module")
def released(demo_archive: Archive) -> Document:
    return customer_report(demo_archive, DEMO_JOB, ReportChoices(names=True))


@pytest.fixture(scope="module")
def report(demo_archive: Archive, released: Document) -> Document:
    """As made without asking for names: the same steps, the slow ones done once."""
    return without_names(released, demo_archive.job(DEMO_JOB), demo_archive.shop())


@pytest.fixture(scope="module")
def pdf(report: Document) -> bytes:
    return render(report)


def part(document: Document, title: str) -> Section:
    return next(s for s in document.sections if s.title == title)


def grid_of(section: Section) -> Grid:
    return next(b for b in section.blocks if isinstance(b, Grid))


def test_every_text_of_the_document_is_on_paper(report: Document, pdf: bytes) -> None:
    printed = text_of(pdf)
    for text in texts(report):
        assert folded(text) in printed, text


def test_every_text_of_the_document_is_on_the_page(report: Document) -> None:
    from html import unescape

    shown = unescape(document_html(report))
    for text in texts(report):
        assert text in shown


def test_the_table_says_what_the_comparison_says(demo_archive: Archive, report: Document) -> None:
    result = compare_names(demo_archive, "I1:S0", "I1:S7", job=DEMO_JOB)
    rows = grid_of(part(report, "Before and after")).rows
    assert len(rows) == len(result.result.lifts)
    for row, lift in zip(rows, result.result.lifts, strict=True):
        after = Display().flow_text(result.flow(lift.gain.after))
        assert row[2:] == (after, percent(lift.gain), lift.gain.verdict.value)


def test_the_demo_job_takes_two_to_four_pages(pdf: bytes) -> None:
    assert 2 <= len(PdfReader(io.BytesIO(pdf)).pages) <= 4


def test_seen_and_suspected_stand_apart(report: Document) -> None:
    blocks = part(report, "What was found").blocks
    said = [getattr(b, "lines", ()) for b in blocks]
    at = next(k for k, lines in enumerate(said) if lines[:1] == ("Suspected, not proven:",))
    assert [line.partition(":")[0] for line in said[at + 1]] == [
        "cyl 5, Exhaust seat condition",
        "cyl 6, Exhaust seat condition",
    ]
    assert not any("suspected" in line for lines in said[:at] for line in lines)


def test_charts_are_vectors_with_text(report: Document, pdf: bytes) -> None:
    assert not [image for page in PdfReader(io.BytesIO(pdf)).pages for image in page.images]
    assert folded("valve lift [mm]") in text_of(pdf)
    drawings = next(b for b in part(report, "Before and after").blocks if isinstance(b, Drawings))
    assert len(drawings.items) == 2


def test_inches_change_what_is_shown_and_nothing_else(
    demo_archive: Archive, report: Document
) -> None:
    inch = customer_report(demo_archive, DEMO_JOB, INCH)
    metric_rows = grid_of(part(report, "Before and after")).rows
    inch_grid = grid_of(part(inch, "Before and after"))
    assert inch_grid.headings[0] == "Lift, in"
    assert [r[1:] for r in inch_grid.rows] == [r[1:] for r in metric_rows]
    assert inch_grid.rows[-1][0] == "0.472"


def test_another_language_has_the_same_numbers(demo_archive: Archive, report: Document) -> None:
    german = customer_report(demo_archive, DEMO_JOB, GERMAN)
    assert not any("Ingrid" in text for text in texts(german)), "names not asked for"
    assert german.language == "de"
    rows = grid_of(part(german, "Vorher und nachher")).rows
    english = grid_of(part(report, "Before and after")).rows
    assert [[c.replace(",", ".") for c in r[:4]] for r in rows] == [list(r[:4]) for r in english]
    assert {r[4] for r in rows} <= {words("de")(f"verdict.{v}") for v in ("real", "probably")}
    printed = text_of(render(german))
    assert folded("In einfachen Worten") in printed
    assert folded("Messreihe R107: die Hubuhr stand nicht auf null") in printed
    assert "In short" not in " ".join(texts(german))


def test_names_and_serials_are_there_only_when_released(
    demo_archive: Archive, released: Document, pdf: bytes
) -> None:
    contents = demo_archive.job(DEMO_JOB)
    everything = text_of(render(released))
    for secret in ["Ingrid", "Solheim", "Adeyemi", *(h.serial for h in contents.heads)]:
        assert folded(secret) in everything
        assert folded(secret) not in text_of(pdf)
        assert secret.encode() not in pdf


def _text_starts(page: PageObject) -> Iterator[float]:
    places: list[float] = []

    def visit(text: str, _cm: object, tm: list[float], _font: object, _size: object) -> None:
        if text.strip():
            places.append(tm[4])

    page.extract_text(visitor_text=visit)
    yield from places


def test_long_names_do_not_leave_the_page(report: Document) -> None:
    long = "Worshipful Company of Very Long Cylinder Head Names and Sons " * 3
    unbroken = "Kurbelgehaeuseentlueftungsventil" * 4
    pdf = render(replace(report, shop=long, title=f"{report.title} {long}", shop_line=unbroken))
    for page in PdfReader(io.BytesIO(pdf)).pages:
        assert max(_text_starts(page)) < float(page.mediabox.width)


def test_what_cannot_be_reported_says_so(demo_archive: Archive, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one stage only"):
        write_report(demo_archive, "TH-14-019", tmp_path / "out.pdf")
    with pytest.raises(InputError, match="not a length unit"):
        write_report(demo_archive, DEMO_JOB, tmp_path / "out.pdf", ReportChoices(length="furlong"))
    with pytest.raises(UnknownNameError, match="language"):
        write_report(demo_archive, DEMO_JOB, tmp_path / "out.pdf", ReportChoices(language="xx"))


def test_a_report_that_cannot_be_written_leaves_the_old_one(tmp_path: Path) -> None:
    blocked = tmp_path / "folder.pdf"
    blocked.mkdir()
    with pytest.raises(ReportError, match="cannot be written"):
        write_bytes(b"new", blocked)
    assert blocked.is_dir()
    assert not list(tmp_path.glob("*.part"))


def test_a_page_file_stands_alone(report: Document) -> None:
    page = page_file(report)
    assert "In plain words" in page
    assert not re.search(r'(?:src|href)="(?!data:)', page)


def test_what_differed_is_said_in_the_language_of_the_report() -> None:
    def group(run: str, **conditions: str) -> SimpleNamespace:
        return SimpleNamespace(
            runs=(run,), conditions={k.replace("_", " "): v for k, v in conditions.items()}
        )

    comparison = SimpleNamespace(
        before=group("R1", bench="B1", bore_adapter="90 mm", exhaust_stub="none"),
        after=group("R2", bench="B2", bore_adapter="93 mm", direction="forward"),
        findings=(Finding("pressure-moved", Severity.NOTE, "Readings were moved."),),
    )
    said = Said(words("de"), Display())
    asked: Any = SimpleNamespace(said=said, whole=SimpleNamespace(comparison=comparison))
    line = conditions(asked)
    assert "Zylinderadapter vorher „90 mm“, nachher „93 mm“" in line
    assert "Auslassstutzen vorher „keine“, nachher nicht notiert" in line
    assert "Richtung vorwärts" in line
    assert "umgerechnet" in line
    assert not re.search(r"\b(before|after|differs|moved|none|forward)\b", line)
