"""The same archive on a PostgreSQL server, for a shop with many benches.

Same tables, same guards against changing raw rows.  Several programs write at once: entering at a
bench locks only its own run, everything else takes turns through a lock of the database.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, inspect, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DataError, NoSuchModuleError, SQLAlchemyError

from portwright.archive import schema, tables
from portwright.errors import (
    ArchiveBusyError,
    ArchiveError,
    ArchiveWriteError,
    InputError,
    NotFoundError,
    SchemaTooNewError,
    SchemaTooOldError,
)

_LOCK = 0x50575254  # the number under which writers of this program take turns
_REFUSE = """
CREATE OR REPLACE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  IF TG_OP = 'UPDATE' AND TG_TABLE_NAME = 'calibration' THEN
    RAISE EXCEPTION 'a calibration is never changed, only followed by a newer version';
  ELSIF TG_OP = 'UPDATE' THEN
    RAISE EXCEPTION '% rows are never changed, only replaced', TG_TABLE_NAME;
  END IF;
  RAISE EXCEPTION '% rows are never deleted', TG_TABLE_NAME;
END $$
"""
_PREFIX = re.compile(r"^postgres(ql)?:[/\\]+")


def is_address(place: Path | str) -> bool:
    """Whether this names a database on a server and not a file."""
    return bool(_PREFIX.match(str(place)))


def address(place: Path | str) -> str:
    """The address of a database, also where it went through a path and lost a stroke.

    Raises
    ------
    InputError
        Not an address.
    """
    plain = _PREFIX.sub("postgresql+psycopg://", str(place)).replace("\\", "/")
    try:
        url = make_url(plain)
    except ArgumentError as error:
        raise InputError(
            f"'{plain}' is not an address of a database.", "Like postgresql://user@server/shop."
        ) from error
    if not url.database:
        raise InputError("The address names no database.", "Like postgresql://user@server/shop.")
    return url.render_as_string(hide_password=False)


def shown(place: Path | str) -> Path:
    """Name of the database as errors and screens show it, without user and password."""
    return Path(f"{make_url(address(place)).database}.shop")


def make_engine(place: Path | str) -> Engine:
    """Engine for a database; a connection that went away is made again.

    Raises
    ------
    InputError
        Not an address, or the part of Portwright for servers is not installed.
    """
    try:
        return create_engine(
            address(place),
            pool_pre_ping=True,
            pool_size=20,
            max_overflow=40,
            json_serializer=lambda value: json.dumps(
                value, ensure_ascii=False, allow_nan=False, separators=(",", ":")
            ),
        )
    except (ImportError, NoSuchModuleError) as error:
        raise InputError(
            "The part of Portwright for servers is not installed.",
            "Install it with: pip install 'portwright[postgres]'.",
        ) from error


@contextmanager
def translated(place: Path) -> Iterator[None]:
    """Turn errors of the server into ours."""
    try:
        yield
    except SQLAlchemyError as error:
        raise translate(error, place) from error
    except (UnicodeEncodeError, OverflowError) as error:
        raise InputError(
            f"A value cannot be stored in {place.name}: {error}.",
            "Look for odd characters or absurdly large whole numbers; nothing was changed.",
        ) from error


def translate(error: SQLAlchemyError, place: Path) -> Exception:
    """Our error for one of the server's, by its SQLSTATE."""
    orig = getattr(error, "orig", None)
    state = str(getattr(orig, "sqlstate", "") or "")
    if state.startswith(("40", "55")):
        return ArchiveBusyError(
            f"{place.name} is in use by another program.", "Try again; nothing was changed."
        )
    if state.startswith("53"):
        return ArchiveWriteError(
            f"The server with {place.name} has no space or memory left.", "Nothing was changed."
        )
    if state.startswith("22") or isinstance(error, DataError):  # some the driver itself refuses
        return InputError(
            f"A value cannot be stored in {place.name}: {orig}.", "Nothing was changed."
        )
    if not state or state.startswith(("08", "57", "28", "3D")):
        return ArchiveBusyError(
            f"The server with {place.name} cannot be reached: {_first_line(orig)}.",
            "Check that it runs, and user and password; nothing was changed.",
        )
    return ArchiveError(f"{place.name} refused: {_first_line(orig)}.", "Nothing was changed.")


def _first_line(error: object) -> str:
    lines = str(error).strip().splitlines()
    return lines[0] if lines else "no reason given"


def guards() -> tuple[tuple[str, str], ...]:
    """Tables and what may not be done to their rows, as a shop file of the newest schema has it."""
    return _guards_at(schema.LOCATION)


@cache
def _guards_at(_steps: Path) -> tuple[tuple[str, str], ...]:
    from sqlalchemy.pool import StaticPool  # noqa: PLC0415 - only when a database is made

    engine = create_engine("sqlite://", poolclass=StaticPool)
    try:
        schema.migrate(engine, Path("new.shop"))
        with engine.connect() as connection:
            dbapi = connection.connection.dbapi_connection
            if not isinstance(dbapi, sqlite3.Connection):
                raise TypeError("not the database that was made")
            names = dbapi.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            found = [re.fullmatch(r"(.+)_no_(update|delete)", name) for (name,) in names]
    finally:
        engine.dispose()
    return tuple((m[1], m[2]) for m in found if m)


