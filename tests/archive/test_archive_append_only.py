"""Raw rows stay as they were, even for someone who goes around the program."""

from __future__ import annotations

import json

import pytest

from portwright.archive.archive import Archive
from tests.archive import archive_values as values
from tests.archive.conftest import Raw

BOTH_ENGINES = True
RAW = ["reading", "measurement", "plate_check", "note", "job_entry", "run_mark", "blob"]
RAW += ["engine_run"]
KEPT = ["job", "head", "port", "stage", "run", "cam", "sheet_row", "bench", "calibration"]
KEPT += ["casting", "attachment"]
COLUMN = {"measurement": "stage", "job_entry": "key", "run_mark": "left_out", "blob": "sha256"}
COLUMN |= {"reading": "position", "plate_check": "plate", "note": "text", "engine_run": "key"}


@pytest.fixture
def everything(archive: Archive) -> Archive:
    """With a row in every table."""
    archive.mark_run("J-1", "R1", "cold bench")
    archive.add_attachment("J-1", b"pixels", "port.jpg", "image/jpeg")
    return archive


@pytest.mark.parametrize("table", RAW)
def test_raw_rows_are_never_changed(everything: Archive, raw: Raw, table: str) -> None:
    column = COLUMN[table]
    with pytest.raises(Raw.refused, match="never changed"):
        raw.rows(f"UPDATE {table} SET {column} = {column}")  # noqa: S608


@pytest.mark.parametrize("table", [*RAW, *KEPT])
def test_nothing_entered_is_deleted(everything: Archive, raw: Raw, table: str) -> None:
    assert raw.rows(f"SELECT count(*) FROM {table}")[0][0] > 0  # noqa: S608
    with pytest.raises(Raw.refused, match="never deleted"):
        raw.rows(f"DELETE FROM {table}")  # noqa: S608


@pytest.mark.server_only  # a file knows no such command
def test_a_table_is_not_emptied_at_a_stroke(everything: Archive, raw: Raw) -> None:
    with pytest.raises(Raw.refused, match="never deleted"):
        raw.rows("TRUNCATE reading, measurement CASCADE")


def test_a_calibration_is_never_changed(raw: Raw) -> None:
    with pytest.raises(Raw.refused, match="newer version"):
        raw.rows("UPDATE calibration SET relative_uncertainty = 0.001")


def test_the_log_of_changes_is_never_changed(raw: Raw) -> None:
    with pytest.raises(Raw.refused, match="never changed"):
        raw.rows("UPDATE change_log SET who = 'nobody'")


def test_corrections_keep_every_older_row(archive: Archive, raw: Raw) -> None:
    for flow in ("21.0", "22.0", "23.0"):
        newest = archive.readings("J-1", "R1")[0]
        archive.add_reading("J-1", "R1", values.reading("1", flow), newest.id, "read again")
    chain = raw.rows(
        "SELECT typed, reason FROM reading WHERE position = 1 AND run_id = 1 ORDER BY id"
    )
    flows = [(json.loads(t) if isinstance(t, str) else t)["flow"][0] for t, _ in chain]
    assert flows == ["20.5", "21.0", "22.0", "23.0"]
    assert [reason for _, reason in chain] == ["", "read again", "read again", "read again"]
