"""Schemas of the shop file and the steps between them."""

from __future__ import annotations

import importlib
from functools import cache
from importlib import resources
from pathlib import Path

from sqlalchemy import Connection, Engine

from portwright.archive.faults import translated
from portwright.errors import CorruptArchiveError

# Alembic takes half a second to load and is needed only to create or upgrade a file.
LOCATION = Path(str(resources.files("portwright.archive") / "migrations"))


@cache
def _names_in(location: Path) -> tuple[str, ...]:
    steps = (location / "versions").glob("[0-9]*_*.py")
    return tuple(sorted(step.name.partition("_")[0] for step in steps))


def names() -> tuple[str, ...]:
    """Every schema this version of Portwright knows, oldest first."""
    return _names_in(LOCATION)


def newest() -> str:
    """Name of the schema this version of Portwright writes."""
    return names()[-1]


def _alembic(connection: Connection, to: str) -> None:
    """Take all steps up to a schema within a transaction that has begun."""
    command = importlib.import_module("alembic.command")
    config = importlib.import_module("alembic.config").Config()
    config.set_main_option("script_location", str(LOCATION).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)


def migrate_server(connection: Connection) -> None:
    """Bring a database on a server to the newest schema, within a transaction that has begun."""
    _alembic(connection, "head")


def migrate(engine: Engine, path: Path, to: str = "head") -> None:
    """Bring the file to the newest schema, or an older one, in one transaction.

    Raises
    ------
    CorruptArchiveError
        Rows would refer to others that are not there; nothing was changed.
    """
    with translated(path), engine.connect() as raw:
        dbapi = raw.connection.dbapi_connection
        assert dbapi is not None  # noqa: S101 - a fresh connection always has one
        dbapi.execute("PRAGMA foreign_keys=OFF")  # tables are rebuilt while others point at them
        try:
            connection = raw.execution_options(writing=True)
            with connection.begin():
                _alembic(connection, to)
                broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                if broken:
                    raise CorruptArchiveError(
                        f"{path.name} has {len(broken)} rows that belong to nothing.",
                        "The file was left as it was; restore a backup copy.",
                    )
        finally:
            dbapi.execute("PRAGMA foreign_keys=ON")