def create(place: Path | str) -> Engine:
    """Make the tables in an empty database.

    Raises
    ------
    ArchiveWriteError
        There are tables in it already.
    ArchiveError
        The server refuses.
    """
    engine = make_engine(place)
    try:
        with translated(shown(place)), engine.begin() as connection:
            _make_tables(connection, shown(place))
    except BaseException:
        engine.dispose()
        raise
    return engine


def _make_tables(connection: Connection, name: Path) -> None:
    if inspect(connection).get_table_names():
        raise ArchiveWriteError(f"The database {name.stem} is not empty.", "Make a new, empty one.")
    tables.metadata.create_all(connection)
    connection.execute(text("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL)"))
    connection.execute(
        text("INSERT INTO alembic_version VALUES (:name)"), {"name": schema.newest()}
    )
    connection.execute(
        text(
            "CREATE FUNCTION fold(given text) RETURNS text LANGUAGE sql IMMUTABLE AS "
            "$$ SELECT replace(lower(coalesce(given, '') COLLATE \"und-x-icu\"), 'ß', 'ss') $$"
        )
    )
    _put_guards(connection)


def _put_guards(connection: Connection) -> None:
    """Put every guard in place that is not there yet."""
    connection.execute(text(_REFUSE))
    there = {
        str(name)
        for (name,) in connection.execute(
            text("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        )
    }
    for table, what in guards():
        when = f"WHEN (OLD.reason <> '{tables.STAND_IN}') " if table == "calibration" else ""
        condition = when if what == "update" else ""
        each = [(what, f"FOR EACH ROW {condition}")]
        if what == "delete":
            each.append(("truncate", "FOR EACH STATEMENT "))  # empties a table past all others
        for kind, how in each:
            if f"{table}_no_{kind}" not in there:
                connection.execute(
                    text(
                        f"CREATE TRIGGER {table}_no_{kind} BEFORE {kind.upper()} ON {table} "
                        f"{how}EXECUTE FUNCTION refuse()"
                    )
                )


def schema_in(engine: Engine) -> str | None:
    """Schema of a database, None where there is no shop in it."""
    with engine.connect() as connection:
        if not inspect(connection).has_table("alembic_version"):
            return None
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        return None if found is None else str(found)


def refuse_company(engine: Engine, name: Path) -> None:
    """Go on only where no other program has the shop open.

    Raises
    ------
    ArchiveBusyError
    """
    with engine.connect() as connection:
        others = connection.execute(
            text(
                "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
                "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
            )
        ).scalar()
    if others:
        raise ArchiveBusyError(
            f"{others} other programs have the shop {name.stem} open.",
            "Close Portwright on every computer, then try again; nothing was changed.",
        )


def bring_to_newest(engine: Engine) -> None:
    """Take every step to the newest schema in one transaction, guards of new tables included."""
    with engine.begin() as connection:
        take_turn(connection, beside=False)
        schema.migrate_server(connection)
        _put_guards(connection)


def open_database(place: Path | str) -> Engine:
    """Open a database of the current schema.

    Raises
    ------
    NotFoundError
        No shop in it.
    SchemaTooOldError, SchemaTooNewError
    ArchiveBusyError
        The server cannot be reached.
    """
    engine = make_engine(place)
    name = shown(place)
    try:
        with translated(name):
            refuse_other_schema(name, schema_in(engine))
    except BaseException:
        engine.dispose()
        raise
    return engine


def refuse_other_schema(name: Path, found: str | None) -> None:
    """Open only the schema this version knows to read.

    Raises
    ------
    NotFoundError, SchemaTooOldError, SchemaTooNewError
    """
    if found is None:
        raise NotFoundError(
            f"There is no shop in the database {name.stem}.",
            "Move one there: portwright move-shop FILE ADDRESS.",
        )
    if found in schema.names()[:-1]:
        raise SchemaTooOldError(
            f"The database {name.stem} was made by an older Portwright (schema {found}).",
            "Close Portwright everywhere, then run: portwright upgrade --shop ADDRESS. "
            "A copy is made.",
        )
    if found != schema.newest():
        raise SchemaTooNewError(
            f"The database {name.stem} was made by a newer Portwright (schema {found}).",
            "Update Portwright on this computer; the database was not touched.",
        )


def take_turn(connection: Connection, *, beside: bool) -> None:
    """Wait for the turn to write; ``beside`` lets others enter readings at the same time."""
    if connection.dialect.name == "postgresql":
        kind = "_shared" if beside else ""
        connection.execute(text(f"SELECT pg_advisory_xact_lock{kind}({_LOCK})"))


def renumber(connection: Connection) -> None:
    """Let ids go on after the highest one, where ids were given by hand."""
    if connection.dialect.name != "postgresql":
        return
    for table in tables.metadata.sorted_tables:
        if "id" in table.c:
            connection.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "  # noqa: S608
                    f"(SELECT coalesce(max(id), 0) + 1 FROM {table.name}), false)"
                )
            )
