"""Finding, adding and filling rows that are known by name."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, RowMapping, Table, insert, select, update

from portwright.archive import tables
from portwright.archive.rows import Row

_EMPTY: tuple[object, ...] = ("", None, {}, [])


def find(connection: Connection, table: Table, key: Mapping[str, Any]) -> RowMapping | None:
    """The row with these column values, None where there is none."""
    query = select(table)
    for name, value in key.items():
        query = query.where(table.c[name] == value)
    return connection.execute(query).mappings().first()


def add(connection: Connection, table: Table, row: Mapping[str, Any]) -> int:
    """Insert a row and give its id."""
    key = connection.execute(insert(table), dict(row)).inserted_primary_key
    return int(key[0]) if key else 0


def change(connection: Connection, table: Table, known: Row, values: Mapping[str, Any]) -> None:
    """Write columns of a row and count its version up where it has one."""
    counted = {"version": known["version"] + 1} if "version" in known else {}
    if table.name == "calibration":  # its version is its name, not a count of changes
        counted = {}
    connection.execute(
        update(table).where(table.c.id == known["id"]).values(**{**counted, **values})
    )


def touch_job(connection: Connection, job_id: int) -> None:
    """Count a job as written again, because something that belongs to it was."""
    job = tables.job
    connection.execute(update(job).where(job.c.id == job_id).values(version=job.c.version + 1))


def defaults(item: Any) -> dict[str, object]:
    """Field values that say nothing: what the model has when nobody filled the field."""
    return {
        field.name: field.default
        for field in dataclasses.fields(item)
        if field.default is not dataclasses.MISSING
    }


def compare(
    known: Row, row: Mapping[str, Any], blank: Mapping[str, object]
) -> tuple[dict[str, Any], list[str]]:
    """What a new row would fill in a stored one, and where the two disagree.

    Returns
    -------
    changes : dict
        Column values to write.
    clashes : list of str
        One text for each disagreement; the stored value stays.
    """
    changes: dict[str, Any] = {}
    clashes: list[str] = []
    for name, new in row.items():
        old = known[name]
        if new == old or _says_nothing(name, new, blank):
            continue
        if _says_nothing(name, old, blank):
            changes[name] = new
        elif isinstance(old, dict) and isinstance(new, dict):
            kept = {k: v for k, v in old.items() if v not in _EMPTY}
            merged = old | new | kept
            if merged != old:
                changes[name] = merged
            said = {k: v for k, v in new.items() if v not in _EMPTY and k in kept}
            clashes += [_clash(k, kept[k], v) for k, v in said.items() if kept[k] != v]
        else:
            clashes.append(_clash(name, old, new))
    return changes, clashes


def _says_nothing(name: str, value: object, blank: Mapping[str, object]) -> bool:
    return value in _EMPTY or (name in blank and value == blank[name])


def _clash(name: str, old: object, new: object) -> str:
    if isinstance(old, list) and len(old) > 3:
        return f"{name} (table differs)"
    return f"{name} {_short(old)}, not {_short(new)}"


def _short(value: object) -> str:
    text = " ".join(str(v) for v in value[:2]) if isinstance(value, list) else str(value)
    return f"'{text[:60]}'"
