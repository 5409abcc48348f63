"""A whole shop from one place to another, every row compared afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Engine, MetaData, Table, insert, select

from portwright.archive import server, tables
from portwright.errors import CorruptArchiveError

_AT_ONCE = 500  # rows


@dataclass(frozen=True, slots=True)
class Moved:
    """What was copied and found the same in both places.

    Parameters
    ----------
    rows : dict of str to int
        Number of rows by table.
    """

    rows: dict[str, int]


def copy_all(source: Engine, target: Engine, kept: MetaData = tables.metadata) -> Moved:
    """Copy every row of every table into empty tables and compare all of them, value by value.

    All of it is there, or nothing: copying and comparing are one transaction.

    Parameters
    ----------
    source, target : Engine
    kept : MetaData
        The tables; those of an older schema for a copy of an older shop.

    Raises
    ------
    CorruptArchiveError
        A row came out differently; nothing was kept.
    """
    counts: dict[str, int] = {}
    writing = {"writing": True}
    with (
        _steady(source) as here,
        target.connect().execution_options(**writing) as there,
        there.begin(),
    ):
        for table in kept.sorted_tables:
            many = []
            for row in _rows(here, table):
                many.append(row)
                if len(many) == _AT_ONCE:
                    there.execute(insert(table), many)
                    many = []
            if many:
                there.execute(insert(table), many)
        server.renumber(there)
        for table in kept.sorted_tables:
            counts[table.name] = _compare(here, there, table)
    return Moved(counts)


def _steady(engine: Engine) -> Connection:
    """A connection that sees one moment of the shop however long it takes."""
    connection = engine.connect()
    if connection.dialect.name == "postgresql":
        connection = connection.execution_options(isolation_level="REPEATABLE READ")
    return connection


def _rows(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    key = list(table.primary_key.columns)
    result = connection.execution_options(yield_per=_AT_ONCE).execute(select(table).order_by(*key))
    for row in result.mappings():
        yield dict(row)


def _compare(here: Connection, there: Connection, table: Table) -> int:
    ours = {_key(table, row): row for row in _rows(here, table)}
    number = 0
    for row in _rows(there, table):
        number += 1
        if ours.get(_key(table, row)) != row:
            raise _different(table)
    if number != len(ours):
        raise _different(table)
    return number


def _key(table: Table, row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[column.name] for column in table.primary_key.columns)


def _different(table: Table) -> CorruptArchiveError:
    return CorruptArchiveError(
        f"A row of {table.name} came out differently where it was copied to.",
        "Nothing was kept there; the shop is as it was.",
    )
