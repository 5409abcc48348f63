"""Opening, creating and guarding the shop file."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from enum import StrEnum
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from portwright.archive import schema
from portwright.archive.faults import damaged, result_code, translate, translated
from portwright.errors import (
    ArchiveError,
    ArchiveWriteError,
    CorruptArchiveError,
    NotFoundError,
    SchemaTooNewError,
    SchemaTooOldError,
)

APPLICATION_ID = 0x50575254  # "PWRT" in the file header says whose file it is
_SQLITE_MAGIC = b"SQLite format 3\x00"
_HEADER_SIZE = 100  # bytes, SQLite file format section 1.3
_BUSY_TIMEOUT_MS = 10_000


class Access(StrEnum):
    """How far a shop file may be used where it lies."""

    WRITE = "write"
    READ = "read"  # another program has it open for writing, we may only read
    FROZEN = "frozen"  # nobody can write it here: read-only disk, folder or file


def _connect(path: Path, access: Access) -> sqlite3.Connection:
    place = path.resolve().as_posix()
    query = {Access.WRITE: "mode=rw", Access.READ: "mode=ro", Access.FROZEN: "immutable=1"}[access]
    uri = f"file:{'//' if place.startswith('/') else '///'}{quote(place)}?{query}"
    return sqlite3.connect(
        uri,
        uri=True,
        timeout=_BUSY_TIMEOUT_MS / 1000,
        isolation_level=None,  # transactions are begun by hand below
        check_same_thread=False,  # the pool hands a connection to one thread at a time
    )


def access_to(path: Path) -> Access:
    """How far the file may be used, found by trying.

    Write-ahead logging needs two small files beside the shop file.  Where they cannot be made,
    the file is read as it lies, which is safe only because nobody can write it there; a log
    with content that cannot be read along is an error, never silently left out.

    Raises
    ------
    ArchiveWriteError
        The file cannot even be read without its log.
    """
    error: sqlite3.Error | None = None
    for access in Access:
        if access is Access.FROZEN and has_log(path):
            break
        try:
            with contextlib.closing(_connect(path, access)) as probe:
                probe.execute("SELECT count(*) FROM sqlite_master")
                if access is Access.WRITE:
                    _try_to_write(probe)
        except UnicodeDecodeError as failure:  # damaged text in the database's own complaint
            raise damaged(path) from failure
        except sqlite3.Error as failure:
            code = result_code(failure)
            if code in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
                return access
            if code not in {
                sqlite3.SQLITE_READONLY,
                sqlite3.SQLITE_CANTOPEN,
                sqlite3.SQLITE_PERM,
                sqlite3.SQLITE_IOERR,
            }:
                raise translate(failure, path) from failure
            error = failure
        else:
            return access
    raise ArchiveWriteError(
        f"{path.name} has unfinished changes in {_log(path).name} that cannot be read here.",
        "Copy both files into a folder that may be written and open the copy.",
    ) from error


def _try_to_write(probe: sqlite3.Connection) -> None:
    """A write that is taken back: only this shows a file opened for reading by permissions."""
    version = probe.execute("PRAGMA user_version").fetchone()[0]
    probe.execute("PRAGMA busy_timeout=0")
    probe.execute("BEGIN IMMEDIATE")
    probe.execute(f"PRAGMA user_version={int(version)}")
    probe.execute("ROLLBACK")


def _log(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


def has_log(path: Path) -> bool:
    """Whether changes lie in the log beside the file."""
    try:
        return _log(path).stat().st_size > 0
    except OSError:
        return False


def make_engine(path: Path, access: Access = Access.WRITE) -> Engine:
    """Engine for a shop file: WAL, full sync, foreign keys, explicit transactions.

    Full sync means that a committed reading survives a power cut, not only a crash.
    """
    engine = create_engine(
        "sqlite://",
        creator=lambda: _connect(path, access),
        poolclass=QueuePool,
        max_overflow=-1,  # readers never wait for one another
        json_serializer=lambda value: json.dumps(
            value, ensure_ascii=False, allow_nan=False, separators=(",", ":")
        ),
    )

    @event.listens_for(engine, "connect")
    def _prepare(dbapi: sqlite3.Connection, _record: ConnectionPoolEntry) -> None:
        dbapi.create_function("fold", 1, _fold, deterministic=True)
        for pragma in (
            "foreign_keys=ON",
            "synchronous=FULL",
            "cell_size_check=ON",  # notice damaged pages early
            "trusted_schema=OFF",  # a shop file from elsewhere runs no surprises
        ):
            dbapi.execute(f"PRAGMA {pragma}")
        if access is Access.WRITE:
            _use_log(dbapi)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # A reader that later writes cannot wait for the lock, so writers take it at once.
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _fold(text: object) -> str:
    """Text for searching, upper and lower case alike in every alphabet."""
    return "" if text is None else str(text).casefold()


def _use_log(dbapi: sqlite3.Connection) -> None:
    try:
        dbapi.execute("PRAGMA journal_mode=WAL")
    except sqlite3.OperationalError as error:
        # Another program is reading the file just now: without the log works as well.
        if result_code(error) not in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
            raise


def create_file(path: Path, to: str = "head") -> Engine:
    """Make a new, empty shop file of the newest schema, or of an older one for a copy.

    Raises
    ------
    ArchiveWriteError
        The file exists already, the folder cannot be written or the disk is full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.open("xb").close()
    except FileExistsError as error:
        raise ArchiveWriteError(
            f"There is already a file {path.name}.", "Open it, or choose another name."
        ) from error
    except OSError as error:
        raise ArchiveWriteError(
            f"The shop file {path.name} cannot be made in {path.parent}.",
            "Choose a folder that may be written.",
        ) from error
    try:
        with translated(path), contextlib.closing(_connect(path, Access.WRITE)) as plain:
            # Before any log exists, so that the header says whose file it is after any crash.
            plain.execute(f"PRAGMA application_id={APPLICATION_ID}")
        engine = make_engine(path)
        try:
            schema.migrate(engine, path, to)
        except BaseException:
            engine.dispose()
            raise
    except ArchiveError:
        for leftover in (path, _log(path), path.with_name(path.name + "-shm")):
            with contextlib.suppress(OSError):
                leftover.unlink()
        raise
    return engine


