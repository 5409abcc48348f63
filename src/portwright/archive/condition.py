"""The condition a shop is in where it is stored: sound or not, its schema, how much is in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, func, select, text

from portwright.archive import server, tables


@dataclass(frozen=True, slots=True)
class Condition:
    """What a look at the stored shop found.

    Parameters
    ----------
    schema : str
    database : str
        Name and version of the database program.
    size : int
        [bytes]
    problems : tuple of str
        Empty when it is sound.
    rows : dict of str to int
        Number of rows by table.
    newest_change : str
        When the last change was stored, ISO, UTC; "" when none is logged.
    """

    schema: str
    database: str
    size: int
    problems: tuple[str, ...]
    rows: dict[str, int]
    newest_change: str

    @property
    def sound(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.problems


def look(connection: Connection, path: Path) -> Condition:
    """Check every page, every reference and every guard of a shop, and count its rows."""
    on_server = connection.dialect.name == "postgresql"
    problems = [] if on_server else _damage(connection)
    problems += _missing_guards(connection, on_server=on_server)
    rows = {
        table.name: int(connection.execute(select(func.count()).select_from(table)).scalar() or 0)
        for table in tables.metadata.sorted_tables
    }
    newest = connection.execute(select(func.max(tables.change_log.c.at))).scalar()
    schema = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    name = "PostgreSQL" if on_server else "SQLite"
    version = ".".join(map(str, connection.dialect.server_version_info or ()))
    return Condition(
        str(schema or ""),
        f"{name} {version}",
        _size(connection, path, on_server=on_server),
        tuple(problems),
        rows,
        str(newest or ""),
    )


def _damage(connection: Connection) -> list[str]:
    found = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA integrity_check")]
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    problems = [] if found == ["ok"] else found
    return problems + ([f"{len(loose)} rows belong to nothing"] if loose else [])


def _missing_guards(connection: Connection, *, on_server: bool) -> list[str]:
    """Guards against changing raw rows that somebody took away."""
    query = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
        if on_server
        else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    )
    there = {str(row[0]) for row in connection.execute(text(query))}
    wanted = {f"{table}_no_{what}" for table, what in server.guards()}
    return [f"the guard {name} is gone" for name in sorted(wanted - there)]


def _size(connection: Connection, path: Path, *, on_server: bool) -> int:
    if on_server:
        query = text("SELECT pg_database_size(current_database())")
        return int(connection.execute(query).scalar() or 0)
    log = path.with_name(path.name + "-wal")
    return sum(one.stat().st_size for one in (path, log) if one.exists())
