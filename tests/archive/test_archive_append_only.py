"""Raw rows stay as they were, even for someone who goes around the program."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

import pytest

from portwright.archive.archive import Archive
from tests.archive import archive_values as values

RAW = ["reading", "measurement", "plate_check", "note", "job_entry", "run_mark", "blob"]
KEPT = ["job", "head", "port", "stage", "run", "cam", "sheet_row", "bench", "calibration"]
KEPT += ["casting", "attachment"]


@pytest.fixture
def database(archive: Archive) -> Path:
    archive.mark_run("J-1", "R1", "cold bench")
    archive.add_attachment("J-1", b"pixels", "port.jpg", "image/jpeg")
    archive.close()
    return archive.path


def first_column(connection: sqlite3.Connection, table: str) -> str:
    query = "SELECT name FROM pragma_table_info(?)"
    return str(connection.execute(query, [table]).fetchone()[0])


@pytest.mark.parametrize("table", RAW)
def test_raw_rows_are_never_changed(database: Path, table: str) -> None:
    with contextlib.closing(sqlite3.connect(database)) as connection:
        column = first_column(connection, table)
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            connection.execute(f"UPDATE {table} SET {column} = {column}")  # noqa: S608


@pytest.mark.parametrize("table", [*RAW, *KEPT])
def test_nothing_entered_is_deleted(database: Path, table: str) -> None:
    with contextlib.closing(sqlite3.connect(database)) as connection:
        rows = connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608
        assert rows > 0
        with pytest.raises(sqlite3.IntegrityError, match="never deleted"):
            connection.execute(f"DELETE FROM {table}")  # noqa: S608


def test_a_calibration_is_never_changed(database: Path) -> None:
    with (
        contextlib.closing(sqlite3.connect(database)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="newer version"),
    ):
        connection.execute("UPDATE calibration SET relative_uncertainty = 0.001")


def test_corrections_keep_every_older_row(archive: Archive) -> None:
    for flow in ("21.0", "22.0", "23.0"):
        newest = archive.readings("J-1", "R1")[0]
        archive.add_reading("J-1", "R1", values.reading("1", flow), newest.id, "read again")
    archive.close()
    with contextlib.closing(sqlite3.connect(archive.path)) as connection:
        chain = connection.execute(
            "SELECT json_extract(typed, '$.flow[0]'), reason FROM reading "
            "WHERE position = 1 AND run_id = 1 ORDER BY id"
        ).fetchall()
    assert chain == [
        ("20.5", ""),
        ("21.0", "read again"),
        ("22.0", "read again"),
        ("23.0", "read again"),
    ]
