"""Copies of the shop file, and the copy made before an upgrade."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine, MetaData

from portwright.archive import engine as files
from portwright.archive import move, schema, server, tables
from portwright.archive.faults import translated
from portwright.errors import ArchiveWriteError, CorruptArchiveError, SchemaTooOldError


@dataclass(frozen=True, slots=True)
class Backup:
    """A finished copy of the shop file.

    Parameters
    ----------
    path : Path
    size : int
        [bytes]
    sha256 : str
    """

    path: Path
    size: int
    sha256: str


def backup(engine: Engine, path: Path, target: Path) -> Backup:
    """Copy the shop file while it is in use, then open the copy and check it.

    The copy appears under its name only when it is complete and sound.

    Raises
    ------
    ArchiveWriteError
        The target exists or cannot be written.
    CorruptArchiveError
        The copy does not pass the database's own check.
    """
    if target.exists():
        raise ArchiveWriteError(
            f"There is already a file {target.name}.", "Choose another name for the copy."
        )
    unfinished = target.with_name(target.name + ".unfinished")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished.unlink(missing_ok=True)
        _copy(engine, path, unfinished)
        with unfinished.open("rb") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
        settle(unfinished, target)
    except OSError as error:
        raise ArchiveWriteError(
            f"The copy {target.name} cannot be made in {target.parent}: {error.strerror}.",
            "Choose a folder that may be written and has space.",
        ) from error
    finally:
        for leftover in (unfinished, unfinished.with_name(unfinished.name + "-journal")):
            with contextlib.suppress(OSError):
                leftover.unlink()
    return Backup(target, target.stat().st_size, digest)


def backup_of_server(source: Engine, target: Path, older: str = "") -> Backup:
    """Copy a shop from a server into a shop file, every row compared.

    Parameters
    ----------
    source : Engine
    target : Path
    older : str
        Schema of the database where it is not the newest one; the copy is of the same.

    Raises
    ------
    ArchiveWriteError
        The target exists or cannot be written.
    """
    if target.exists():
        raise ArchiveWriteError(
            f"There is already a file {target.name}.", "Choose another name for the copy."
        )
    unfinished = target.with_name(target.name + ".unfinished")
    unfinished.unlink(missing_ok=True)
    engine = files.create_file(unfinished, older or "head")
    try:
        move.copy_all(source, engine, _tables_of(engine) if older else tables.metadata)
    except BaseException:
        engine.dispose()
        unfinished.unlink(missing_ok=True)
        raise
    engine.dispose()
    in_one_file(unfinished)
    with unfinished.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    settle(unfinished, target)
    return Backup(target, target.stat().st_size, digest)


def _tables_of(engine: Engine) -> MetaData:
    """Tables of a shop file as they are in it, without those of the database's own."""
    found = MetaData()
    found.reflect(
        engine,
        only=lambda name, _: name != "alembic_version" and not name.startswith("search_index"),
    )
    return found


def in_one_file(path: Path) -> None:
    """Write the log into a shop file that nobody has open."""
    with translated(path), contextlib.closing(sqlite3.connect(path, isolation_level=None)) as plain:
        plain.execute("PRAGMA journal_mode=DELETE")


def settle(unfinished: Path, target: Path) -> None:
    """Put a finished file under its name so that a power cut leaves the old or the new one.

    The bytes reach the disk before the name does; where the system lets a folder be
    synchronised (not Windows, which keeps names safe itself) the name is on the disk as well.
    """
    with unfinished.open("rb+") as stream:
        os.fsync(stream.fileno())
    unfinished.replace(target)
    if os.name != "nt":
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            with contextlib.suppress(OSError):  # some network disks cannot; the copy is complete
                os.fsync(folder)
        finally:
            os.close(folder)


def _copy(engine: Engine, path: Path, target: Path) -> None:
    with translated(path), engine.connect() as connection:
        source = connection.connection.dbapi_connection
        assert isinstance(source, sqlite3.Connection)  # noqa: S101 - the only database there is
        with contextlib.closing(sqlite3.connect(target)) as copy:
            _fill_copy(source, copy, target)
            verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
    if verdict != "ok":
        raise CorruptArchiveError(
            f"The copy {target.name} is not sound: {verdict}.",
            "The shop file itself may be damaged; keep all older copies.",
        )


def _fill_copy(source: sqlite3.Connection, copy: sqlite3.Connection, target: Path) -> None:
    with translated(target):
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it


@dataclass(frozen=True, slots=True)
class Upgrade:
    """What an upgrade did.

    Parameters
    ----------
    from_schema, to_schema : str
    copy : Backup or None
        The file as it was before; None when it was up to date already.
    """

    from_schema: str
    to_schema: str
    copy: Backup | None


def upgrade(path: Path) -> Upgrade:
    """Bring a shop file to the newest schema, after copying it beside itself.

    Raises
    ------
    NotFoundError, CorruptArchiveError, SchemaTooNewError
        As for opening.
    ArchiveWriteError
        The copy or the file cannot be written; the file is as it was.
    """
    files.check_header(path)
    if files.access_to(path) is not files.Access.WRITE:
        raise ArchiveWriteError(
            f"{path.name} cannot be upgraded where it lies.",
            "Copy it into a folder that may be written and upgrade the copy.",
        )
    found = files.schema_in(path, files.Access.WRITE)
    try:
        files.refuse_other_schema(path, found)
    except SchemaTooOldError:
        return _upgrade(path, found)
    return Upgrade(found, found, None)


def _copy_of(path: Path, found: str, suffix: str) -> Path:
    """Name beside a shop for its copy of an older schema; a copy a moment ago keeps its own."""
    moment = datetime.now(UTC)
    while True:
        name = f"{path.stem} schema {found} {moment:%Y%m%dT%H%M%SZ}{suffix}"
        if not path.with_name(name).exists():
            return path.with_name(name)
        moment += timedelta(seconds=1)


def _upgrade(path: Path, found: str) -> Upgrade:
    engine = files.make_engine(path)
    try:
        copy = backup(engine, path, _copy_of(path, found, path.suffix))
        schema.migrate(engine, path)
    finally:
        engine.dispose()
    return Upgrade(found, schema.newest(), copy)


def upgrade_server(place: Path | str, folder: Path) -> Upgrade:
    """Bring a database on a server to the newest schema, after copying it into a shop file.

    All steps are one transaction: if one fails, the database is as it was.

    Parameters
    ----------
    place : Path or str
        Address of the database.
    folder : Path
        Where the copy is kept.

    Raises
    ------
    NotFoundError, SchemaTooNewError
        As for opening.
    ArchiveBusyError
        Another program has the shop open.
    ArchiveWriteError
        The copy cannot be written; nothing was changed.
    """
    name = server.shown(place)
    engine = server.make_engine(place)
    try:
        with server.translated(name):
            found = server.schema_in(engine)
            try:
                server.refuse_other_schema(name, found)
            except SchemaTooOldError:
                server.refuse_company(engine, name)
                folder.mkdir(parents=True, exist_ok=True)
                target = _copy_of(folder / name.name, str(found), ".shop")
                copy = backup_of_server(engine, target, str(found))
                server.bring_to_newest(engine)
                return Upgrade(str(found), schema.newest(), copy)
    finally:
        engine.dispose()
    return Upgrade(str(found), str(found), None)
