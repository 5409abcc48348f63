"""Backups by themselves: when one is due, which are kept, how to go back to one."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from portwright.archive import restore as archive_restore
from portwright.archive.copies import Backup
from portwright.archive.restore import Checked, Restored, digest_file
from portwright.errors import ArchiveError, InputError, PortwrightError
from portwright.services.shop_file import ShopFile, on_server
from portwright.services.shop_log import Event, note

_SETTING, _STATE = "backup plan", "backup state"
_STAMP = "%Y%m%dT%H%M%SZ"
_NAMED = re.compile(r"(?P<stem>.+) (?P<stamp>\d{8}T\d{6}Z)\.shop")
DAYS, MONTHS = 14, 24  # one a day for a fortnight, one a month for two years


@dataclass(frozen=True, slots=True)
class Plan:
    """When backups are made by themselves, and how many of the newest are kept.

    Parameters
    ----------
    folder : str
        Folder or stick; "" when none are made.
    every_hours : float
        Time between two. [h]
    keep : int
        Newest ones kept whatever their age.
    """

    folder: str = ""
    every_hours: float = 4.0
    keep: int = 10

    @property
    def on(self) -> bool:
        """Whether backups are made by themselves."""
        return bool(self.folder)


@dataclass(frozen=True, slots=True)
class State:
    """What came of the last attempt.

    Parameters
    ----------
    made_at : str
        When the newest backup was finished, UTC, "" before the first.
    path : str
    failed : str
        Why the last attempt failed, "" when it did not.
    """

    made_at: str = ""
    path: str = ""
    failed: str = ""


def plan(shop: ShopFile) -> Plan:
    """The shop's plan; off until somebody names a folder."""
    found = shop.setting(_SETTING)
    return Plan(**found) if isinstance(found, dict) else Plan()


def state(shop: ShopFile) -> State:
    """What came of the last attempt."""
    found = shop.setting(_STATE)
    return State(**found) if isinstance(found, dict) else State()


def set_plan(shop: ShopFile, new: Plan) -> None:
    """Store a plan, after trying that its folder can be written.

    Raises
    ------
    InputError
        The folder is the shop file's own, cannot be written, or a number is out of range.
    """
    if not 0.25 <= new.every_hours <= 24 * 31:
        raise InputError("Hours between backups are from 0.25 to 744.", "Give 4 for every 4 h.")
    if not 2 <= new.keep <= 1000:
        raise InputError("Keep 2 to 1000 backups.", "10 is usual.")
    if new.on:
        _try_folder(shop, Path(new.folder))
    shop.save_setting(_SETTING, asdict(new))


