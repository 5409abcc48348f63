"""A finished report as PDF."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from portwright.errors import ReportError
from portwright.report.figures import font_folder
from portwright.report.viewmodel import JobReport

STEP_HEADINGS = ("Stage", "What was done", "What it did")


def render(report: JobReport) -> bytes:
    """Set a report as PDF, entirely on this computer.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    data = dataclasses.asdict(report)
    data["labels"] = {**report.labels, "step_headings": list(STEP_HEADINGS)}
    return _set("report.typ", data)


def render_work_sheet(title: str, lead: str, parts: Sequence[tuple[str, Sequence[str]]]) -> bytes:
    """Set a sheet of headed lines for the workshop as PDF.

    Parameters
    ----------
    title, lead : str
        First line, and what it belongs to.
    parts : sequence of (heading, lines)

    Raises
    ------
    ReportError
        The page could not be set.
    """
    headed = [{"title": t, "lines": list(lines)} for t, lines in parts]
    return _set("work_sheet.typ", {"title": title, "lead": lead, "parts": headed})


def _set(template_name: str, data: dict[str, Any]) -> bytes:
    template = resources.files("portwright.report").joinpath("templates", template_name)
    try:
        with resources.as_file(template) as source:
            compiler = typst.Compiler(
                source,
                sys_inputs={"data": json.dumps(data)},
                font_paths=[font_folder()],
                ignore_system_fonts=True,
            )
            pdf = compiler.compile(format="pdf")
    except (RuntimeError, OSError) as error:
        raise ReportError(f"The report could not be set: {error}.") from error
    if not isinstance(pdf, bytes):
        raise ReportError("The report could not be set: no page came out.")
    return pdf


def write(report: JobReport, path: Path) -> None:
    """Write a report to a file; an older file is replaced only when the new one is complete.

    Raises
    ------
    ReportError
        The page could not be set or the file not written.
    """
    pdf = render(report)
    part = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(pdf)
        part.replace(path)
    except OSError as error:
        raise ReportError(
            f"The report {path} cannot be written.",
            "Choose a folder that may be written, and close the file if it is open.",
        ) from error
