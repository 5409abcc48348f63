"""Looking a backup over, and putting it in the place of the shop file."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, func, select

from portwright.archive import copies, schema, tables
from portwright.archive import engine as files
from portwright.archive.faults import translated
from portwright.errors import (
    ArchiveBusyError,
    ArchiveWriteError,
    CorruptArchiveError,
    SchemaTooOldError,
)

_COUNTED = ("job", "run", "reading", "measurement", "note", "attachment")


@dataclass(frozen=True, slots=True)
class Checked:
    """What was found in a backup that is sound.

    Parameters
    ----------
    path : Path
    size : int
        [bytes]
    sha256 : str
        Of the file as it lies.
    listed : bool
        True when a checksum file beside it says the same.
    schema : str
    older : bool
        True when it has to be upgraded after restoring.
    rows : dict of str to int
        Number of rows by table.
    newest_reading : str
        When the newest reading was entered, "" without one.
    """

    path: Path
    size: int
    sha256: str
    listed: bool
    schema: str
    older: bool
    rows: dict[str, int]
    newest_reading: str


def digest_file(path: Path) -> Path:
    """Where the checksum of a backup stands, in the common form of "digest, two blanks, name"."""
    return path.with_name(path.name + ".sha256")


def check(path: Path) -> Checked:
    """Open a backup and check all of it: header, checksum, every page, every reference, schema.

    Raises
    ------
    NotFoundError
    CorruptArchiveError
        Not a shop file, damaged, or not what its checksum says.
    SchemaTooNewError
    """
    files.check_header(path)
    with path.open("rb") as stream:
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    listed = _listed(path)
    if listed and listed != found:
        raise CorruptArchiveError(
            f"{path.name} is not what was written: its checksum differs.",
            "Take another one. If somebody opened it to work in it, delete the .sha256 beside it.",
        )
    if files.has_log(path):
        raise CorruptArchiveError(
            f"{path.name} was copied while it was in use: part of it is in {path.name}-wal.",
            "Make a complete copy with 'portwright backup' where it came from.",
        )
    access = files.Access.FROZEN  # looked at as it lies: not one byte of a backup changes
    current = files.schema_in(path, access)
    older = False
    try:
        files.refuse_other_schema(path, current)
    except SchemaTooOldError:
        older = True
    engine = files.make_engine(path, access)
    try:
        with translated(path), engine.connect() as connection:
            _sound(path, [r[0] for r in connection.exec_driver_sql("PRAGMA integrity_check")])
            loose = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            _sound(path, ["ok"] if not loose else [f"{len(loose)} rows belong to nothing"])
            rows = _rows(connection)
            newest = connection.exec_driver_sql("SELECT max(taken_at) FROM reading").scalar()
    finally:
        engine.dispose()
    size = path.stat().st_size
    return Checked(path, size, found, bool(listed), current, older, rows, str(newest or ""))


def _rows(connection: Connection) -> dict[str, int]:
    counted = {
        name: select(func.count()).select_from(tables.metadata.tables[name]) for name in _COUNTED
    }
    return {name: int(connection.execute(query).scalar() or 0) for name, query in counted.items()}


def rows_in(path: Path) -> dict[str, int]:
    """Number of rows by table of a shop file that may be in use.

    Raises
    ------
    NotFoundError, ArchiveError
    """
    engine, _access = files.open_file(path)
    try:
        with translated(path), engine.connect() as connection:
            return _rows(connection)
    finally:
        engine.dispose()


def _sound(path: Path, verdict: list[str]) -> None:
    if verdict != ["ok"]:
        raise CorruptArchiveError(
            f"{path.name} is damaged: {verdict[0]}.",
            "Take an older backup; keep this one for comparison.",
        )


def _listed(path: Path) -> str:
    try:
        return digest_file(path).read_text(encoding="utf-8").split()[0].lower()
    except (OSError, IndexError, UnicodeDecodeError):
        return ""


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did.

    Parameters
    ----------
    backup : Checked
    kept : Path or None
        Where the file that was there before is now; None when there was none.
    upgraded_from : str
        Schema of the backup where it was an older one, else "".
    """

    backup: Checked
    kept: Path | None
    upgraded_from: str


def restore(source: Path, target: Path) -> Restored:
    """Put a checked copy of a backup in the place of the shop file.

    The present file is moved aside, never deleted, and the backup itself is not touched.
    A backup of an older schema is upgraded in its new place.

    Raises
    ------
    NotFoundError, CorruptArchiveError, SchemaTooNewError
        As for :func:`check`.
    ArchiveBusyError
        A program has the present file open.
    ArchiveWriteError
    """
    if source.resolve() == target.resolve():
        raise ArchiveWriteError(
            f"{source.name} is the shop file itself.", "Name a backup, or another --shop."
        )
    found = check(source)
    unfinished = target.with_name(target.name + ".unfinished")
    kept: Path | None = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, unfinished)
        if digest_of(unfinished) != found.sha256:
            raise CorruptArchiveError(
                f"{source.name} changed while it was copied.", "Try again; nothing was changed."
            )
        if found.older:
            _upgrade(unfinished)
        kept = _move_aside(target)
        copies.settle(unfinished, target)
    except OSError as error:
        raise ArchiveWriteError(
            f"{target.name} cannot be written in {target.parent}: {error.strerror}.",
            "Close Portwright everywhere, make space, and try again; nothing was lost.",
        ) from error
    finally:
        for ending in ("", "-wal", "-shm", "-journal"):
            with contextlib.suppress(OSError):
                unfinished.with_name(unfinished.name + ending).unlink()
    return Restored(found, kept, found.schema if found.older else "")


def digest_of(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _upgrade(path: Path) -> None:
    engine = files.make_engine(path)
    try:
        schema.migrate(engine, path)
    finally:
        engine.dispose()
    copies.in_one_file(path)


def _move_aside(target: Path) -> Path | None:
    """Take the present file out of the way with everything it holds; it may be damaged."""
    if not target.exists():
        return None
    with contextlib.suppress(CorruptArchiveError):
        _close_log(target)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    kept = target.with_name(f"{target.stem} before restore {stamp}{target.suffix}")
    for ending in ("-wal", "-shm", "-journal"):  # left only beside a file that would not open
        beside = target.with_name(target.name + ending)
        if beside.exists():
            beside.replace(kept.with_name(kept.name + ending))
    try:
        os.link(target, kept)  # under both names until the new one takes its place: never none
    except OSError:  # a stick knows one name for a file only
        shutil.copyfile(target, kept)
    return kept


def _close_log(target: Path) -> None:
    """Write the log into the file, which works only while nobody else has it open."""
    try:
        with (
            translated(target),
            contextlib.closing(sqlite3.connect(target, timeout=1.0, isolation_level=None)) as it,
        ):
            mode = it.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    except ArchiveBusyError as error:
        raise _in_use(target) from error
    if str(mode).lower() != "delete":
        raise _in_use(target)


def _in_use(target: Path) -> ArchiveBusyError:
    return ArchiveBusyError(
        f"{target.name} is open in a program.",
        "Close Portwright on this computer and restore again; nothing was changed.",
    )
