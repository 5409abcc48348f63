"""How the shop's records are: sound, room left, backed up, the clock right.

What is wrong is a value, not an error: a shop that cannot be opened has a state of health as well.
"""

from __future__ import annotations

import contextlib
import shutil
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from importlib import metadata
from pathlib import Path

from portwright import __version__
from portwright.archive import schema
from portwright.archive.condition import Condition
from portwright.errors import PortwrightError
from portwright.services import backups, shop_log
from portwright.services.shop_file import ShopFile, folder

LEAST_ROOM = 1e9  # below this a disk is said to be nearly full [bytes]
COPIES = 5  # and below room for as many copies of the shop
_CLOCK_SLIP = timedelta(minutes=5)  # two computers of a shop may differ by as much
_PARTS = (
    "nicegui",
    "starlette",
    "uvicorn",
    "sqlalchemy",
    "alembic",
    "numpy",
    "scipy",
    "numba",
    "typst",
    "pillow",
    "openpyxl",
    "psycopg",
)


class State(StrEnum):
    """How one thing is, from best to worst."""

    GOOD = "good"
    LOOK = "look"  # works, and somebody should see to it
    BAD = "bad"

    @property
    def order(self) -> int:
        """0 for the best."""
        return list(State).index(self)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that was looked at.

    Parameters
    ----------
    name : str
    state : State
    said : str
        What was found, in a sentence.
    hint : str
        What to do about it, "" when nothing.
    facts : dict
        The same as values: numbers, true or false, and words of the program's own.
    """

    name: str
    state: State
    said: str
    hint: str = ""
    facts: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Queue:
    """Work of seconds and minutes that the running app does.

    Parameters
    ----------
    under_way, waiting : int
    """

    under_way: int
    waiting: int


@dataclass(frozen=True, slots=True)
class Health:
    """Everything that was looked at.

    Parameters
    ----------
    at : str
        When, ISO, UTC.
    items : tuple of Item
    """

    at: str
    items: tuple[Item, ...]

    @property
    def state(self) -> State:
        """The worst of them."""
        return max((item.state for item in self.items), key=lambda state: state.order)


def examine(place: Path, queue: Queue | None = None, now: datetime | None = None) -> Health:
    """Open a shop, look at everything and close it again; one that cannot be opened is told too.

    Parameters
    ----------
    place : Path
        Shop file, or address of a database.
    queue : Queue, optional
        What the running app does; a command does not know.
    now : datetime, optional
    """
    try:
        with ShopFile.open(place) as shop:
            return look(shop, place, queue, now)
    except PortwrightError as error:
        moment = now or datetime.now(UTC)
        item = Item("shop file", State.BAD, error.message, error.hint, {"error": error.code})
        return Health(
            moment.isoformat(timespec="seconds"),
            (item, *_rooms(None, place, 0), _log(place), _versions("")),
        )


def look(
    shop: ShopFile, place: Path, queue: Queue | None = None, now: datetime | None = None
) -> Health:
    """Look at everything of an open shop; takes as long as reading all of it."""
    moment = now or datetime.now(UTC)
    begun = time.perf_counter()
    found = shop.condition()
    seconds = time.perf_counter() - begun
    return Health(
        moment.isoformat(timespec="seconds"),
        (
            _shop(shop, found, seconds),
            _backup(shop, moment),
            *_rooms(shop, place, found.size),
            _clock(found, moment),
            _work(queue),
            _log(place),
            _versions(found.database),
        ),
    )


def _shop(shop: ShopFile, found: Condition, seconds: float) -> Item:
    facts: dict[str, object] = {
        "schema": found.schema,
        "newest_schema": schema.newest(),
        "sound": found.sound,
        "problems": len(found.problems),
        "bytes": found.size,
        "check_seconds": round(seconds, 3),
        "read_only": shop.read_only,
        "on_server": shop.on_server,
        "rows": found.rows,
    }
    size = f"{found.size / 1e6:.1f} MB, schema {found.schema}"
    if not found.sound:
        return Item(
            "shop file",
            State.BAD,
            f"Damaged: {found.problems[0]}"
            + (f", and {len(found.problems) - 1} more." if found.problems[1:] else "."),
            "Stop entering. Keep this file, and restore the newest backup.",
            facts,
        )
    what = "guards against changing raw rows" if shop.on_server else "page, reference and guard"
    said = f"Sound: every {what} checked. {size}."
    if shop.on_server:
        said = f"The {what} are in place; damage is the server's own to find. {size}."
    if shop.read_only:
        return Item(
            "shop file",
            State.LOOK,
            f"{said} Open for reading only.",
            "Copy it into a folder that may be written.",
            facts,
        )
    return Item("shop file", State.GOOD, said, "", facts)


def _backup(shop: ShopFile, now: datetime) -> Item:
    plan, last = backups.plan(shop), backups.state(shop)
    facts: dict[str, object] = {"on": plan.on, "every_hours": plan.every_hours}
    if not plan.on:
        return Item(
            "backup",
            State.LOOK,
            "None are made by themselves.",
            "Name a folder on another disk or a stick, on the Shop screen.",
            facts,
        )
    kept = backups.kept(shop, Path(plan.folder))
    facts |= {"kept": len(kept), "failed": bool(last.failed)}
    if not kept:
        return Item(
            "backup",
            State.BAD,
            last.failed or "None has been made yet.",
            "Plug the stick in, or back up now on the Shop screen.",
            facts,
        )
    newest = kept[0]
    age = (now - newest.made).total_seconds() / 3600.0
    local = f"{newest.made.astimezone():%Y-%m-%d %H:%M}"
    facts |= {"made_at": newest.made.isoformat(), "age_hours": round(age, 2)}
    try:
        checked = backups.check(newest.path)
    except PortwrightError as error:
        return Item(
            "backup",
            State.BAD,
            f"The newest, of {local}, is no good: {error.message}",
            "Make one now, into another folder.",
            facts | {"verified": False, "error": error.code},
        )
    facts |= {"verified": True, "checksum": checked.listed}
    how = "checksum and every page" if checked.listed else "every page"
    said = f"Newest of {local}, verified just now: {how}. {len(kept)} are kept."
    if last.failed:
        return Item(
            "backup",
            State.BAD,
            f"The last attempt failed. {last.failed} {said}",
            "Plug the stick in, or make space.",
            facts,
        )
    if age > 2.0 * plan.every_hours + 1.0:
        return Item(
            "backup",
            State.LOOK,
            f"{said} That is {age:.0f} hours ago.",
            "They are made while the app runs; leave it running.",
            facts,
        )
    return Item("backup", State.GOOD, said, "", facts)


def _rooms(shop: ShopFile | None, place: Path, size: int) -> Iterator[Item]:
    """Room on the disk of the shop file, and on the one of the backups where that is another."""
    on_server = shop is not None and shop.on_server
    own = folder() if on_server or not place.exists() else place.resolve().parent
    yield _room("room on the disk", own, size)
    plan = backups.plan(shop) if shop is not None else backups.Plan()
    if plan.on and Path(plan.folder).is_dir():
        with contextlib.suppress(OSError):
            if Path(plan.folder).stat().st_dev != _existing(own).stat().st_dev:
                yield _room("room for backups", Path(plan.folder), size)


def _existing(path: Path) -> Path:
    return next(one for one in (path, *path.parents) if one.exists())


def _room(name: str, where: Path, size: int) -> Item:
    try:
        usage = shutil.disk_usage(_existing(where))
    except OSError:
        return Item(name, State.LOOK, "The system does not say how much there is.")
    facts: dict[str, object] = {"free_bytes": usage.free, "of_bytes": usage.total}
    said = f"{usage.free / 1e9:.1f} GB of {usage.total / 1e9:.0f} GB are free."
    if usage.free < size:
        return Item(name, State.BAD, f"{said} Not even a copy fits.", "Make space now.", facts)
    if usage.free < max(LEAST_ROOM, COPIES * size):
        return Item(name, State.LOOK, f"{said} That is little.", "Make space.", facts)
    return Item(name, State.GOOD, said, "", facts)


def _clock(found: Condition, now: datetime) -> Item:
    local = now.astimezone()
    facts: dict[str, object] = {"utc": now.isoformat(timespec="seconds")}
    offset = local.utcoffset()
    facts["offset_minutes"] = int(offset.total_seconds() // 60) if offset else 0
    with contextlib.suppress(ValueError):
        newest = datetime.fromisoformat(found.newest_change)
        behind = (newest - now).total_seconds()
        facts["behind_seconds"] = max(0.0, round(behind, 1))
        if newest - now > _CLOCK_SLIP:
            return Item(
                "clock",
                State.BAD,
                f"It is {local:%Y-%m-%d %H:%M} here, but the newest change was stored on "
                f"{newest.astimezone():%Y-%m-%d %H:%M}.",
                "Set the clock of this computer. What is stored keeps its order all the same.",
                facts,
            )
    return Item(
        "clock", State.GOOD, f"It is {local:%Y-%m-%d %H:%M}, after every change.", "", facts
    )


def _work(queue: Queue | None) -> Item:
    if queue is None:
        return Item("slow work", State.GOOD, "Only the running app knows: its Health screen says.")
    facts: dict[str, object] = {"under_way": queue.under_way, "waiting": queue.waiting}
    said = f"{queue.under_way} under way, {queue.waiting} waiting."
    if queue.waiting:
        return Item(
            "slow work",
            State.LOOK,
            said,
            "Readings do not wait for it; stop what is not needed.",
            facts,
        )
    return Item("slow work", State.GOOD, said, "", facts)


def _log(place: Path) -> Item:
    found = shop_log.files(place)
    size = sum(one.stat().st_size for one in found)
    facts: dict[str, object] = {"files": len(found), "bytes": size}
    if not found:
        return Item("log", State.GOOD, "Nothing logged yet.", "", facts)
    said = f"{max(1.0, size / 1e3):.0f} kB in {found[0]}; no names, nothing that was entered."
    return Item("log", State.GOOD, said, "", facts)


def _versions(database: str) -> Item:
    facts: dict[str, object] = {
        "portwright": __version__,
        "python": sys.version.split()[0],
        "system": sys.platform,
        "database": database,
    }
    for name in _PARTS:
        with contextlib.suppress(metadata.PackageNotFoundError):
            facts[name] = metadata.version(name)
    said = f"Portwright {__version__}, Python {facts['python']}, {database or 'no database'}."
    return Item("versions", State.GOOD, said, "", facts)
