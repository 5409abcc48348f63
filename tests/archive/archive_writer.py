"""A program that writes to a shop file until it is done or killed."""

from __future__ import annotations

import multiprocessing
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING

from portwright.archive.archive import Archive
from portwright.errors import ConflictError
from tests.archive import archive_values as values

if TYPE_CHECKING:  # one of them does not exist on Windows
    from multiprocessing.context import ForkServerContext, SpawnContext


def write_sweeps(path: Path, prefix: str, sweeps: int, told: Connection) -> None:
    """Enter sweep after sweep, telling of each reading only after it is stored."""
    with Archive.open(path) as archive:
        for number in range(sweeps):
            code = f"{prefix}{number}"
            archive.add_run(values.run(code, readings=0))
            for lift in range(1, 13):
                archive.add_reading("J-1", code, values.reading(str(lift), f"{number}.{lift}"))
                told.send((code, str(lift), f"{number}.{lift}"))
    told.close()


def write_same_sweep(path: Path, flow: str, told: Connection) -> None:
    """Enter the sweep that another program enters as well."""
    refused = 0
    with Archive.open(path) as archive:
        for lift in range(1, 13):
            try:
                archive.add_reading("J-1", "R9", values.reading(str(lift), flow))
            except ConflictError:
                refused += 1
    told.send(refused)
    told.close()


def programs() -> ForkServerContext | SpawnContext:
    """How to start other programs quickly and alike on every system."""
    if "forkserver" in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(["tests.archive.archive_writer"])
        return context
    return multiprocessing.get_context("spawn")