def open_file(path: Path) -> tuple[Engine, Access]:
    """Open an existing shop file of the current schema.

    Raises
    ------
    NotFoundError
        No such file.
    CorruptArchiveError
        Not a shop file, or damaged.
    SchemaTooOldError, SchemaTooNewError
        Written by another version.
    """
    check_header(path)
    access = access_to(path)
    refuse_other_schema(path, schema_in(path, access))
    return make_engine(path, access), access


def check_header(path: Path) -> None:
    """Refuse what is not a shop file before any database looks at it.

    Raises
    ------
    NotFoundError
    CorruptArchiveError
    ArchiveError
        The file may not be read.
    """
    if not path.is_file():
        raise NotFoundError(
            f"There is no shop file {path}.", "Run 'portwright demo' or give --shop FILE."
        )
    try:
        with path.open("rb") as stream:
            header = stream.read(_HEADER_SIZE)
    except OSError as error:
        raise ArchiveError(
            f"The shop file {path.name} cannot be read.", "Check its permissions."
        ) from error
    if not header:
        raise CorruptArchiveError(
            f"{path.name} is empty.", "Restore a backup copy, or delete it and make a new one."
        )
    if len(header) < _HEADER_SIZE or not header.startswith(_SQLITE_MAGIC):
        raise CorruptArchiveError(
            f"{path.name} is not a shop file.", "Choose a file made by Portwright."
        )
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise CorruptArchiveError(
            f"{path.name} is a database of another program.", "Choose a file made by Portwright."
        )
    _refuse_cut_off(path, header)


def _refuse_cut_off(path: Path, header: bytes) -> None:
    """Refuse a file shorter than its own head says, whatever the missing end held.

    While a log stands beside the file the two belong together and the database judges them.
    """
    log = path.with_name(path.name + "-wal")
    if header[24:28] != header[92:96] or (log.exists() and log.stat().st_size > 0):
        return  # the head was not written by the last change, or the log has newer pages
    size = int.from_bytes(header[16:18], "big")
    page = 65536 if size == 1 else size
    pages = int.from_bytes(header[28:32], "big")
    if path.stat().st_size < page * pages:
        raise CorruptArchiveError(
            f"{path.name} was cut off; its end is missing.",
            "Restore the newest backup, and keep this file.",
        )


def schema_in(path: Path, access: Access) -> str:
    """Schema of a file, read without changing a byte of it."""
    with translated(path), contextlib.closing(_connect(path, access)) as connection:
        found = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(found[0]) if found else ""


def refuse_other_schema(path: Path, current: str) -> None:
    """Open only the schema this version knows to read.

    Raises
    ------
    SchemaTooOldError, SchemaTooNewError
    """
    if current == schema.newest():
        return
    if current in schema.names():
        raise SchemaTooOldError(
            f"{path.name} was made by an older Portwright (schema {current}).",
            f'Run: portwright upgrade --shop "{path}". A copy of the file is kept.',
        )
    raise SchemaTooNewError(
        f"{path.name} was made by a newer Portwright (schema {current or 'unnamed'}).",
        "Update Portwright on this computer; the file was not touched.",
    )
