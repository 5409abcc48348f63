"""Entries of a job's card: appended, replaced or taken back, never altered."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import UTC, datetime

from portwright.errors import UnknownNameError
from portwright.model.entry import EntryKind, JobEntry
from portwright.services.shop_file import ShopFile


def now() -> str:
    """Present moment, UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def current(entries: Iterable[JobEntry]) -> list[JobEntry]:
    """Entries that count: neither replaced by a newer one nor taken back."""
    known = list(entries)
    replaced = {e.replaces for e in known if e.replaces}
    return [e for e in known if e.key not in replaced and e.kind is not EntryKind.WITHDRAWN]


def enter(
    shop: ShopFile,
    job: str,
    kind: EntryKind,
    cells: dict[str, str],
    *,
    author: str = "",
    at: str = "",
) -> str:
    """Append an entry to the card and give its key."""
    entry = JobEntry(uuid.uuid4().hex, kind, at or now(), cells, author)
    shop.add_entry(job, entry)
    return entry.key


def take_back(shop: ShopFile, job: str, key: str) -> None:
    """Take an entry back; it stays in the file, marked so.

    Raises
    ------
    UnknownNameError
    """
    keys = [e.key for e in current(shop.job(job).entries)]
    if key not in keys:
        raise UnknownNameError("entry", key, keys)
    shop.add_entry(job, JobEntry(uuid.uuid4().hex, EntryKind.WITHDRAWN, now(), {}, replaces=key))
