"""The shop file as one object: open, read, write, back up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from portwright.archive import (
    attachments,
    copies,
    edit,
    live,
    move,
    overview,
    overview_stamp,
    results,
    server,
    store,
    tables,
)
from portwright.archive.copies import Backup, Upgrade
from portwright.archive.move import Moved
from portwright.archive.queries import Queries
from portwright.archive.results import RunResult
from portwright.archive.searching import SearchLine
from portwright.archive.store import SaveReport
from portwright.model.contents import ShopContents
from portwright.model.engine_run import KeptEngineRun
from portwright.model.entry import JobEntry
from portwright.model.head import Casting, Head, Port
from portwright.model.job import Job, Measurement, Note, Shop, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run


class Archive(Queries):
    """One open shop file, for reading and writing.

    Every writing method is one transaction: all of it is on disk when it returns, or nothing.
    """

    def save(self, contents: ShopContents) -> SaveReport:
        """Store what is new in ``contents``, all of it or nothing."""
        with self._writing() as connection:
            return store.save(connection, contents)

    def save_shop(self, shop: Shop) -> None:
        """Write the shop's own facts over the older ones."""
        with self._writing() as connection:
            store.save_shop(connection, shop)

    # --- jobs -----------------------------------------------------------------------------

    def add_job(self, job: Job) -> None:
        """Open a job; ConflictError if the number is taken."""
        with self._writing() as connection:
            edit.add_job(connection, job)

    def update_job(self, number: str, changes: Mapping[str, Any], version: int) -> int:
        """Change fields of a job as it was at ``version``; gives the new version."""
        with self._writing() as connection:
            return edit.update_job(connection, number, changes, version)

    def write_casting(self, casting: Casting, version: int) -> None:
        """Write what is said of a casting as it was at ``version``."""
        with self._writing() as connection:
            edit.write_casting(connection, casting, version)

    def write_head(self, job: str, head: Head, version: int) -> None:
        """Write what is said of a head of a job as the job was at ``version``."""
        with self._writing() as connection:
            edit.write_head(connection, job, head, version)

    def add_port(self, job: str, port: Port) -> None:
        """Add a port; ConflictError if the job has it."""
        with self._writing() as connection:
            edit.add_port(connection, job, port)

    def add_stage(self, job: str, stage: Stage) -> None:
        """Add a stage; ConflictError if the job has it."""
        with self._writing() as connection:
            edit.add_stage(connection, job, stage)

    def add_measurements(self, job: str, measurements: Iterable[Measurement]) -> int:
        """Append measurements and give their number."""
        with self._writing() as connection:
            return edit.add_measurements(connection, job, measurements)

    def replace_measurement(self, job: str, old: Measurement, value: AsTyped, reason: str) -> None:
        """Correct a measurement, keeping the old row."""
        with self._writing() as connection:
            live.replace_measurement(connection, job, old, value, reason)

    def add_note(self, job: str, note: Note) -> None:
        """Append a remark."""
        with self._writing() as connection:
            edit.add_note(connection, job, note)

    def add_entry(self, job: str, entry: JobEntry) -> None:
        """Append an entry to the job card; ConflictError if it was corrected meanwhile."""
        with self._writing() as connection:
            edit.add_entry(connection, job, entry)

    def add_numbered_entry(self, job: str, entry: JobEntry, series: str) -> JobEntry:
        """Append an entry under the next number of a series; gives it back with its number."""
        with self._writing() as connection:
            return edit.add_numbered_entry(connection, job, entry, series)

    def keep_engine_run(self, job: str, kept: KeptEngineRun) -> None:
        """Keep an engine run with a job; ConflictError if another replaced the same one first."""
        with self._writing() as connection:
            edit.keep_engine_run(connection, job, kept)

    def add_attachment(
        self,
        job: str,
        data: bytes,
        name: str,
        media_type: str,
        *,
        subject: str = "",
        stage: str = "",
        caption: str = "",
    ) -> int:
        """Keep a file with a job and give its id."""
        about = {
            "name": name,
            "media_type": media_type,
            "subject": subject,
            "stage": stage,
            "caption": caption,
        }
        with self._writing() as connection:
            return attachments.add_attachment(connection, job, data, about)

    # --- at the bench ---------------------------------------------------------------------

    def add_run(self, run: Run) -> None:
        """Begin a run; ConflictError if some job has its code."""
        with self._writing() as connection:
            edit.add_run(connection, run)

    def add_reading(
        self, job: str, run: str, reading: Reading, replaces: int | None = None, reason: str = ""
    ) -> live.StoredReading:
        """Store one reading; it is on disk when this returns.

        The same reading sent twice is stored once.

        Raises
        ------
        ConflictError
            The lift was entered, or the reading replaced, by someone else first.  The newcomer is
            stored as well and found by :meth:`set_aside`.
        """
        with self._writing(beside=True) as connection:
            run_id = live.run_id(connection, job, run)
            stored = live.add_reading(connection, run_id, reading, replaces, reason)
        if isinstance(stored, live.Contested):  # raised only now, so that both rows are on disk
            raise stored.error()
        return stored

    def withdraw_reading(self, job: str, run: str, stored: int, reason: str) -> None:
        """Take one reading back, keeping the old row."""
        with self._writing(beside=True) as connection:
            run_id = live.run_id(connection, job, run)
            live.withdraw_reading(connection, run_id, stored, reason)

    def settle(self, job: str, run: str, aside: int, reason: str, *, keep: bool) -> None:
        """Decide whether a reading that was set aside shall count."""
        with self._writing(beside=True) as connection:
            live.settle(connection, live.run_id(connection, job, run), aside, reason, keep=keep)

    def mark_run(self, job: str, run: str, left_out: str) -> None:
        """Leave a run out of comparisons, or take it back in with ""."""
        with self._writing(beside=True) as connection:
            live.mark_run(connection, live.run_id(connection, job, run), left_out)

    # --- results, settings and copies -----------------------------------------------------

    def save_results(self, new: Iterable[RunResult]) -> int:
        """Store computed results and give their number."""
        with self._writing() as connection:
            return results.save_results(connection, new)

    def keep_overviews(
        self,
        jobs: Iterable[tuple[str, Iterable[overview.PortOverview], Sequence[SearchLine]]],
    ) -> None:
        """Replace what is kept ready of some jobs."""
        with self._writing() as connection:
            for number, rows, lines in jobs:
                overview.keep(connection, number, rows, lines)

    def keep_stamp(self, done: overview_stamp.Stamp) -> None:
        """Note the state that everything kept ready belongs to."""
        with self._writing() as connection:
            overview_stamp.keep_stamp(connection, done)

    def save_setting(self, name: str, value: Any) -> None:
        """Store a setting, replacing the older value."""
        table = tables.setting
        with self._writing() as connection:
            connection.execute(table.delete().where(table.c.name == name))
            connection.execute(table.insert().values(name=name, value=value))

    def backup(self, target: Path) -> Backup:
        """Copy the shop file while it is in use; see :func:`portwright.archive.copies.backup`.

        A shop on a server is copied into a file, every row compared.
        """
        if self.on_server:
            return copies.backup_of_server(self._engine, target)
        return copies.backup(self._engine, self.path, target)

    def copy_to(self, empty: Archive) -> Moved:
        """Copy everything into an empty shop; see :func:`portwright.archive.move.copy_all`."""
        with self._in_our_words(), empty._in_our_words():
            return move.copy_all(self._engine, empty._engine)

    @staticmethod
    def upgrade(path: Path, copies_in: Path | None = None) -> Upgrade:
        """Bring an older shop to this version; see :func:`portwright.archive.copies.upgrade`.

        It must not be open.  A shop on a server is copied into a shop file in ``copies_in`` first.
        """
        if server.is_address(path):
            return copies.upgrade_server(path, copies_in or Path.cwd())
        return copies.upgrade(path)
