"""Files are read in a process of its own, which a bad one ends without harm to the app."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from portwright.errors import ImportFileError, UnknownNameError
from portwright.io.tables import read_table
from portwright.services import guarded
from portwright.services.guarded import Reader, memory_of


def never_ends() -> None:
    while True:
        time.sleep(0.01)


def eats_memory() -> int:
    return len(b"x" * (3 * 1024**3))


def eats_memory_slowly() -> None:
    kept = []
    while True:
        kept.append(b"x" * 5_000_000)
        time.sleep(0.01)


def dies() -> None:
    os._exit(3)


def unknown() -> None:
    raise UnknownNameError("bench", "B9", ["B1", "B2"])


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    made = Reader(seconds=600.0, memory=1024**3)
    yield made
    made.close()


def test_what_is_read_comes_back_and_refusals_keep_their_words(
    reader: Reader, tmp_path: Path
) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("lift_mm,flow_cfm_28\n1,17.9\n", encoding="utf-8")
    assert reader.read(read_table, sheet) == read_table(sheet)
    with pytest.raises(UnknownNameError, match=r"no bench called 'B9'.*Known: B1, B2"):
        reader.read(unknown)
    sheet.write_bytes(b"%PDF-1.7")
    with pytest.raises(ImportFileError, match="not text"):
        reader.read(read_table, sheet)


def test_a_reader_that_dies_is_said_and_replaced(reader: Reader) -> None:
    with pytest.raises(ImportFileError, match="came to an end"):
        reader.read(dies)
    assert reader.read(max, 1, 2) == 2


def test_too_much_memory_is_refused(reader: Reader) -> None:
    with pytest.raises(ImportFileError, match="more memory"):
        reader.read(eats_memory)
    assert reader.read(max, 1, 2) == 2


def test_watched_memory_is_refused_and_too_much_time() -> None:
    grown = Reader(seconds=600.0, memory=200_000_000)
    with pytest.raises(ImportFileError, match="more memory"):
        grown.read(eats_memory_slowly)
    grown.close()
    quick = Reader(seconds=0.2)
    with pytest.raises(ImportFileError, match="more time"):
        quick.read(never_ends)
    quick.close()


def test_memory_of_this_process_is_known() -> None:
    assert memory_of(os.getpid()) > 1_000_000
    assert memory_of(2**31 - 2) == 0


def test_nothing_is_guarded_until_the_app_says_so() -> None:
    own = os.getpid()
    assert guarded.careful(os.getpid) == own
    guarded.switch_on()
    try:
        assert guarded.careful(os.getpid) != own
    finally:
        guarded.switch_off()
    assert guarded.careful(os.getpid) == own