def _try_folder(shop: ShopFile, folder: Path) -> None:
    if not folder.is_absolute():
        raise InputError(
            f"'{folder}' is not a full path.", "Give it from the drive on: E:\\backup."
        )
    if folder.resolve() == shop.path.resolve().parent:
        raise InputError(
            "Backups beside the shop file are lost together with it.",
            "Choose a folder on another disk or a stick.",
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise InputError(
            f"The folder {folder} cannot be written: {error.strerror}.",
            "Is the stick plugged in? Choose a folder that may be written.",
        ) from error


@dataclass(frozen=True, slots=True)
class Kept:
    """A backup in the folder, by its name."""

    path: Path
    made: datetime


def kept(shop: ShopFile, folder: Path) -> list[Kept]:
    """Backups of this shop file in a folder, newest first."""
    found = []
    for path in folder.glob("*.shop") if folder.is_dir() else ():
        match = _NAMED.fullmatch(path.name)
        if match and match["stem"] == shop.path.stem:
            made = datetime.strptime(match["stamp"], _STAMP).replace(tzinfo=UTC)
            found.append(Kept(path, made))
    return sorted(found, key=lambda k: k.made, reverse=True)


def due(shop: ShopFile, now: datetime | None = None) -> bool:
    """Whether a backup should be made now.

    A backup that seems to come from the future, because the clock was set back, does not count.
    """
    now = now or datetime.now(UTC)
    wanted = plan(shop)
    if not wanted.on:
        return False
    past = [k.made for k in kept(shop, Path(wanted.folder)) if k.made <= now]
    return not past or now - past[0] >= timedelta(hours=wanted.every_hours)


def make(shop: ShopFile, now: datetime | None = None) -> Backup:
    """Make a backup by the plan, check it, write its checksum and let the oldest go.

    Raises
    ------
    InputError
        No folder is set.
    ArchiveError
        It could not be made; what stands in the folder already is kept.
    """
    wanted = plan(shop)
    if not wanted.on:
        raise InputError(
            "No folder for backups is set.", "Give one with 'portwright backups --to'."
        )
    now = now or datetime.now(UTC)
    try:
        made = _make(shop, Path(wanted.folder), now)
    except PortwrightError as error:
        note(Event.BACKUP_FAILED, error=error)
        last = state(shop)
        shop.save_setting(_STATE, asdict(State(last.made_at, last.path, str(error))))
        raise
    note(Event.BACKUP, bytes=made.size)
    drop(kept(shop, Path(wanted.folder)), wanted.keep, spare=made.path)
    done = State(now.isoformat(timespec="seconds"), str(made.path))
    shop.save_setting(_STATE, asdict(done))
    return made


def _make(shop: ShopFile, folder: Path, now: datetime) -> Backup:
    if not folder.is_dir():  # never made here: the name may be that of a stick not plugged in
        raise ArchiveError(
            f"The folder {folder} for backups is not there.", "Plug the stick in, or set another."
        )
    while (target := folder / f"{shop.path.stem} {now.strftime(_STAMP)}.shop").exists():
        now += timedelta(seconds=1)
    made = shop.backup(target)
    archive_restore.check(target)
    try:
        digest_file(target).write_text(f"{made.sha256}  {target.name}\n", encoding="utf-8")
    except OSError as error:
        raise ArchiveError(
            f"The checksum of {target.name} cannot be written: {error.strerror}.", "Make space."
        ) from error
    return made


def survivors(made: Iterable[datetime], keep: int) -> set[datetime]:
    """Which of these moments are kept.

    The newest ``keep``, the last of each of the newest 14 days that have any, and the last of
    each of the newest 24 months that have any.
    """
    newest_first = sorted(made, reverse=True)
    days: dict[object, datetime] = {}
    months: dict[object, datetime] = {}
    for moment in newest_first:
        days.setdefault(moment.date(), moment)
        months.setdefault((moment.year, moment.month), moment)
    return {
        *newest_first[:keep],
        *list(days.values())[:DAYS],
        *list(months.values())[:MONTHS],
    }


def drop(found: list[Kept], keep: int, spare: Path) -> list[Path]:
    """Delete backups that the rotation does not keep, never ``spare``; gives those deleted."""
    staying = survivors((k.made for k in found), keep)
    gone = []
    for backup in found:
        if backup.made in staying or backup.path == spare:
            continue
        try:
            backup.path.unlink()
            digest_file(backup.path).unlink(missing_ok=True)
        except OSError:
            continue  # held by another program: next time
        gone.append(backup.path)
    return gone


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What a restore would bring, tried out in a folder that is gone afterwards.

    Parameters
    ----------
    backup : Checked
    jobs : int
        Jobs read back whole, every reading of them.
    readings : int
    missing : dict of str to int
        Rows of the present shop file that the backup does not have, by table; empty where there
        is no present file or it cannot be opened.
    """

    backup: Checked
    jobs: int
    readings: int
    missing: dict[str, int]


def rehearse(source: Path, target: Path) -> Rehearsal:
    """Restore a backup into a folder of its own, read all of it, and compare with the present.

    Raises
    ------
    ArchiveError
        It could not be restored; nothing was changed.
    """
    with tempfile.TemporaryDirectory() as place:
        tried = Path(place) / "rehearsal.shop"
        restored = archive_restore.restore(source, tried)
        with ShopFile.open(tried) as opened:
            contents = opened.contents()
            for job in contents.jobs:
                for attachment in opened.attachments(job.job.number):
                    opened.attachment_data(attachment.id)
    readings = sum(len(run.readings) for job in contents.jobs for run in job.runs)
    return Rehearsal(
        restored.backup, len(contents.jobs), readings, _missing(restored.backup, target)
    )


def _missing(backup: Checked, target: Path) -> dict[str, int]:
    try:
        present = archive_restore.rows_in(target)
    except PortwrightError:
        return {}
    return {
        name: number - backup.rows[name]
        for name, number in present.items()
        if number > backup.rows[name]
    }


def restore(source: Path, target: Path) -> Restored:
    """Put a backup in the place of the shop file; the present file is kept beside it.

    Raises
    ------
    InputError
        The place is a database, which is filled and not replaced.
    """
    if on_server(target):
        raise InputError(
            "A backup goes into an empty database, not over one with a shop in it.",
            "Make an empty one, then: portwright move-shop BACKUP ADDRESS.",
        )
    return archive_restore.restore(source, target)


def check(path: Path) -> Checked:
    """Look a backup over without changing it."""
    return archive_restore.check(path)
