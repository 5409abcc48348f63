"""One trial of each fault: what was acknowledged before it, what is missing after it."""

from __future__ import annotations

import contextlib
import multiprocessing
import random
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from sqlalchemy import event

from benchmarks.fault_writer import Writer, begin, missing, work
from benchmarks.faulty_disk import Acknowledged, faulty, power_cut
from portwright.archive import live
from portwright.archive import restore as archive_restore
from portwright.archive.archive import Archive
from portwright.errors import ArchiveError, CorruptArchiveError, PortwrightError

FULL = 13  # SQLITE_FULL
BROKEN = 778  # SQLITE_IOERR_WRITE: what a disk gives that the system has turned read-only
_STRIDE = 100_000  # numbers one program may use


@dataclass(slots=True)
class Outcome:
    """What came of all trials of one fault.

    Parameters
    ----------
    tried : int
    acknowledged : int
        Writes acknowledged before the faults.
    lost : list of str
        Acknowledged writes that are missing afterwards, and steps that are there by half.
    recovery : list of float
        Time until the shop could work again, one a trial. [s]
    noticed : int or None
        How many were noticed, for faults that a database need not notice.
    """

    tried: int = 0
    acknowledged: int = 0
    lost: list[str] = field(default_factory=list)
    recovery: list[float] = field(default_factory=list)
    noticed: int | None = None


def _check(path: Path, told: list[str], outcome: Outcome) -> None:
    """Open as a person would, measure how long that takes, look for what was acknowledged."""
    started = time.perf_counter()
    with Archive.open(path) as archive:
        archive.shop()
    outcome.recovery.append(time.perf_counter() - started)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        verdict = connection.execute("PRAGMA quick_check").fetchone()[0]
    if verdict != "ok":
        outcome.lost.append(str(verdict))
    outcome.lost += missing(path, told)


def programs() -> Any:
    """How to start other programs quickly and alike on every system."""
    if "forkserver" in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(["benchmarks.fault_copies", "alembic.command"])
        return context
    return multiprocessing.get_context("spawn")


def drain(told: Connection) -> list[str]:
    """Everything another program still told before it ended."""
    said: list[str] = []
    with contextlib.suppress(EOFError, OSError):
        while True:
            said.append(told.recv())
    return said


def killed(folder: Path, trials: int, dice: random.Random) -> Outcome:
    """Programs that write are killed at any moment."""
    outcome, context = Outcome(), programs()
    told: list[str] = []
    path = folder / "killed.shop"
    for trial in range(trials):
        if trial % 100 == 0:  # a new file now and then, so that looking it over stays quick
            path, told = folder / f"killed{trial}.shop", []
            begin(path)
        mine, theirs = context.Pipe(duplex=False)
        first = (trial + 1) * _STRIDE
        program = context.Process(target=work, args=(path, first, trial, _STRIDE, theirs))
        program.start()
        theirs.close()
        said = [mine.recv() for _ in range(dice.randrange(1, 12))]
        time.sleep(dice.random() * 0.02)  # anywhere within a write, not just after one
        program.kill()
        said += drain(mine)
        program.join()
        told += said
        outcome.tried += 1
        outcome.acknowledged += len(said)
        _check(path, told, outcome)
    return outcome


def power_cuts(folder: Path, trials: int, dice: random.Random, sync: str = "FULL") -> Outcome:
    """The power fails; writes not synchronised are dropped, kept or torn, as it happens.

    Parameters
    ----------
    sync : str
        With "OFF" the archive is made careless on purpose: the harness has to notice.
    """
    outcome = Outcome()
    session = 0
    while outcome.tried < trials:
        place = folder / f"power{session}"
        place.mkdir()
        path = place / "a.shop"
        begin(path)
        before = {str(path): path.read_bytes()}
        with faulty(place) as disk:
            with Archive.open(path) as archive:
                _make_careless(archive, sync)
                writer = Writer(archive, 1, dice)
                for _ in range(120):
                    disk.note(Acknowledged(writer.step()))
            events = list(disk.events)
        for _ in range(min(100, trials - outcome.tried)):
            cut = dice.randrange(1, len(events) + 1)
            told = [e.token for e in events[:cut] if isinstance(e, Acknowledged)]
            left = folder / "after"
            shutil.rmtree(left, ignore_errors=True)
            left.mkdir()
            for name, content in power_cut(before, events[:cut], dice).items():
                (left / Path(name).name).write_bytes(content)
            outcome.tried += 1
            outcome.acknowledged += len(told)
            try:
                _check(left / "a.shop", told, outcome)
            except (PortwrightError, sqlite3.Error) as error:
                outcome.lost.append(f"not opened: {error}")
        session += 1
    return outcome


def _make_careless(archive: Archive, sync: str) -> None:
    if sync == "FULL":
        return

    def prepare(dbapi: sqlite3.Connection, *_: object) -> None:
        dbapi.execute(f"PRAGMA synchronous={sync}")

    event.listen(archive._engine, "connect", prepare)  # noqa: SLF001 - only to show it is noticed


