"""Who is at work: what that person may write, and the log of who wrote what.

Whoever serves a request says once who asks (:func:`acting`); every write inside is checked and
noted in the same transaction, so that neither can be without the other.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Delete, Insert, Update, insert, select

from portwright.archive import tables
from portwright.errors import NotAllowedError


class Role(StrEnum):
    """What a person of the shop may do, from most to least."""

    OWNER = "owner"  # everything, who else may come in too
    PORTER = "porter"  # all work; not who may come in
    APPRENTICE = "apprentice"  # enters readings, measurements, notes and photos
    GUEST = "guest"  # looks


@dataclass(frozen=True, slots=True)
class Who:
    """A person at a device.

    Parameters
    ----------
    name : str
        "" for whoever sits at this computer or knows the shop passphrase.
    role : Role
    device : str
        Address of the tablet, "" at this computer.
    """

    name: str = ""
    role: Role = Role.OWNER
    device: str = ""


_NOBODY_NAMED = Who()
_who: ContextVar[Who] = ContextVar("portwright_who", default=_NOBODY_NAMED)
_about: ContextVar[str] = ContextVar("portwright_about", default="")

# Settings that say who may come in; written by the program itself or by the owner.
DOOR = (
    "passphrase",
    "sessions",
    "session users",
    "session devices",
    "users",
    "tokens",
    "guest links",
)
# Computed from what was entered, kept for speed, made again at any time: nobody's change.
_WORKED_OUT = {"result", "port_overview", "search_line"}
# Whoever ranks or searches brings the first up to date; a search among engines writes the other.
_WORKED_OUT_SETTINGS = {"overview stamp", "engine-tries"}
_ENTERED = {"reading", "measurement", "note", "attachment", "blob", "run", "plate_check"}
# The lifts of a sweep, kept when it is begun, and the zero of the gauges, taken before it.
_AT_THE_BENCH = ("bench plan of run ", "instrument zero")
_WITH_A_RUN = {"stage", "calibration", "bench"}  # a first run brings what it names


def now_at_work() -> Who:
    """Who is at work in this request."""
    return _who.get()


@contextlib.contextmanager
def acting(who: Who) -> Iterator[None]:
    """Say who is at work for all that happens inside."""
    before = _who.set(who)
    try:
        yield
    finally:
        _who.reset(before)


@contextlib.contextmanager
def about(words: str) -> Iterator[None]:
    """Say in the log what a changed setting is about: whose role, which token."""
    before = _about.set(words)
    try:
        yield
    finally:
        _about.reset(before)


@dataclass(slots=True)
class Writes:
    """What one transaction wrote, by table and kind of statement.

    Parameters
    ----------
    rows : dict of str to dict
        Table to kind to number of rows, with the ids of single new rows and the columns changed.
    """

    rows: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def settings(self) -> list[str]:
        """Names of the settings written."""
        return list(self.rows.get("setting", {}).get("names", []))

    @property
    def door(self) -> bool:
        """Whether any of them says who may come in."""
        return bool(set(self.settings) & set(DOOR))

    def note(self, statement: Any, many: list[Any] | None, result: Any) -> None:
        """Note one executed statement if it wrote something."""
        kinds = {Insert: "added", Update: "changed", Delete: "removed"}
        kind = next((word for of, word in kinds.items() if isinstance(statement, of)), "")
        if not kind:
            return
        name = statement.table.name
        if name in _WORKED_OUT or name == tables.change_log.name:
            return
        if name == tables.setting.name:
            self._note_setting(statement)
            return
        entry = self.rows.setdefault(name, {})
        count = len(many) if many and len(many) > 1 else max(result.rowcount, 1)
        entry[kind] = entry.get(kind, 0) + count
        if kind == "added" and count == 1 and result.inserted_primary_key:
            entry.setdefault("ids", []).append(result.inserted_primary_key[0])
        if kind == "changed":
            new = {key for key in statement.compile().params if key in statement.table.c}
            entry["columns"] = sorted({*entry.get("columns", ()), *new} - {"version"})

    def _note_setting(self, statement: Any) -> None:
        if isinstance(statement, Insert):
            values = statement.compile().params
            name = str(values.get("name", ""))
            if name in _WORKED_OUT_SETTINGS:
                return
            self.rows.setdefault("setting", {}).setdefault("names", []).append(name)


def refuse(who: Who, writes: Writes) -> None:
    """Refuse what the role of a person does not allow; the transaction is taken back.

    Raises
    ------
    NotAllowedError
    """
    touched = {name for name in writes.rows if name != "setting"}
    changed = {n for n, entry in writes.rows.items() if "changed" in entry or "removed" in entry}
    allowed = {
        Role.OWNER: True,
        Role.PORTER: not writes.door,
        Role.APPRENTICE: (
            touched <= _ENTERED | _WITH_A_RUN
            and not changed
            and not writes.door
            and all(name.startswith(_AT_THE_BENCH) for name in writes.settings)
        ),
        Role.GUEST: not writes.rows,
    }
    if not allowed[who.role]:
        raise NotAllowedError(
            f"{who.name or 'This device'} is here as {who.role.value} and may not change this.",
            "Nothing was changed. Ask the owner of the shop, or log in as somebody else.",
        )


def log(connection: Connection, who: Who, writes: Writes) -> None:
    """Append one line to the log of changes."""
    if not writes.rows:
        return
    about = _about.get()
    if about and writes.settings:
        writes.rows["setting"]["about"] = about
    elif set(writes.rows) == {"setting"} and set(writes.settings) <= _OWN_BOOKS:
        return
    connection.execute(
        insert(tables.change_log).values(
            at=datetime.now(UTC).isoformat(timespec="milliseconds"),
            who=who.name,
            role=who.role.value,
            device=who.device,
            changes=writes.rows,
        )
    )


_OWN_BOOKS = {
    "sessions",
    "session users",
    "session devices",
    "backup state",
}  # kept by the program itself


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the log: a step that was stored.

    Parameters
    ----------
    at, who, role, device : str
    changes : dict
        Table to what was added or changed there.
    """

    at: str
    who: str
    role: str
    device: str
    changes: dict[str, Any]


def changes(connection: Connection, limit: int, who: str | None) -> list[Change]:
    """The newest lines of the log, newest first."""
    table = tables.change_log
    query = select(table).order_by(table.c.id.desc()).limit(limit)
    if who is not None:
        query = query.where(table.c.who == who)
    return [
        Change(row.at, row.who, row.role, row.device, row.changes)
        for row in connection.execute(query)
    ]
