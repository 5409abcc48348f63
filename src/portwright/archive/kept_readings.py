"""Readings of runs that were read before, kept in memory while the shop is open."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from sqlalchemy import Connection, func, select

from portwright.archive import tables
from portwright.model.run import Reading

_MOST_RUNS = 1500  # about 20 MB
_BATCH = 500  # SQLite limits the number of values in one question

Readings = dict[int, tuple[Reading, ...]]


class KeptReadings:
    """Readings by run, each with the rows it was made from.

    Rows of readings are only ever added, so what was read stays true until the run has more of
    them.
    """

    def __init__(self) -> None:
        self._kept: dict[int, tuple[tuple[int, int], tuple[Reading, ...]]] = {}
        self._turn = threading.Lock()

    def get(
        self, connection: Connection, runs: Sequence[int], read: Callable[[Sequence[int]], Readings]
    ) -> Readings:
        """Readings of these runs; ``read`` fetches those that are new or have more rows now."""
        rows = _rows(connection, runs)
        with self._turn:
            kept = {r: self._kept[r] for r in rows if r in self._kept}
        known = {r: readings for r, (state, readings) in kept.items() if state == rows[r]}
        missing = [r for r in rows if r not in known]
        if missing:
            fresh = read(missing)
            known |= fresh
            with self._turn:
                for r in missing:
                    self._kept.pop(r, None)  # to the end: the longest unread goes first
                    self._kept[r] = (rows[r], fresh.get(r, ()))
                while len(self._kept) > _MOST_RUNS:
                    del self._kept[next(iter(self._kept))]
        return known


def _rows(connection: Connection, runs: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Newest row and number of rows of each run, answered by the index alone."""
    reading = tables.reading.c
    found: dict[int, tuple[int, int]] = {}
    for start in range(0, len(runs), _BATCH):
        query = (
            select(reading.run_id, func.max(reading.id), func.count())
            .where(reading.run_id.in_(runs[start : start + _BATCH]))
            .group_by(reading.run_id)
        )
        found |= {run: (newest, count) for run, newest, count in connection.execute(query)}
    return found