def refusing_disk(
    folder: Path, trials: int, dice: random.Random, code: int, within: int = 60
) -> Outcome:
    """The disk takes no more writes from a random one on within that many, then works again."""
    outcome = Outcome()
    path = folder / f"refusing{code}.shop"
    begin(path)
    told: list[str] = []
    number = 1
    with faulty(path) as disk:
        disk.keep = False
        for _ in range(trials):
            outcome.tried += 1
            disk.refuse_after, disk.refuse_with = dice.randrange(0, within), code
            try:
                with Archive.open(path) as archive:
                    writer = Writer(archive, number, dice)
                    for _ in range(40):
                        number += 1
                        told.append(writer.step())
                        outcome.acknowledged += 1
            except ArchiveError:
                pass  # said in our own words; anything else would end the study
            disk.refuse_with = 0
            number += 40
            _check(path, told, outcome)
    return outcome


def damaged(
    folder: Path, trials: int, dice: random.Random, harm: Callable[[bytearray], bytearray]
) -> Outcome:
    """The file itself is damaged; the shop goes back to its backup."""
    outcome = Outcome(noticed=0)
    path, stick = folder / "a.shop", folder / "stick.shop"
    begin(path)
    with Archive.open(path) as archive:
        writer = Writer(archive, 1, dice)
        told = [writer.step() for _ in range(60)]
        digest = archive.backup(stick).sha256
        whole = archive.contents()
    sound = path.read_bytes()
    for _ in range(trials):
        outcome.tried += 1
        outcome.acknowledged += len(told)
        path.write_bytes(harm(bytearray(sound)))
        outcome.noticed = (outcome.noticed or 0) + _noticed(path, whole)
        started = time.perf_counter()
        kept = archive_restore.restore(stick, path).kept
        outcome.recovery.append(time.perf_counter() - started)
        outcome.lost += missing(path, told)
        if archive_restore.digest_of(stick) != digest:
            outcome.lost.append("the backup itself was changed")
        if kept:
            kept.unlink()
        for beside in folder.glob("*before restore*"):
            beside.unlink()
    return outcome


def _noticed(path: Path, whole: object) -> bool:
    """Whether opening, or reading all of it, says that the file is damaged."""
    try:
        with Archive.open(path) as archive:
            found = archive.contents()
            for job in found.jobs:
                for attachment in archive.attachments(job.job.number):
                    archive.attachment_data(attachment.id)
            return found == whole and _sound(path)  # nothing to notice: harm to unused bytes
    except CorruptArchiveError:
        return True


def _sound(path: Path) -> bool:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return bool(connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok")


def cut_off(dice: random.Random) -> Callable[[bytearray], bytearray]:
    """Everything after a random byte is gone."""
    return lambda content: content[: dice.randrange(0, len(content))]


def flipped(dice: random.Random, bits: int) -> Callable[[bytearray], bytearray]:
    """Some bits are the other way round."""

    def harm(content: bytearray) -> bytearray:
        for _ in range(bits):
            content[dice.randrange(len(content))] ^= 1 << dice.randrange(8)
        return content

    return harm


@contextlib.contextmanager
def _clock(dice: random.Random) -> Iterator[None]:
    """A clock that jumps, mostly back, by up to ten years."""
    real = live.now
    at = datetime(2026, 2, 10, tzinfo=UTC)

    def now() -> str:
        moved = at + timedelta(days=dice.uniform(-3650, 30))
        return moved.isoformat(timespec="milliseconds")

    live.now = now
    try:
        yield
    finally:
        live.now = real


def clock_set_back(folder: Path, trials: int, dice: random.Random) -> Outcome:
    """The clock jumps between one reading and the next; order and newest value must not follow."""
    outcome = Outcome()
    path = folder / "clock.shop"
    begin(path)
    told: list[str] = []
    with _clock(dice), Archive.open(path) as archive:
        writer = Writer(archive, 1, dice)
        for _ in range(trials):
            outcome.tried += 1
            told.append(writer.step())
            outcome.acknowledged += 1
        for run in archive.job("J-1").runs:
            lifts = [r.lift.si for r in run.readings]
            if lifts != sorted(lifts):
                outcome.lost.append(f"order of {run.code}")
    _check(path, told, outcome)
    return outcome


def programs_together(folder: Path, trials: int, dice: random.Random) -> Outcome:
    """Two programs write to one file at once."""
    outcome, context = Outcome(), programs()
    path = folder / "two.shop"
    begin(path)
    told: list[str] = []
    for trial in range(trials):
        ends = []
        for which in range(2):
            mine, theirs = context.Pipe(duplex=False)
            first = (2 * trial + which + 1) * _STRIDE
            own = dice.randrange(1 << 30)
            context.Process(target=work, args=(path, first, own, 25, theirs)).start()
            theirs.close()
            ends.append(mine)
        said = [token for end in ends for token in drain(end)]
        outcome.tried += 1
        outcome.acknowledged += len(said)
        # values both replace: whose came last is nobody's loss
        told += [t for t in said if t.split()[0] not in {"goal", "setting", "result"}]
        if len(said) != 50:
            outcome.lost.append(f"a program ended early after {len(said)} of 50 writes")
        _check(path, told, outcome)
    return outcome
