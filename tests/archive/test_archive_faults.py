"""Files that are damaged, foreign, or of another version."""

from __future__ import annotations

import contextlib
import random
import sqlite3
from pathlib import Path

import pytest

from portwright.archive import schema
from portwright.archive.archive import Archive
from portwright.errors import (
    ArchiveWriteError,
    CorruptArchiveError,
    NotFoundError,
    PortwrightError,
    SchemaTooNewError,
)
from portwright.model.contents import ShopContents
from tests.archive import archive_values as values


@pytest.fixture
def closed(archive: Archive) -> Path:
    archive.close()
    return archive.path


def read_everything(path: Path) -> ShopContents:
    with Archive.open(path) as archive:
        return archive.contents()


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no shop file"):
        Archive.open(tmp_path / "none.shop")
    with pytest.raises(NotFoundError):
        Archive.open(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b"lift;flow\n1;20\n" * 50, "not a shop file"),
        (b"SQLite format 3\x00", "not a shop file"),
        (b"PK\x03\x04" + bytes(500), "not a shop file"),
    ],
)
def test_other_files_are_refused_and_left_alone(tmp_path: Path, content: bytes, told: str) -> None:
    path = tmp_path / "some.shop"
    path.write_bytes(content)
    with pytest.raises(CorruptArchiveError, match=told):
        Archive.open(path)
    assert path.read_bytes() == content


def test_the_database_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE job (number TEXT)")
    with pytest.raises(CorruptArchiveError, match="another program"):
        Archive.open(path)


@pytest.mark.parametrize("share", [0.01, 0.3, 0.6, 0.9, 0.9999])
def test_a_file_that_was_cut_off_is_told_at_once(closed: Path, share: float) -> None:
    whole = closed.read_bytes()
    closed.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(CorruptArchiveError):
        Archive.open(closed)


def test_flipped_bits_give_a_clear_error_or_a_readable_file(closed: Path) -> None:
    """Any single byte may go wrong; whatever happens is one of our errors or an answer."""
    whole = closed.read_bytes()
    chance = random.Random(20260210)  # noqa: S311 - repeatable, not secret
    places = [*range(0, 100, 2), *chance.sample(range(100, len(whole)), 80)]
    refused: list[PortwrightError] = []
    for place in places:
        broken = bytearray(whole)
        broken[place] ^= 1 << chance.randrange(8)
        closed.write_bytes(broken)
        try:
            read_everything(closed)
        except PortwrightError as error:
            refused.append(error)
    assert refused
    assert all(error.hint for error in refused)
    closed.write_bytes(whole)
    assert read_everything(closed) == values.shop()


def test_an_overwritten_page_is_damage(closed: Path) -> None:
    whole = bytearray(closed.read_bytes())
    page = int.from_bytes(whole[16:18], "big")
    for number in range(1, len(whole) // page):
        whole[number * page : number * page + 64] = b"\xff" * 64
    closed.write_bytes(whole)
    with pytest.raises(CorruptArchiveError, match=r"damaged|makes no sense"):
        read_everything(closed)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE run SET conditions = '{'",
        """UPDATE run SET conditions = '{"colour": "red"}'""",
        "UPDATE port SET side = 'underneath'",
        "UPDATE job SET customer = CAST(x'ff' AS TEXT)",
        "DROP TABLE cam",
        """UPDATE bench SET typed = '{"bore_adapter": [1]}'""",
    ],
)
def test_rows_that_make_no_sense_are_damage(closed: Path, change: str) -> None:
    with contextlib.closing(sqlite3.connect(closed)) as connection:
        connection.executescript(change)
    with pytest.raises(CorruptArchiveError):
        read_everything(closed)


def test_a_file_of_a_newer_version_is_refused_untouched(closed: Path) -> None:
    with contextlib.closing(sqlite3.connect(closed)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9001'")
        connection.commit()
        connection.execute("PRAGMA journal_mode=DELETE")  # as a backup copy is
    before = closed.read_bytes()
    for attempt in (Archive.open, Archive.upgrade):
        with pytest.raises(SchemaTooNewError, match="schema 9001"):
            attempt(closed)
    assert closed.read_bytes() == before


def test_the_header_names_the_owner_even_after_a_crash(tmp_path: Path) -> None:
    """The first rows are still in the log when a program dies; the main file must say enough."""
    with Archive.create(tmp_path / "a.shop") as archive:
        archive.save(values.shop())
        for name in ("a.shop", "a.shop-wal"):
            (tmp_path / name.replace("a.", "b.")).write_bytes((tmp_path / name).read_bytes())
    assert read_everything(tmp_path / "b.shop") == values.shop()


def test_an_existing_file_is_never_replaced(closed: Path) -> None:
    with pytest.raises(ArchiveWriteError, match="already a file"):
        Archive.create(closed)
    assert read_everything(closed) == values.shop()


def test_the_program_knows_the_schema_it_writes(closed: Path) -> None:
    script = pytest.importorskip("alembic.script")
    config = pytest.importorskip("alembic.config").Config()
    config.set_main_option("script_location", str(schema.LOCATION))
    steps = script.ScriptDirectory.from_config(config)
    assert steps.get_current_head() == schema.newest()
    assert sorted(s.revision for s in steps.walk_revisions()) == list(schema.names())
