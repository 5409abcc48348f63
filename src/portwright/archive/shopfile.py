"""One open shop file: its connections, and whose turn it is to write."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, event

from portwright.archive import engine as files
from portwright.archive import server, who
from portwright.archive.faults import translated, understood
from portwright.archive.kept_readings import KeptReadings
from portwright.errors import ArchiveWriteError


class ShopFile:
    """One open shop file.

    Any number of threads may read; writes take turns, in this program and between programs.
    Use :meth:`create` or :meth:`open`.
    """

    def __init__(self, path: Path, engine: Engine, access: files.Access) -> None:
        self.path = path
        self._engine = engine
        self._access = access
        self._turn = threading.Lock()
        self._kept = KeptReadings()

    @classmethod
    def create(cls, path: Path) -> Self:
        """Make a new shop file; see :func:`portwright.archive.engine.create_file`.

        An address of a server makes the tables in that empty database.
        """
        if server.is_address(path):
            return cls(server.shown(path), server.create(path), files.Access.WRITE)
        return cls(path, files.create_file(path), files.Access.WRITE)

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open an existing shop file; see :func:`portwright.archive.engine.open_file`.

        An address of a server opens the shop in that database.
        """
        if server.is_address(path):
            return cls(server.shown(path), server.open_database(path), files.Access.WRITE)
        return cls(path, *files.open_file(path))

    @property
    def on_server(self) -> bool:
        """True where the shop is in a database on a server and not in a file."""
        return self._engine.dialect.name == "postgresql"

    @contextlib.contextmanager
    def _in_our_words(self) -> Iterator[None]:
        within = server.translated if self.on_server else translated
        with understood(self.path), within(self.path):
            yield

    @property
    def read_only(self) -> bool:
        """True where the file lies on a read-only disk or in a folder that may not be written."""
        return self._access is not files.Access.WRITE

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
        with (
            self._in_our_words(),
            self._engine.connect() as connection,
            connection.begin(),
        ):
            yield connection

    @contextlib.contextmanager
    def _writing(self, *, beside: bool = False) -> Iterator[Connection]:
        """One step of writing; ``beside`` others on a server, where it locks its own run."""
        if self.read_only:
            raise ArchiveWriteError(
                f"{self.path.name} is open for reading only.",
                "Copy it into a folder that may be written and open the copy.",
            )
        turn = contextlib.nullcontext() if self.on_server else self._turn
        with turn, self._in_our_words(), self._engine.connect() as raw:
            connection = raw.execution_options(writing=True)
            with connection.begin(), watched(connection) as writes:
                server.take_turn(connection, beside=beside)
                yield connection
                person = who.now_at_work()
                who.refuse(person, writes)
                who.log(connection, person, writes)


@contextlib.contextmanager
def watched(connection: Connection) -> Iterator[who.Writes]:
    """Note what is written through a connection."""
    writes = who.Writes()

    def after(_c: Any, statement: Any, many: Any, _p: Any, _o: Any, result: Any) -> None:
        writes.note(statement, many, result)

    event.listen(connection, "after_execute", after)
    try:
        yield writes
    finally:
        event.remove(connection, "after_execute", after)
