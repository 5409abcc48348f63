"""Disks and folders that cannot be written, and files that others hold."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from portwright.archive import engine
from portwright.archive.archive import Archive
from portwright.errors import ArchiveBusyError, ArchiveWriteError
from portwright.model.job import Job
from tests.archive import archive_values as values

MOUNT = shutil.which("mount")
NOBODY = 65534  # the user without rights on Linux
can_mount = pytest.mark.skipif(
    not (sys.platform == "linux" and os.geteuid() == 0 and MOUNT),
    reason="making a small disk needs Linux and root",
)


def _mount(*arguments: str | Path) -> None:
    done = subprocess.run(
        ["mount", *map(str, arguments)],
        capture_output=True,
        check=False,
    )
    if done.returncode:
        pytest.skip("this machine does not allow mounting")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    disk = tmp_path / "disk"
    disk.mkdir()
    _mount("-t", "tmpfs", "-o", "size=3m", "tmpfs", disk)
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def _fill(archive: Archive) -> list[bytes]:
    """Attach files until the disk is full; give those that were acknowledged."""
    stored: list[bytes] = []

    def attach() -> None:
        while len(stored) < 200:
            photo = bytes([len(stored)]) * 100_000
            archive.add_attachment("J-1", photo, f"{len(stored)}.jpg", "image/jpeg")
            stored.append(photo)

    with pytest.raises(ArchiveWriteError, match=r"full|refused"):
        attach()
    return stored


def _attached(archive: Archive) -> list[bytes]:
    return [archive.attachment_data(a.id) for a in archive.attachments("J-1")]


@can_mount
def test_a_full_disk_loses_nothing_that_was_acknowledged(
    small_disk: Path, full_shop_file: Path
) -> None:
    path = small_disk / "a.shop"
    shutil.copyfile(full_shop_file, path)
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(500_000))
    with Archive.open(path) as archive:
        stored = _fill(archive)
        assert len(stored) > 2
        assert _attached(archive) == stored
        with pytest.raises(ArchiveWriteError):
            archive.backup(small_disk / "copy.shop")
        assert not list(small_disk.glob("copy*"))
        ballast.unlink()
        archive.add_note("J-1", values.job().notes[0])
    with Archive.open(path) as archive:
        assert _attached(archive) == stored
        assert len(archive.job("J-1").notes) == 2


@can_mount
def test_no_file_is_left_where_none_could_be_made(small_disk: Path) -> None:
    (small_disk / "ballast").write_bytes(bytes(3 * 1024 * 1024 - 60_000))
    with pytest.raises(ArchiveWriteError):
        Archive.create(small_disk / "new.shop")
    assert [p.name for p in small_disk.iterdir()] == ["ballast"]


def test_a_file_at_its_size_limit_loses_nothing(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same error without a small disk, for every system."""
    archive.close()
    whole = engine._connect

    def limited(path: Path, access: engine.Access) -> sqlite3.Connection:
        connection = whole(path, access)
        connection.execute("PRAGMA max_page_count=400")
        return connection

    monkeypatch.setattr(engine, "_connect", limited)
    stored = _fill(archive)
    archive.close()
    with Archive.open(archive.path) as again:
        assert _attached(again) == stored


@pytest.fixture(params=["folder", "file", "disk"])
def read_only(request: pytest.FixtureRequest, full_shop_file: Path) -> Iterator[Path]:
    """A shop file that may not be written because of itself, its folder or the whole disk."""
    what = request.param
    root = sys.platform == "linux" and os.geteuid() == 0
    if what == "disk" and not root:
        pytest.skip("making a small disk needs Linux and root")
    if what == "folder" and sys.platform == "win32":
        pytest.skip("folders have no read-only mark on Windows")
    with tempfile.TemporaryDirectory() as outer, contextlib.ExitStack() as undo:
        Path(outer).chmod(0o755)
        folder = Path(outer) / "locked"
        folder.mkdir()
        if what == "disk":
            _mount("-t", "tmpfs", "-o", "size=3m", "tmpfs", folder)
            undo.callback(subprocess.run, ["umount", str(folder)], check=True)
        path = folder / "a.shop"
        shutil.copyfile(full_shop_file, path)
        if what == "disk":
            _mount("-o", "remount,ro", folder)
        else:
            locked = folder if what == "folder" else path
            folder.chmod(0o777)
            path.chmod(0o666)
            locked.chmod(0o555)
            undo.callback(locked.chmod, 0o755)
            if root:  # root may write anything, so act as somebody else
                os.seteuid(NOBODY)
                undo.callback(os.seteuid, 0)
        yield path


def test_where_nothing_may_be_written_everything_can_be_read(read_only: Path) -> None:
    with Archive.open(read_only) as archive:
        assert archive.read_only
        assert archive.contents() == values.shop()
        with pytest.raises(ArchiveWriteError, match="reading only"):
            archive.add_job(Job("J-3"))
        with tempfile.TemporaryDirectory() as elsewhere:
            copied = archive.backup(Path(elsewhere) / "copy.shop").path
            with Archive.open(copied) as copy:
                assert not copy.read_only
                copy.add_job(Job("J-3"))
    with pytest.raises(ArchiveWriteError):
        Archive.upgrade(read_only)


@pytest.mark.parametrize("read_only", ["folder", "disk"], indirect=True)
def test_a_new_file_needs_a_folder_that_may_be_written(read_only: Path) -> None:
    with pytest.raises(ArchiveWriteError, match="may be written"):
        Archive.create(read_only.with_name("new.shop"))
    with Archive.open(read_only) as archive, pytest.raises(ArchiveWriteError, match="folder"):
        archive.backup(read_only.with_name("copy.shop"))


@can_mount
def test_changes_in_a_log_that_cannot_be_read_are_never_left_out(
    small_disk: Path, full_shop_file: Path, tmp_path: Path
) -> None:
    shutil.copyfile(full_shop_file, tmp_path / "a.shop")
    with Archive.open(tmp_path / "a.shop") as archive:
        archive.add_job(Job("J-3"))
        for name in ("a.shop", "a.shop-wal"):
            shutil.copyfile(tmp_path / name, small_disk / name)
    _mount("-o", "remount,ro", small_disk)
    with pytest.raises(ArchiveWriteError, match="unfinished changes"):
        Archive.open(small_disk / "a.shop")
    for name in ("a.shop", "a.shop-wal"):
        shutil.copyfile(small_disk / name, tmp_path / f"b{name[1:]}")
    with Archive.open(tmp_path / "b.shop") as archive:
        assert {j.number for j in archive.jobs()} == {"J-1", "J-2", "J-3"}


def test_a_file_held_by_another_program_is_busy_not_broken(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive.close()
    monkeypatch.setattr(engine, "_BUSY_TIMEOUT_MS", 20)
    with contextlib.closing(sqlite3.connect(archive.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with Archive.open(archive.path) as mine:
            assert not mine.read_only
            assert mine.contents() == values.shop()
            with pytest.raises(ArchiveBusyError, match="another program"):
                mine.add_job(Job("J-3"))
            other.execute("ROLLBACK")
            mine.add_job(Job("J-3"))
            assert len(mine.jobs()) == 3


def test_a_backup_is_complete_checked_and_in_one_file(archive: Archive, tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    made = archive.backup(folder / "copy.shop")
    assert [p.name for p in folder.iterdir()] == ["copy.shop"]
    assert made.size == made.path.stat().st_size
    assert len(made.sha256) == 64
    with Archive.open(made.path) as copy:
        assert copy.contents() == archive.contents()
    with pytest.raises(ArchiveWriteError, match="already"):
        archive.backup(folder / "copy.shop")
