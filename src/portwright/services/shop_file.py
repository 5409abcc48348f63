"""Finding, opening, making and copying shop files."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from portwright.archive import server
from portwright.archive.archive import Archive
from portwright.archive.copies import Backup
from portwright.archive.move import Moved
from portwright.errors import NotFoundError
from portwright.model.job import Shop
from portwright.units import Kind, typed

_ENVIRONMENT = "PORTWRIGHT_SHOP"

# Name under which screens and commands pass the open file around.
ShopFile = Archive


def folder() -> Path:
    """Folder where shop files live unless another is given."""
    return Path.home() / "Portwright"


def demo_path() -> Path:
    """Where the fictional demo shop is made."""
    return folder() / "demo.shop"


def default_path() -> Path:
    """Shop file used when none is named: the environment's, the shop's own, else the demo."""
    named = os.environ.get(_ENVIRONMENT)
    if named:
        return Path(named)
    own = folder() / "my.shop"
    return own if own.exists() else demo_path()


def on_server(place: Path) -> bool:
    """Whether a shop is named by the address of a database and not by a file."""
    return server.is_address(place)


def is_there(place: Path) -> bool:
    """Whether there is such a file; an address counts as there, and opening it tells."""
    return on_server(place) or place.exists()


def shown(place: Path) -> str:
    """A shop's place as a person is told it; of an address without user and password."""
    return f"the database {server.shown(place).stem}" if on_server(place) else str(place)


def open_shop(path: Path | None = None) -> Archive:
    """Open a shop file, the default one when none is named.

    Raises
    ------
    NotFoundError, ArchiveError
    """
    chosen = path or default_path()
    if not is_there(chosen):
        raise NotFoundError(
            f"There is no shop file {chosen}.",
            "Run 'portwright demo' for the fictional shop, or import a sheet with --shop FILE.",
        )
    return Archive.open(chosen)


def create_shop(path: Path, name: str = "") -> Archive:
    """Make a new shop file with shop defaults: mm, cfm at 28 inH2O.

    Raises
    ------
    ArchiveWriteError
    """
    archive = Archive.create(path)
    archive.save_shop(Shop(name=name, report_pressure=typed(28.0, "inH2O", Kind.PRESSURE)))
    return archive


def open_or_create(path: Path | None = None) -> Archive:
    """Open a shop file, making it first where there is none."""
    chosen = path or default_path()
    return Archive.open(chosen) if is_there(chosen) else create_shop(chosen)


def move(source: Path, target: Path) -> Moved:
    """Copy a whole shop into a new file or an empty database, every row compared.

    Raises
    ------
    ArchiveWriteError
        The target is there already.
    ArchiveError
    """
    with Archive.open(source) as here, Archive.create(target) as there:
        return here.copy_to(there)


def backup(archive: Archive, target: Path | None = None) -> Backup:
    """Copy the open shop file and check the copy.

    Parameters
    ----------
    target : Path, optional
        File or existing folder; when left out, a dated name beside the shop file, or in the folder
        of shop files where the shop is on a server.
    """
    stamp = datetime.now().astimezone().strftime("%Y-%m-%d-%H%M%S")
    name = f"{archive.path.stem}-{stamp}.shop"
    if target is None:
        beside = folder() if archive.on_server else archive.path.parent
        target = beside / "backups" / name
    elif target.is_dir():
        target = target / name
    return archive.backup(target)


def upgrade(path: Path) -> Path | None:
    """Bring an older shop file to this version.

    Returns
    -------
    Path or None
        The copy that was kept, None when nothing had to be done.

    Raises
    ------
    NotFoundError, ArchiveError
    """
    done = Archive.upgrade(path, folder())
    return done.copy.path if done.copy else None
