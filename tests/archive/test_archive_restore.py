"""Going back to a backup: nothing that was there is lost, nothing unsound takes its place."""

from __future__ import annotations

import shutil
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.archive import restore as archive_restore
from portwright.archive.archive import Archive
from portwright.errors import (
    ArchiveBusyError,
    ArchiveError,
    ArchiveWriteError,
    CorruptArchiveError,
    InputError,
    SchemaTooNewError,
)
from portwright.model.job import Job
from portwright.services import backups
from tests.archive import archive_values as values

NOON = datetime(2026, 2, 10, 12, tzinfo=UTC)


def test_a_restore_brings_the_backup_and_keeps_what_was_there(
    archive: Archive, tmp_path: Path
) -> None:
    made = archive.backup(tmp_path / "stick" / "copy.shop")
    archive.add_job(Job("J-3"))
    archive.close()
    tried = backups.rehearse(made.path, archive.path)
    assert tried.missing == {"job": 1}
    assert (tried.jobs, tried.readings) == (2, 9)
    done = backups.restore(made.path, archive.path)
    assert done.kept is not None
    with Archive.open(archive.path) as restored, Archive.open(done.kept) as before:
        assert restored.contents() == values.shop()
        assert {j.number for j in before.jobs()} == {"J-1", "J-2", "J-3"}
    assert made.sha256 == archive_restore.digest_of(made.path)


def test_a_file_that_is_open_is_not_replaced(archive: Archive, tmp_path: Path) -> None:
    made = archive.backup(tmp_path / "copy.shop")
    archive.add_job(Job("J-3"))
    with pytest.raises(ArchiveBusyError, match="open in a program"):
        backups.restore(made.path, archive.path)
    assert len(archive.jobs()) == 3
    assert not list(tmp_path.glob("*unfinished*"))
    assert not list(tmp_path.glob("*before restore*"))


def test_a_damaged_shop_file_gives_way_and_is_kept(archive: Archive, tmp_path: Path) -> None:
    made = archive.backup(tmp_path / "copy.shop")
    archive.close()
    archive.path.write_bytes(b"rubbish" * 1000)
    done = backups.restore(made.path, archive.path)
    assert done.kept is not None
    assert done.kept.read_bytes().startswith(b"rubbish")
    with Archive.open(archive.path) as restored:
        assert restored.contents() == values.shop()


def test_a_backup_that_changed_since_is_refused(archive: Archive, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    backups.set_plan(archive, backups.Plan(str(stick)))
    made = backups.make(archive, NOON)
    assert backups.check(made.path).listed
    archive.close()
    damaged = bytearray(made.path.read_bytes())
    damaged[-20] ^= 1  # one bit, which no database would notice
    made.path.write_bytes(damaged)
    before = archive.path.read_bytes()
    with pytest.raises(CorruptArchiveError, match="checksum"):
        backups.restore(made.path, archive.path)
    assert archive.path.read_bytes() == before


def test_a_backup_of_a_newer_portwright_is_refused_with_the_reason(
    archive: Archive, tmp_path: Path
) -> None:
    made = archive.backup(tmp_path / "copy.shop")
    archive.close()
    with sqlite3.connect(made.path) as newer:
        newer.execute("UPDATE alembic_version SET version_num = '9999'")
    newer.close()
    with pytest.raises(SchemaTooNewError, match="newer Portwright"):
        backups.restore(made.path, archive.path)
    with Archive.open(archive.path) as same:
        assert same.contents() == values.shop()


def test_a_backup_of_an_older_portwright_is_upgraded_in_its_new_place(
    archive: Archive, tmp_path: Path
) -> None:
    archive.close()
    source = Path(
        shutil.copy(Path(__file__).parent / "schemas" / "0001.shop", tmp_path / "old.shop")
    )
    digest = archive_restore.digest_of(source)
    tried = backups.rehearse(source, archive.path)
    assert tried.backup.older
    done = backups.restore(source, archive.path)
    assert done.upgraded_from == "0001"
    assert archive_restore.digest_of(source) == digest
    with Archive.open(archive.path) as restored:
        assert len(restored.contents().jobs) == tried.jobs > 0


def test_the_file_cannot_be_restored_from_itself(archive: Archive) -> None:
    archive.close()
    with pytest.raises(ArchiveWriteError, match="itself"):
        backups.restore(archive.path, archive.path)


def test_backups_are_due_by_the_clock_even_one_that_was_set_back(
    archive: Archive, tmp_path: Path
) -> None:
    assert not backups.due(archive, NOON)
    backups.set_plan(archive, backups.Plan(str(tmp_path / "stick"), every_hours=4.0))
    assert backups.due(archive, NOON)
    backups.make(archive, NOON)
    assert not backups.due(archive, NOON + timedelta(hours=3.9))
    assert backups.due(archive, NOON + timedelta(hours=4))
    yesterday = NOON - timedelta(days=1)
    assert backups.due(archive, yesterday)
    backups.make(archive, yesterday)
    assert not backups.due(archive, yesterday + timedelta(hours=1))


def test_a_stick_that_is_not_plugged_in_is_said_and_nothing_made(
    archive: Archive, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    backups.set_plan(archive, backups.Plan(str(stick)))
    backups.make(archive, NOON)
    shutil.rmtree(stick)
    with pytest.raises(ArchiveError, match="not there"):
        backups.make(archive, NOON + timedelta(hours=5))
    assert not stick.exists()
    state = backups.state(archive)
    assert "Plug the stick in" in state.failed
    assert state.made_at.startswith("2026-02-10T12")


def test_the_rotation_deletes_only_its_own_and_never_the_newest(
    archive: Archive, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    backups.set_plan(archive, backups.Plan(str(stick), keep=2))
    other = stick / "another shop.shop"
    other.write_bytes(b"not ours")
    for hour in range(5):
        backups.make(archive, NOON + timedelta(hours=hour))
    assert [k.made.hour for k in backups.kept(archive, stick)] == [16, 15]
    assert len(list(stick.iterdir())) == 5  # two backups, two checksums, the other file
    past = backups.make(archive, NOON - timedelta(hours=9))
    assert past.path.exists()
    assert other.exists()


@given(
    st.sets(st.integers(0, 24 * 900), min_size=1, max_size=200),
    st.integers(2, 20),
)
def test_what_survives_the_rotation_reaches_back(hours: set[int], keep: int) -> None:
    made = [NOON + timedelta(hours=h) for h in hours]
    kept = backups.survivors(made, keep)
    assert set(sorted(made)[-keep:]) <= kept
    assert len(kept) <= keep + backups.DAYS + backups.MONTHS
    newest = max(made)
    for moment in made:  # of each of the last months something is left
        if newest - moment < timedelta(days=300):
            assert any((k.year, k.month) == (moment.year, moment.month) for k in kept)


def test_backups_beside_the_shop_file_or_without_a_drive_are_refused(archive: Archive) -> None:
    with pytest.raises(InputError, match="lost together"):
        backups.set_plan(archive, backups.Plan(str(archive.path.parent)))
    with pytest.raises(InputError, match="full path"):
        backups.set_plan(archive, backups.Plan("backup"))
    with pytest.raises(InputError, match="Keep 2"):
        backups.set_plan(archive, backups.Plan(keep=1))
