"""The customer's pages say what the results say, on two pages."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PageObject, PdfReader

from portwright.archive.archive import Archive
from portwright.errors import InputError, ReportError
from portwright.report.viewmodel import JobReport
from portwright.services.demo import DEMO_JOB
from portwright.services.report import job_report, report_bytes, write_report


def text_of(pdf: bytes) -> str:
    """Text of all pages, white space folded."""
    pages = PdfReader(io.BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def _text_starts(page: PageObject) -> list[float]:
    """Where each piece of text begins, from the left edge of the page."""
    places: list[float] = []

    def visit(text: str, _cm: object, tm: list[float], _font: object, _size: object) -> None:
        if text.strip():
            places.append(tm[4])

    page.extract_text(visitor_text=visit)
    return places


@pytest.fixture(scope="module")
def report(demo_archive: Archive) -> JobReport:
    return job_report(demo_archive, DEMO_JOB)


@pytest.fixture(scope="module")
def pdf(demo_archive: Archive) -> bytes:
    return report_bytes(demo_archive, DEMO_JOB)


def test_the_demo_job_takes_two_pages(pdf: bytes) -> None:
    assert len(PdfReader(io.BytesIO(pdf)).pages) == 2


def test_every_figure_of_the_table_is_printed_as_computed(report: JobReport, pdf: bytes) -> None:
    text = text_of(pdf)
    for row in report.table.rows:
        line = f"{row.lift} {row.before} {row.after} {row.gain} {row.verdict}"
        assert line in text


def test_conditions_stand_under_the_table(report: JobReport, pdf: bytes) -> None:
    text = text_of(pdf)
    for condition in report.table.conditions:
        assert condition in text


def test_every_step_and_caution_is_printed(report: JobReport, pdf: bytes) -> None:
    text = text_of(pdf)
    for said in (*report.summary, *report.cautions, *(s.verdict for s in report.steps)):
        assert re.sub(r"\s+", " ", said) in text


def test_charts_are_vectors_with_text(pdf: bytes) -> None:
    reader = PdfReader(io.BytesIO(pdf))
    assert not [image for page in reader.pages for image in page.images]
    assert "valve lift [mm]" in text_of(pdf)


def test_inches_change_what_is_shown_and_nothing_else(
    demo_archive: Archive, report: JobReport
) -> None:
    inch = job_report(demo_archive, DEMO_JOB, length="in")
    assert inch.table.lift_heading == "Lift, in"
    assert [r.gain for r in inch.table.rows] == [r.gain for r in report.table.rows]
    assert [r.after for r in inch.table.rows] == [r.after for r in report.table.rows]


def test_a_long_name_does_not_leave_the_page(report: JobReport) -> None:
    from portwright.report.pdf import render

    long = "Worshipful Company of Very Long Cylinder Head Names and Sons " * 3
    pdf = render(replace(report, shop=long, title=f"{report.title} {long}"))
    for page in PdfReader(io.BytesIO(pdf)).pages:
        width = float(page.mediabox.width)
        places = _text_starts(page)
        assert places
        assert max(places) < width


def test_a_job_without_a_before_and_after_says_so(demo_archive: Archive, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one stage only"):
        write_report(demo_archive, "TH-14-019", tmp_path / "out.pdf")
    with pytest.raises(InputError, match="not a length unit"):
        write_report(demo_archive, DEMO_JOB, tmp_path / "out.pdf", length="furlong")


def test_a_report_that_cannot_be_written_leaves_the_old_one(
    demo_archive: Archive, tmp_path: Path
) -> None:
    blocked = tmp_path / "folder.pdf"
    blocked.mkdir()
    with pytest.raises(ReportError, match="cannot be written"):
        write_report(demo_archive, DEMO_JOB, blocked)
    assert blocked.is_dir()
