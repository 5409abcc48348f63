"""Opening, creating and guarding the shop file."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry

from portwright.errors import (
    ArchiveBusyError,
    ArchiveError,
    ArchiveWriteError,
    CorruptArchiveError,
    NotFoundError,
    SchemaTooNewError,
    SchemaTooOldError,
)

APPLICATION_ID = 0x50575254  # "PWRT" in the file header says whose file it is
_SQLITE_MAGIC = b"SQLite format 3\x00"
_BUSY_TIMEOUT_MS = 10_000


@contextlib.contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn database errors into ours, with what to do about them."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error) as error:
        raise _translate(error, path) from error


def _translate(error: Exception, path: Path) -> ArchiveError:
    text = str(getattr(error, "orig", error)).lower()
    if "locked" in text or "busy" in text:
        return ArchiveBusyError(
            f"The shop file {path.name} is in use by another program.",
            "Close the other program or wait, then try again; nothing was changed.",
        )
    if "full" in text:
        return ArchiveWriteError(
            f"The disk with {path.name} is full.", "Free some space; nothing was changed."
        )
    if "readonly" in text or "read-only" in text or "unable to open" in text:
        return ArchiveWriteError(
            f"The shop file {path.name} cannot be written.",
            "Check that the folder exists and may be written; nothing was changed.",
        )
    if "malformed" in text or "not a database" in text or "corrupt" in text:
        return CorruptArchiveError(
            f"The shop file {path.name} is damaged.", "Restore the newest backup copy."
        )
    return ArchiveError(f"The shop file {path.name} refused: {getattr(error, 'orig', error)}.")


def make_engine(path: Path) -> Engine:
    """Engine for a shop file: WAL, full sync, foreign keys, explicit transactions.

    Full sync means that a committed reading survives a power cut, not only a crash.
    """
    engine = create_engine(
        URL.create("sqlite", database=str(path)), connect_args={"timeout": _BUSY_TIMEOUT_MS / 1000}
    )

    @event.listens_for(engine, "connect")
    def _prepare(dbapi: sqlite3.Connection, _record: ConnectionPoolEntry) -> None:
        dbapi.isolation_level = None  # transactions are begun by hand below
        cursor = dbapi.cursor()
        for pragma in (
            "foreign_keys=ON",
            f"busy_timeout={_BUSY_TIMEOUT_MS}",
            "synchronous=FULL",
        ):
            cursor.execute(f"PRAGMA {pragma}")
        if os.access(path, os.W_OK):
            cursor.execute("PRAGMA journal_mode=WAL")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # A reader that later writes cannot wait for the lock, so writers take it at once.
        writing = connection.get_execution_options().get("writing", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    return engine


def _alembic(connection: Connection | None = None) -> Config:
    config = Config()
    location = resources.files("portwright.archive") / "migrations"
    config.set_main_option("script_location", str(location).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def newest_schema() -> str:
    """Name of the schema this version of Portwright writes."""
    head = ScriptDirectory.from_config(_alembic()).get_current_head()
    return head or ""


def create_file(path: Path) -> Engine:
    """Make a new, empty shop file.

    Raises
    ------
    ArchiveWriteError
        The file exists already, or the folder cannot be written.
    """
    if path.exists():
        raise ArchiveWriteError(
            f"There is already a file {path.name}.", "Open it, or choose another name."
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    except OSError as error:
        raise ArchiveWriteError(
            f"The shop file {path.name} cannot be made in {path.parent}.",
            "Choose a folder that may be written.",
        ) from error
    engine = make_engine(path)
    try:
        with translated(path), engine.connect() as connection:
            connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
            connection.commit()
        migrate(engine, path)
    except ArchiveError:
        engine.dispose()
        with contextlib.suppress(OSError):
            path.unlink()
        raise
    return engine


def migrate(engine: Engine, path: Path) -> None:
    """Bring the file to the newest schema in one transaction."""
    with translated(path), engine.connect() as raw:
        connection = raw.execution_options(writing=True)
        with connection.begin():
            command.upgrade(_alembic(connection), "head")


def open_file(path: Path) -> Engine:
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
    if not path.is_file():
        raise NotFoundError(
            f"There is no shop file {path}.", "Run 'portwright demo' or give --shop FILE."
        )
    _check_header(path)
    engine = make_engine(path)
    try:
        _check_schema(engine, path)
    except ArchiveError:
        engine.dispose()
        raise
    return engine


def _check_header(path: Path) -> None:
    try:
        with path.open("rb") as stream:
            header = stream.read(100)
    except OSError as error:
        raise ArchiveError(
            f"The shop file {path.name} cannot be read.", "Check its permissions."
        ) from error
    if len(header) < 100 or not header.startswith(_SQLITE_MAGIC):
        raise CorruptArchiveError(
            f"{path.name} is not a shop file.", "Choose a file made by Portwright."
        )
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise CorruptArchiveError(
            f"{path.name} is a database of another program.", "Choose a file made by Portwright."
        )


def _check_schema(engine: Engine, path: Path) -> None:
    with translated(path), engine.connect() as connection:
        current = MigrationContext.configure(connection).get_current_revision()
    known = {s.revision for s in ScriptDirectory.from_config(_alembic()).walk_revisions()}
    if current == newest_schema():
        return
    if current in known:
        raise SchemaTooOldError(
            f"{path.name} was made by an older Portwright (schema {current}).",
            "Run 'portwright upgrade'; a copy of the file is kept.",
        )
    raise SchemaTooNewError(
        f"{path.name} was made by a newer Portwright (schema {current}).",
        "Update Portwright on this computer; the file was not touched.",
    )
