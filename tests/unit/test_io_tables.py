"""Files become plain tables of text, or are refused with a reason and a way out."""

from __future__ import annotations

import codecs
import datetime
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook

from portwright.errors import ImportFileError, UnknownNameError
from portwright.io.tables import read_table

FLOW = "lift_mm,flow_cfm_28\n1,17.9\n2,34.6\n"


def written(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    "content",
    [
        FLOW.encode("utf-8"),
        codecs.BOM_UTF8 + FLOW.encode("utf-8"),
        codecs.BOM_UTF16_LE + FLOW.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + FLOW.encode("utf-16-be"),
        FLOW.replace(",", ";").encode(),
        FLOW.replace(",", "\t").encode(),
        FLOW.replace("\n", "\r\n").encode(),
    ],
)
def test_same_table_from_every_encoding_and_separator(tmp_path: Path, content: bytes) -> None:
    table = read_table(written(tmp_path, "flow.csv", content))
    assert table.headers == ("lift_mm", "flow_cfm_28")
    assert table.rows == (("1", "17.9"), ("2", "34.6"))
    assert table.findings == ()
    assert table.source == "flow.csv"


def test_windows_text_is_read_and_said_so(tmp_path: Path) -> None:
    table = read_table(written(tmp_path, "a.csv", "Prüfer,°C\nJörg,20\n".encode("cp1252")))
    assert table.headers == ("Prüfer", "°C")
    assert [f.code for f in table.findings] == ["old-text-encoding"]


def test_quoted_cells_keep_separators_quotes_and_line_breaks(tmp_path: Path) -> None:
    path = written(tmp_path, "a.csv", b'item,note\n"a, b","said ""so""\nand left"\n')
    assert read_table(path).rows == (("a, b", 'said "so"\nand left'),)


def test_separator_inside_a_quoted_heading_does_not_decide(tmp_path: Path) -> None:
    path = written(tmp_path, "a.csv", b'"Lift, mm, at valve";Flow\n1,5;17,9\n')
    assert read_table(path).rows == (("1,5", "17,9"),)


def test_places_match_the_file_with_blank_rows(tmp_path: Path) -> None:
    table = read_table(written(tmp_path, "a.csv", b"\n\nlift_mm\n1\n\n2\n\n"))
    assert table.header_row == 3
    assert [table.row_number(i) for i, row in enumerate(table.rows) if any(row)] == [4, 6]


def test_short_rows_are_filled_and_long_ones_kept(tmp_path: Path) -> None:
    table = read_table(written(tmp_path, "a.csv", b"a,b,c\n1\n1,2,3,4\n1,2,3,,\n"))
    assert table.rows == (("1", "", ""), ("1", "2", "3", "4"), ("1", "2", "3"))


BAD = [
    ("a.csv", b"", "empty"),
    ("a.csv", b" \n \n", "empty"),
    ("a.csv", codecs.BOM_UTF8 + b"\n", "empty"),
    ("a.csv", b"lift_mm,flow_cfm_28\n", "no rows"),
    ("a.csv", b"1,17.9\n2,34.6\n", "no line of headings"),
    ("a.csv", b"PK\x03\x04rest of a workbook", "not text"),
    ("a.csv", b"%PDF-1.7 something", "not text"),
    ("a.csv", b"\xd0\xcf\x11\xe0 old workbook", "not text"),
    ("a.csv", bytes(range(256)) * 4, "binary"),
    ("a.csv", b"lift_mm\x00\x01,flow\n1,2\n", "binary"),
    ("a.csv", b'lift_mm,note\n1,"never closed\n2,3\n', "not readable"),
    ("a.xlsx", b"lift_mm,flow_cfm_28\n1,2\n", "not a readable XLSX"),
    ("a.xlsx", b"PK\x03\x04 cut off", "not a readable XLSX"),
    ("a.pdf", b"%PDF-1.7", "not a kind of file"),
    ("a.xls", b"\xd0\xcf\x11\xe0", "not a kind of file"),
    ("noending", FLOW.encode(), "not a kind of file"),
]


@pytest.mark.parametrize(("name", "content", "says"), BAD)
def test_bad_files_are_refused_with_reason_and_hint(
    tmp_path: Path, name: str, content: bytes, says: str
) -> None:
    with pytest.raises(ImportFileError, match=says) as refused:
        read_table(written(tmp_path, name, content))
    assert name in refused.value.message
    assert refused.value.hint


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ImportFileError, match="cannot be read"):
        read_table(tmp_path / "none.csv")


def test_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(200_000_000)  # sparse: nothing to read, which is the point
    with pytest.raises(ImportFileError, match="200 MB; the limit is 20 MB"):
        read_table(path)


def test_limits_can_be_moved(tmp_path: Path) -> None:
    path = written(tmp_path, "a.csv", FLOW.encode())
    with pytest.raises(ImportFileError, match="more than 1 rows"):
        read_table(path, max_rows=1)
    assert len(read_table(path, max_rows=2).rows) == 2
    with pytest.raises(ImportFileError, match="limit"):
        read_table(path, max_bytes=5)


def workbook(folder: Path) -> Path:
    book = Workbook()
    notes = book.active
    assert notes is not None
    notes.title = "flow"
    notes.append(["lift_mm", "flow_cfm_28", "date", "time", "rh_pct", "ok"])
    notes.append([0.1 + 0.2, 17.9, datetime.date(2026, 2, 10), datetime.time(10, 17), 0.49, True])
    notes["E2"].number_format = "0%"
    notes.append([2, "=A2*2", datetime.datetime(2026, 2, 10, 11, 24), None, None, False])  # noqa: DTZ001
    other = book.create_sheet("benches")
    other.append(["bench_id"])
    other.append(["B2"])
    path = folder / "book.xlsx"
    book.save(path)
    return path


def test_workbook_cells_become_clean_text(tmp_path: Path) -> None:
    table = read_table(workbook(tmp_path))
    assert table.sheet == "flow"
    assert table.rows[0] == ("0.3", "17.9", "2026-02-10", "10:17", "49%", "yes")
    assert table.rows[1] == ("2", "", "2026-02-10 11:24:00", "", "", "no")


def test_formula_never_computed_is_reported_with_its_cell(tmp_path: Path) -> None:
    (finding,) = read_table(workbook(tmp_path)).findings
    assert finding.code == "formula-without-value"
    assert "B3" in finding.message


def test_named_sheet(tmp_path: Path) -> None:
    path = workbook(tmp_path)
    assert read_table(path, "benches").rows == (("B2",),)
    with pytest.raises(UnknownNameError, match="benches"):
        read_table(path, "bench")


def test_zip_that_unpacks_to_far_too_much_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", bytes(6_000_000))
    assert path.stat().st_size < 1_000_000
    with pytest.raises(ImportFileError, match="unpacks to 6 MB"):
        read_table(path, max_bytes=1_000_000)


def test_zip_without_a_workbook(tmp_path: Path) -> None:
    path = tmp_path / "photos.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("photo.txt", "not a sheet")
    with pytest.raises(ImportFileError, match="not a readable XLSX"):
        read_table(path)


def test_semicolon_wins_over_as_many_commas(tmp_path: Path) -> None:
    table = read_table(written(tmp_path, "a.csv", b"Lift, mm;Flow\n1,5;17,9\n"))
    assert table.headers == ("Lift, mm", "Flow")
