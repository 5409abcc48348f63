"""XLSX sheets to rows of text."""

from __future__ import annotations

import datetime
import io
import warnings
import zipfile
import zlib
from itertools import zip_longest
from typing import Any
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.utils.exceptions import InvalidFileException

from portwright.errors import Finding, ImportFileError, Severity, UnknownNameError
from portwright.io.limits import MAX_COLUMNS, check_archive, refuse_if_long


def read_workbook(
    content: bytes, name: str, sheet: str, *, max_unpacked: int, max_rows: int
) -> tuple[list[tuple[str, ...]], str, tuple[Finding, ...]]:
    """Rows of one sheet as text, the sheet's name, and findings.

    Raises
    ------
    ImportFileError
        Not a workbook, or too large.
    UnknownNameError
        No sheet of that name.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            check_archive(archive, name, max_unpacked)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # styles and drawings do not matter here
            values = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            formulas = load_workbook(io.BytesIO(content), read_only=True, data_only=False)
            chosen = sheet or values.sheetnames[0]
            if chosen not in values.sheetnames:
                raise UnknownNameError("sheet", chosen, values.sheetnames)
            rows, uncached = _rows(values[chosen], formulas[chosen], name, max_rows)
    except (
        zipfile.BadZipFile,
        InvalidFileException,
        ParseError,
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        IndexError,
        EOFError,
        OSError,
        RuntimeError,  # packed in a way that cannot be read here, or with a password
        zlib.error,
    ) as error:
        if isinstance(error, UnknownNameError):
            raise
        raise ImportFileError(
            f"{name} is not a readable XLSX workbook.",
            "Open it in a spreadsheet program and save it again as XLSX, or as CSV.",
        ) from error
    return rows, chosen, _uncached_findings(uncached, chosen)


def _rows(
    values: Any, formulas: Any, name: str, max_rows: int
) -> tuple[list[tuple[str, ...]], list[str]]:
    rows: list[tuple[str, ...]] = []
    uncached: list[str] = []
    pairs = zip_longest(
        values.iter_rows(max_col=MAX_COLUMNS + 1),
        formulas.iter_rows(max_col=MAX_COLUMNS + 1, values_only=True),
        fillvalue=(),
    )
    for number, (cells, sources) in enumerate(pairs, start=1):
        texts = tuple(_text(cell.value, getattr(cell, "number_format", "")) for cell in cells)
        rows.append(texts)
        uncached += [
            f"{get_column_letter(column)}{number}"
            for column, (text, source) in enumerate(zip(texts, sources, strict=False), start=1)
            if not text and isinstance(source, str) and source.startswith("=")
        ]
        refuse_if_long(len(rows), max_rows, name)
    return rows, uncached


def _text(value: object, number_format: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        # 12 digits hold every reading and drop the noise of binary fractions
        percent = "%" in number_format
        return f"{value * 100.0:.12g}%" if percent else f"{value:.12g}"
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return _time_text(value)
    return str(value).strip()


def _time_text(value: datetime.datetime | datetime.date | datetime.time) -> str:
    if isinstance(value, datetime.datetime):
        midnight = value.time() == datetime.time()
        return value.date().isoformat() if midnight else value.isoformat(sep=" ")
    if isinstance(value, datetime.time):
        return value.isoformat(timespec="minutes")
    return value.isoformat()


def _uncached_findings(cells: list[str], sheet: str) -> tuple[Finding, ...]:
    if not cells:
        return ()
    shown = ", ".join(cells[:8]) + (" and more" if len(cells) > 8 else "")
    return (
        Finding(
            code="formula-without-value",
            severity=Severity.WARNING,
            message=f"Sheet {sheet}: {shown} hold formulas whose result was never saved.",
            hint="Open the workbook in a spreadsheet program, save it, and import it again.",
        ),
    )
