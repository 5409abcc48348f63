"""Programs killed while they back a shop up, restore it or upgrade it."""

from __future__ import annotations

import contextlib
import itertools
import random
import shutil
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

from benchmarks.fault_trials import Outcome, drain, programs
from benchmarks.fault_writer import Writer, begin, missing
from portwright.archive import restore as archive_restore
from portwright.archive.archive import Archive
from portwright.errors import PortwrightError, SchemaTooOldError

OLD = Path(__file__).resolve().parents[1] / "tests" / "archive" / "schemas" / "0001.shop"


def _worked_in(path: Path, dice: random.Random, first: int, steps: int) -> list[str]:
    begin(path)
    with Archive.open(path) as archive:
        writer = Writer(archive, first, dice)
        return [writer.step() for _ in range(steps)]


def _kill(
    work: Callable[..., None], args: tuple[object, ...], after: int, wait: float
) -> list[str]:
    """Start a program, kill it some time after it told so many things; what it told."""
    context = programs()
    mine, theirs = context.Pipe(duplex=False)
    program = context.Process(target=work, args=(*args, theirs))
    program.start()
    theirs.close()
    said = [str(mine.recv()) for _ in range(after)]
    time.sleep(wait)
    program.kill()
    said += drain(mine)
    program.join()
    return said


def back_up(path: Path, stick: Path, told: Connection) -> None:
    """One backup after the other, each told with its checksum once it is there."""
    told.send("began")
    with Archive.open(path) as archive:
        for number in itertools.count():
            name = f"{time.time_ns()} {number}.shop"
            told.send(f"{archive.backup(stick / name).sha256} {name}")


def backing_up(folder: Path, trials: int, dice: random.Random) -> Outcome:
    """Killed while backing up: the shop is whole, and whatever has a backup's name is one."""
    outcome = Outcome()
    path, stick = folder / "a.shop", folder / "stick"
    stick.mkdir()
    told = _worked_in(path, dice, 1, 60)
    for _ in range(trials):
        said = _kill(back_up, (path, stick), dice.randrange(1, 4), dice.random() * 0.1)[1:]
        outcome.tried += 1
        outcome.acknowledged += len(said)
        _open(path, told, outcome)
        there = {p.name: p for p in stick.glob("*.shop")}
        for digest, name in (line.split(" ", 1) for line in said):
            if name not in there or archive_restore.digest_of(there[name]) != digest:
                outcome.lost.append(f"backup {name}")
        for name, backup in there.items():  # those nobody was told of must be whole as well
            _whole(backup, told, outcome, name)
            backup.unlink()
    return outcome


def _open(path: Path, told: list[str], outcome: Outcome) -> None:
    started = time.perf_counter()
    with Archive.open(path) as archive:
        archive.shop()
    outcome.recovery.append(time.perf_counter() - started)
    outcome.lost += missing(path, told)


def _whole(backup: Path, told: list[str], outcome: Outcome, name: str) -> None:
    try:
        archive_restore.check(backup)
    except PortwrightError as error:
        outcome.lost.append(f"{name}: {error}")
        return
    outcome.lost += missing(backup, told)


def go_back(path: Path, sticks: list[Path], told: Connection) -> None:
    """Restore one backup and the other in turn, each told once it is in place."""
    told.send("began")
    for stick in itertools.cycle(sticks):
        archive_restore.restore(stick, path)
        told.send(stick.name)


def restoring(folder: Path, trials: int, dice: random.Random) -> Outcome:
    """Killed while restoring: the shop file is the one before or the one after, never neither."""
    outcome = Outcome()
    path = folder / "a.shop"
    sticks = [folder / "stick0.shop", folder / "stick1.shop"]
    tokens = [_worked_in(stick, dice, 1 + 1000 * n, 40) for n, stick in enumerate(sticks)]
    shutil.copyfile(sticks[1], path)
    for _ in range(trials):
        before = _holds(path, tokens)
        said = _kill(go_back, (path, sticks), dice.randrange(1, 4), dice.random() * 0.1)[1:]
        outcome.tried += 1
        outcome.acknowledged += len(said)
        started = time.perf_counter()
        with contextlib.suppress(PortwrightError), Archive.open(path) as archive:
            archive.shop()
        outcome.recovery.append(time.perf_counter() - started)
        # the last one told, or the one that was under way
        last = int(said[-1][5]) if said else before
        allowed = {last, 1 - last} if said else {before, 0}
        if _holds(path, tokens) not in allowed:
            outcome.lost.append("the shop file is neither the one before nor the one after")
        for aside in folder.glob("*before restore*.shop"):
            if _holds(aside, tokens) < 0:
                outcome.lost.append(f"{aside.name}: not whole")
            aside.unlink()
    return outcome


def _holds(path: Path, tokens: list[list[str]]) -> int:
    """Which of two shops a file holds whole, -1 for neither."""
    with contextlib.suppress(PortwrightError):
        archive_restore.check(path)
        for number, told in enumerate(tokens):
            if not missing(path, told):
                return number
    return -1


def bring_up(path: Path, told: Connection) -> None:
    """Upgrade a shop file."""
    told.send("began")
    Archive.upgrade(path)
    told.send("upgraded")


def upgrading(folder: Path, trials: int, dice: random.Random) -> Outcome:
    """Killed while upgrading: of the old schema or the new one, and upgrading again ends well."""
    outcome = Outcome()
    reference = folder / "reference.shop"
    shutil.copyfile(OLD, reference)
    started = time.perf_counter()
    Archive.upgrade(reference)
    usual = time.perf_counter() - started
    with Archive.open(reference) as archive:
        whole = archive.contents()
    rows = sum(archive_restore.rows_in(reference).values())
    for trial in range(trials):
        path = folder / f"old{trial}.shop"
        shutil.copyfile(OLD, path)
        said = _kill(bring_up, (path,), 1, dice.random() * usual)
        outcome.tried += 1
        outcome.acknowledged += rows
        started = time.perf_counter()
        try:
            Archive.open(path).close()
        except SchemaTooOldError:
            if "upgraded" in said:
                outcome.lost.append("an upgrade that was told is not there")
            Archive.upgrade(path)
        outcome.recovery.append(time.perf_counter() - started)
        with Archive.open(path) as archive:
            if archive.contents() != whole:
                outcome.lost.append("not everything came along")
        for copy in folder.glob(f"old{trial} schema *.shop"):
            with contextlib.suppress(PortwrightError):
                archive_restore.check(copy)
                copy.unlink()
            if copy.exists():
                outcome.lost.append(f"{copy.name}: not whole")
        path.unlink()
    return outcome
