"""Make the stored shop file of the schema this Portwright writes.

Run once when a schema is released: ``python -m tests.archive.schemas.make_schema_file``.
A file once stored is never made again.
"""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from portwright.archive import schema
from portwright.archive.archive import Archive
from tests.archive import archive_values as values


def make(path: Path) -> None:
    """A shop with one of everything, a correction, a withdrawal, a mark and a photo."""
    with Archive.create(path) as archive:
        archive.save(values.shop())
        first, _, third = archive.readings("J-1", "R1")
        archive.add_reading("J-1", "R1", values.reading("1", "21.5"), first.id, "misread")
        archive.withdraw_reading("J-1", "R1", third.id, "plug fell out")
        archive.mark_run("J-1", "R1", "cold bench")
        archive.add_attachment("J-1", b"pixels", "port.jpg", "image/jpeg", subject="I1")
        archive.save_setting("theme", {"dark": True})
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
        connection.execute("VACUUM")


if __name__ == "__main__":
    make(Path(__file__).with_name(f"{schema.newest()}.shop"))
