"""Several people, tablets and programs on one shop file; and programs that die."""

from __future__ import annotations

import contextlib
import random
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pytest

from portwright.archive.archive import Archive
from portwright.errors import ConflictError
from portwright.model.contents import ShopContents
from portwright.model.job import Note
from tests.archive import archive_values as values
from tests.archive.archive_writer import programs, write_same_sweep, write_sweeps

BOTH_ENGINES = True


def drain(told: Connection) -> list[Any]:
    """What a program said before it ended, however it ended."""
    said: list[Any] = []
    with contextlib.suppress(EOFError, OSError):
        while True:
            said.append(told.recv())
    return said


def test_eight_tablets_in_one_program(archive: Archive) -> None:
    def tablet(name: int) -> int:
        code = f"T{name}"
        archive.add_run(values.run(code, readings=0))
        for lift in range(1, 13):
            archive.add_reading("J-1", code, values.reading(str(lift), f"{name}.{lift}"))
            assert len(archive.readings("J-1", code)) == lift
        return len(archive.job("J-1").runs)

    with ThreadPoolExecutor(8) as tablets:
        seen = list(tablets.map(tablet, range(8)))
    assert max(seen) == 9
    for name in range(8):
        flows = [r.flow.text for r in archive.run(f"T{name}").readings if r.flow]
        assert flows == [f"{name}.{lift}" for lift in range(1, 13)]


def test_eight_tablets_on_one_sweep_lose_nothing(archive: Archive) -> None:
    archive.add_run(values.run("R9", readings=0))

    def tablet(name: int) -> int:
        refused = 0
        for lift in range(1, 13):
            try:
                archive.add_reading("J-1", "R9", values.reading(str(lift), f"{name}.{lift}"))
            except ConflictError:
                refused += 1
        return refused

    with ThreadPoolExecutor(8) as tablets:
        refused = sum(tablets.map(tablet, range(8)))
    assert len(archive.readings("J-1", "R9")) == 12
    assert len(archive.set_aside("J-1", "R9")) == refused == 7 * 12


def test_only_one_of_many_who_change_a_job_at_once_succeeds(archive: Archive) -> None:
    version = archive.job_version("J-1")

    def change(name: int) -> bool:
        try:
            archive.update_job("J-1", {"goal": f"goal {name}"}, version)
        except ConflictError:
            return False
        return True

    with ThreadPoolExecutor(8) as people:
        assert sum(people.map(change, range(8))) == 1
    assert archive.job_version("J-1") == version + 1


def test_a_reader_sees_all_of_a_save_or_nothing(archive: Archive) -> None:
    done = False

    def look() -> set[int]:
        seen = set()
        while not done:
            seen.add(len(archive.job("J-1").runs))
        return seen

    with ThreadPoolExecutor(1) as other:
        watcher = other.submit(look)
        for start in range(0, 50, 10):
            many = tuple(values.run(f"S{start + n}") for n in range(10))
            archive.save(ShopContents(jobs=(values.job(runs=many),)))
        done = True
    assert watcher.result() <= {1, 11, 21, 31, 41, 51}


def test_two_programs_write_to_one_shop(archive: Archive, place: Path) -> None:
    context = programs()
    ends = []
    for prefix in ("A", "B"):
        mine, theirs = context.Pipe(duplex=False)
        context.Process(target=write_sweeps, args=(place, prefix, 4, theirs)).start()
        theirs.close()
        ends.append(mine)
    for number in range(20):
        archive.add_note("J-2", Note(f"note {number}", "2026-02-10"))
    said = [item for end in ends for item in drain(end)]
    assert len(said) == 2 * 4 * 12
    assert len(archive.job("J-2").notes) == 21
    for prefix in ("A", "B"):
        assert [len(archive.run(f"{prefix}{n}").readings) for n in range(4)] == [12] * 4


def test_two_programs_on_one_sweep_lose_nothing(archive: Archive, place: Path) -> None:
    archive.add_run(values.run("R9", readings=0))
    context = programs()
    ends = []
    for flow in ("100", "200"):
        mine, theirs = context.Pipe(duplex=False)
        context.Process(target=write_same_sweep, args=(place, flow, theirs)).start()
        theirs.close()
        ends.append(mine)
    refused = sum(sum(drain(end)) for end in ends)
    assert refused == 12
    counting = archive.readings("J-1", "R9")
    aside = [contested.aside for contested in archive.set_aside("J-1", "R9")]
    assert len(counting) == len(aside) == 12
    stored = sorted(str(s.reading.flow) for s in (*counting, *aside))
    assert stored == ["100 cfm"] * 12 + ["200 cfm"] * 12


@pytest.mark.slow
def test_a_program_killed_in_mid_write_loses_nothing_acknowledged(
    empty_shop_file: Path, tmp_path: Path
) -> None:
    path = tmp_path / "a.shop"
    path.write_bytes(empty_shop_file.read_bytes())
    with Archive.open(path) as archive:
        archive.save(ShopContents(jobs=(values.job(runs=()),)))
    chance = random.Random(9)  # noqa: S311 - repeatable, not secret
    context = programs()
    acknowledged: list[tuple[str, str, str]] = []
    for kill in range(30):
        mine, theirs = context.Pipe(duplex=False)
        writer = context.Process(target=write_sweeps, args=(path, f"K{kill}-", 1000, theirs))
        writer.start()
        theirs.close()
        acknowledged += [mine.recv() for _ in range(chance.randrange(1, 20))]
        time.sleep(chance.random() * 0.01)  # anywhere within a write, not just after one
        writer.kill()
        acknowledged += drain(mine)
        writer.join()
        assert writer.exitcode not in {0, None}
        with Archive.open(path) as archive:
            runs = {run.code: run for run in archive.job("J-1").runs}
        for code, lift, flow in acknowledged:
            stored = [r for r in runs[code].readings if r.lift.text == lift]
            assert [r.flow.text for r in stored if r.flow] == [flow]
    assert len(acknowledged) > 100
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
