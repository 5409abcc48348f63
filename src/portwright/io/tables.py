"""Files with rows and columns to one plain table of text, or a clear refusal."""

from __future__ import annotations

import codecs
import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path

from portwright.errors import Finding, ImportFileError, Severity
from portwright.io.limits import MAX_BYTES, MAX_COLUMNS, MAX_ROWS, refuse_if_long
from portwright.io.spreadsheet_text import unprotect

_TEXT_ENDINGS = (".csv", ".tsv", ".txt")
_BOOK_ENDINGS = (".xlsx", ".xlsm")
TABLE_ENDINGS = _TEXT_ENDINGS + _BOOK_ENDINGS


@dataclass(frozen=True, slots=True)
class Table:
    """One sheet as text.

    Parameters
    ----------
    headers : tuple of str
    rows : tuple of tuple of str
        Every row below the headings, blank ones too, so that places match the file.
    source : str
        File name, shown to the person.
    sheet : str
        Sheet name inside a workbook.
    header_row : int
        Row of the headings as a spreadsheet counts, from 1.
    findings : tuple of Finding
    numbers : tuple of int
        Row of each of ``rows`` where they are not simply one after the other.
    """

    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    source: str
    sheet: str = ""
    header_row: int = 1
    findings: tuple[Finding, ...] = field(default=())
    numbers: tuple[int, ...] = field(default=())

    def row_number(self, index: int) -> int:
        """Row of ``rows[index]`` as a spreadsheet counts, from 1."""
        return self.numbers[index] if self.numbers else self.header_row + 1 + index


def read_table(
    path: Path, sheet: str = "", *, max_bytes: int = MAX_BYTES, max_rows: int = MAX_ROWS
) -> Table:
    """Read a CSV or XLSX file as text.

    Parameters
    ----------
    path : Path
    sheet : str
        Sheet of a workbook; the first one when empty.
    max_bytes : int
        Larger files are refused before they are read; a workbook also when unpacked.
    max_rows : int

    Raises
    ------
    ImportFileError
        Missing, empty, too large, not a table, or not what its name says.
    """
    content = _read_bytes(path, max_bytes)
    ending = path.suffix.lower()
    if ending in _BOOK_ENDINGS:
        from portwright.io.workbooks import read_workbook  # noqa: PLC0415  loads openpyxl

        rows, name, findings = read_workbook(
            content, path.name, sheet, max_unpacked=5 * max_bytes, max_rows=max_rows
        )
        return _with_headings(rows, path.name, name, findings)
    if content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF", b"\x1f\x8b")):
        raise ImportFileError(
            f"{path.name} is not text, although its name ends in {ending}.",
            "Open it in the program that made it and save it as CSV or XLSX.",
        )
    text, findings = _decode(content, path.name)
    return _with_headings(_split(text, path.name, max_rows), path.name, "", findings)


def _read_bytes(path: Path, max_bytes: int) -> bytes:
    ending = path.suffix.lower()
    if ending not in TABLE_ENDINGS:
        raise ImportFileError(
            f"{path.name} is not a kind of file that can be imported.",
            f"Save it as one of: {', '.join(TABLE_ENDINGS)}.",
        )
    try:
        size = path.stat().st_size
        if size > max_bytes:
            raise ImportFileError(
                f"{path.name} is {size / 1e6:.0f} MB; the limit is {max_bytes / 1e6:.0f} MB.",
                "A flow sheet is far smaller: check that this is the right file.",
            )
        content = path.read_bytes()
    except OSError as error:
        raise ImportFileError(
            f"{path.name} cannot be read: {error.strerror or error}.",
            "Check the name, and that no other program holds the file open.",
        ) from error
    if not content.strip():
        raise ImportFileError(f"{path.name} is empty.", "Check that it was saved.")
    return content


def _decode(content: bytes, name: str) -> tuple[str, tuple[Finding, ...]]:
    try:
        if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return _not_binary(content.decode("utf-16"), name), ()
        return _not_binary(content.decode("utf-8-sig"), name), ()
    except UnicodeDecodeError:
        pass
    try:
        text = _not_binary(content.decode("cp1252"), name)
    except UnicodeDecodeError as error:
        raise _rubbish(name) from error
    finding = Finding(
        code="old-text-encoding",
        severity=Severity.NOTE,
        message=f"{name} is not UTF-8; it was read as Windows Western text.",
        hint="Check letters with accents and signs such as ° and ².",
    )
    return text, (finding,)


def _rubbish(name: str) -> ImportFileError:
    return ImportFileError(
        f"{name} is not a text table: it holds binary data.",
        "Save the sheet again as CSV (UTF-8) or XLSX.",
    )


def _not_binary(text: str, name: str) -> str:
    if re.search(r"[\x00-\x08\x0e-\x1f]", text):
        raise _rubbish(name)
    return text


def _split(text: str, name: str, max_rows: int) -> list[tuple[str, ...]]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    rows: list[tuple[str, ...]] = []
    try:
        # strict: text after a closing quote is an error instead of being glued on silently
        for row in csv.reader(
            io.StringIO(text, newline=""), delimiter=_delimiter(first), strict=True
        ):
            rows.append(tuple(unprotect(cell).strip() for cell in row))
            refuse_if_long(len(rows), max_rows, name)
    except csv.Error as error:
        raise ImportFileError(
            f"{name} row {len(rows) + 1} is not readable: {error}.",
            "Look for a quotation mark that is opened and not closed.",
        ) from error
    return rows


def _delimiter(line: str) -> str:
    """Commonest separator outside quotation marks; a tab or semicolon wins a tie."""
    bare = re.sub(r'"[^"]*"', "", line)
    return max("\t;,", key=bare.count)


def _with_headings(
    rows: list[tuple[str, ...]], name: str, sheet: str, findings: tuple[Finding, ...]
) -> Table:
    where = f"{name}, sheet {sheet}," if sheet else name
    at = next((i for i, row in enumerate(rows) if any(row)), None)
    if at is None:
        raise ImportFileError(f"{where} is empty.", "Check that it was saved.")
    headers = rows[at]
    while headers and not headers[-1]:
        headers = headers[:-1]
    if len(headers) > MAX_COLUMNS:
        raise ImportFileError(f"{where} has {len(headers)} columns.", "Is it the right file?")
    if all(re.fullmatch(r"[-+]?[\d.,/ ]*", cell) for cell in headers):
        raise ImportFileError(
            f"{where} has no line of headings: row {at + 1} holds only numbers.",
            "Put the name and unit of each column above it, for example lift_mm.",
        )
    body = [_padded(row, len(headers)) for row in rows[at + 1 :]]
    while body and not any(body[-1]):
        body.pop()
    if not body:
        raise ImportFileError(f"{where} has headings but no rows.", "Check that it was saved.")
    return Table(headers, tuple(body), name, sheet, at + 1, findings)


def _padded(row: tuple[str, ...], width: int) -> tuple[str, ...]:
    """Row of at least ``width`` cells; empty cells beyond are dropped, filled ones stay."""
    while len(row) > width and not row[-1]:
        row = row[:-1]
    return row + ("",) * (width - len(row))
