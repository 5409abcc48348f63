"""The shop file as one object: open, read, write, back up."""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, select

from portwright.archive import engine as files
from portwright.archive import fetch, live, store, tables
from portwright.archive.store import SaveReport
from portwright.errors import ArchiveWriteError, CorruptArchiveError
from portwright.model.bench import Bench, Calibration, PlateCheck
from portwright.model.contents import JobContents, ShopContents
from portwright.model.job import Job, Measurement, Shop
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run


@dataclass(frozen=True, slots=True)
class Backup:
    """A finished copy of the shop file.

    Parameters
    ----------
    path : Path
    size : int
        [bytes]
    sha256 : str
    """

    path: Path
    size: int
    sha256: str


class Archive:
    """One open shop file.

    Any number of threads may read; writes take turns.  Use :meth:`create` or :meth:`open`.
    """

    def __init__(self, path: Path, engine: Engine) -> None:
        self.path = path
        self._engine = engine
        self._turn = threading.Lock()

    @classmethod
    def create(cls, path: Path) -> Self:
        """Make a new shop file; see :func:`portwright.archive.engine.create_file`."""
        return cls(path, files.create_file(path))

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open an existing shop file; see :func:`portwright.archive.engine.open_file`."""
        return cls(path, files.open_file(path))

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @contextlib.contextmanager
    def _reading(self) -> Iterator[Connection]:
        with files.translated(self.path), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def _writing(self) -> Iterator[Connection]:
        with self._turn, files.translated(self.path), self._engine.connect() as raw:
            connection = raw.execution_options(writing=True)
            with connection.begin():
                yield connection

    # --- whole contents -------------------------------------------------------------------

    def save(self, contents: ShopContents) -> SaveReport:
        """Store what is new in ``contents``, all of it or nothing."""
        with self._writing() as connection:
            return store.save(connection, contents)

    def contents(self) -> ShopContents:
        """The whole shop."""
        with self._reading() as connection:
            return fetch.contents(connection)

    # --- looking things up ----------------------------------------------------------------

    def shop(self) -> Shop | None:
        """The shop's own facts."""
        with self._reading() as connection:
            return fetch.shop(connection)

    def save_shop(self, shop: Shop) -> None:
        """Write the shop's own facts."""
        with self._writing() as connection:
            store.save_shop(connection, shop)

    def jobs(self) -> list[Job]:
        """Every job, newest first."""
        with self._reading() as connection:
            return fetch.jobs(connection)

    def job(self, number: str) -> JobContents:
        """One job with everything on it."""
        with self._reading() as connection:
            return fetch.job_contents(connection, number)

    def run(self, name: str) -> Run:
        """One run by code or "job/code"."""
        with self._reading() as connection:
            return fetch.find_run(connection, name)

    def runs_of_bench(self, bench: str, limit: int = 5000) -> tuple[Run, ...]:
        """The newest runs on a bench, oldest of them first."""
        with self._reading() as connection:
            newest = (
                select(tables.run.c.id)
                .where(tables.run.c.bench == bench)
                .order_by(tables.run.c.date.desc(), tables.run.c.id.desc())
                .limit(limit)
            )
            return fetch.runs(connection, fetch.run_query().where(tables.run.c.id.in_(newest)))

    def benches(self) -> list[Bench]:
        """Every bench."""
        with self._reading() as connection:
            return fetch.benches(connection)

    def calibrations(self) -> list[Calibration]:
        """Every calibration version."""
        with self._reading() as connection:
            return fetch.calibrations(connection)

    def plate_checks(self) -> list[PlateCheck]:
        """Every plate check."""
        with self._reading() as connection:
            return fetch.plate_checks(connection)

    # --- at the bench ---------------------------------------------------------------------

    def readings(self, job: str, run: str) -> list[live.StoredReading]:
        """Current readings of a run with their row ids."""
        with self._reading() as connection:
            return live.stored_readings(connection, live.run_id(connection, job, run))

    def add_reading(
        self, job: str, run: str, reading: Reading, replaces: int | None = None, reason: str = ""
    ) -> live.StoredReading:
        """Store one reading; it is on disk when this returns."""
        with self._writing() as connection:
            run_id = live.run_id(connection, job, run)
            return live.add_reading(connection, run_id, reading, replaces, reason)

    def withdraw_reading(self, job: str, run: str, stored: int, reason: str) -> None:
        """Take one reading back, keeping the old row."""
        with self._writing() as connection:
            run_id = live.run_id(connection, job, run)
            live.withdraw_reading(connection, run_id, stored, reason)

    def mark_run(self, job: str, run: str, left_out: str) -> None:
        """Leave a run out of comparisons, or take it back in with ""."""
        with self._writing() as connection:
            live.mark_run(connection, live.run_id(connection, job, run), left_out)

    def replace_measurement(self, job: str, old: Measurement, value: AsTyped, reason: str) -> None:
        """Correct a measurement, keeping the old row."""
        with self._writing() as connection:
            live.replace_measurement(connection, job, old, value, reason)

    # --- settings and copies --------------------------------------------------------------

    def setting(self, name: str) -> Any:
        """A stored setting, None where there is none."""
        table = tables.setting
        with self._reading() as connection:
            return connection.execute(select(table.c.value).where(table.c.name == name)).scalar()

    def save_setting(self, name: str, value: Any) -> None:
        """Store a setting, replacing the older value."""
        table = tables.setting
        with self._writing() as connection:
            connection.execute(table.delete().where(table.c.name == name))
            connection.execute(table.insert().values(name=name, value=value))

    def backup(self, target: Path) -> Backup:
        """Copy the shop file while it is in use, then open the copy and check it.

        Raises
        ------
        ArchiveWriteError
            The target exists or cannot be written.
        CorruptArchiveError
            The copy does not pass the database's own check.
        """
        if target.exists():
            raise ArchiveWriteError(
                f"There is already a file {target.name}.", "Choose another name for the copy."
            )
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise ArchiveWriteError(
                f"The folder {target.parent} cannot be made.", "Choose another folder."
            ) from error
        with files.translated(target), self._engine.connect() as connection:
            source = connection.connection.dbapi_connection
            copy = sqlite3.connect(target)
            try:
                if isinstance(source, sqlite3.Connection):
                    source.backup(copy)
                copy.execute("PRAGMA journal_mode=DELETE")
                verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
            finally:
                copy.close()
        if verdict != "ok":
            raise CorruptArchiveError(
                f"The copy {target.name} is not sound: {verdict}.",
                "The shop file itself may be damaged; keep all older copies.",
            )
        digest = hashlib.sha256(target.read_bytes()).hexdigest()
        return Backup(target, target.stat().st_size, digest)
