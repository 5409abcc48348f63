"""Computed results and attached files kept in the shop file."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from portwright.archive import attachments
from portwright.archive.archive import Archive
from portwright.archive.results import RunResult, readings_digest
from portwright.errors import (
    CorruptArchiveError,
    InputError,
    NotFoundError,
    ShapeError,
    UnknownNameError,
)
from tests.archive import archive_values as values
from tests.archive.conftest import Raw

BOTH_ENGINES = True


def result(run: str = "R1", **changes: Any) -> RunResult:
    made = RunResult(
        job="J-1",
        run=run,
        method="standard-1",
        calibration="B2 calibration 1",
        program="0.1.0",
        readings_digest=readings_digest(values.run().readings),
        lift=np.array([0.001, 0.002, 0.003]),
        area=np.array([7.9e-5, np.nextafter(1.54e-4, 1.0), np.nan]),
        uncertainty=np.array([1e-7, 2e-7, 3e-7]),
    )
    return dataclasses.replace(made, **changes)


def test_results_come_back_to_the_last_bit(archive: Archive) -> None:
    assert archive.save_results([result(), result(method="leak-subtracted-1")]) == 2
    first, second = archive.results("J-1")
    assert (first.method, second.method) == ("standard-1", "leak-subtracted-1")
    for name in ("lift", "area", "uncertainty"):
        np.testing.assert_array_equal(getattr(first, name), getattr(result(), name))
    assert first.readings_digest == result().readings_digest
    assert archive.results("J-1", "R1")[0].area.flags.writeable
    assert archive.results("J-2") == []


def test_the_same_computation_is_stored_once(archive: Archive) -> None:
    archive.save_results([result()])
    archive.save_results([result(area=np.array([1.0, 2.0, 3.0]))])
    assert [r.area.tolist() for r in archive.results("J-1", "R1")] == [[1.0, 2.0, 3.0]]
    archive.save_results([result(program="0.2.0")])
    assert len(archive.results("J-1", "R1")) == 2


def test_bytes_are_little_endian(archive: Archive, raw: Raw) -> None:
    archive.save_results([result()])
    stored = bytes(raw.rows("SELECT lift FROM result")[0][0])
    # 0.001 as IEEE 754 binary64 is 3F50624DD2F1A9FC, least significant byte first.
    assert stored[:8].hex() == "fca9f1d24d62503f"


def test_arrays_that_do_not_fit_are_refused(archive: Archive) -> None:
    with pytest.raises(ShapeError, match="R1"):
        archive.save_results([result(), result(lift=np.array([0.001]))])
    with pytest.raises(UnknownNameError):
        archive.save_results([result(), result("R77")])
    assert archive.results("J-1") == []


def test_the_digest_sees_values_not_spelling() -> None:
    digest = readings_digest(values.run().readings)
    respelt = dataclasses.replace(values.reading("1", "20.5"), lift=values.mm("1,0"))
    assert readings_digest((respelt, *values.run().readings[1:])) == digest
    assert readings_digest(values.run().readings[1:]) != digest
    moved = dataclasses.replace(respelt, range_number=1)
    assert readings_digest((moved, *values.run().readings[1:])) != digest


def test_attached_files_are_kept_once_and_checked(archive: Archive, raw: Raw) -> None:
    photo = bytes(range(256)) * 40
    first = archive.add_attachment(
        "J-1", photo, "port.jpg", "image/jpeg", subject="I1", stage="S0", caption="before"
    )
    again = archive.add_attachment(
        "J-1", photo, "port.jpg", "image/jpeg", subject="I1", stage="S0", caption="before"
    )
    other = archive.add_attachment("J-2", photo, "same.jpg", "image/jpeg")
    assert first == again != other
    (listed,) = archive.attachments("J-1")
    assert (listed.name, listed.subject, listed.size) == ("port.jpg", "I1", len(photo))
    assert archive.attachment_data(first) == archive.attachment_data(other) == photo
    assert raw.rows("SELECT count(*) FROM blob") == [(1,)]
    raw.rows("DROP TRIGGER blob_no_update" + (" ON blob" if raw.on_server else ""))
    damage = "'\\x00'" if raw.on_server else "x'00'"
    raw.rows(f"UPDATE blob SET data = {damage}")  # noqa: S608
    raw.keep()
    with pytest.raises(CorruptArchiveError, match="damaged"):
        archive.attachment_data(first)


def test_useless_files_are_refused(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError, match="empty"):
        archive.add_attachment("J-1", b"", "port.jpg", "image/jpeg")
    monkeypatch.setattr(attachments, "LARGEST", 10)
    with pytest.raises(InputError, match="more than"):
        archive.add_attachment("J-1", b"12345678901", "port.jpg", "image/jpeg")
    with pytest.raises(NotFoundError):
        archive.attachment_data(1)
