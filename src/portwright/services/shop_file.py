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


def open_shop(path: Path | None = None) -> Archive:
    """Open a shop file, the default one when none is named.

    Raises
    ------
    NotFoundError, ArchiveError
    """
    chosen = path or default_path()
    if not server.is_address(chosen) and not chosen.exists():
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
    there = server.is_address(chosen) or chosen.exists()
    return Archive.open(chosen) if there else create_shop(chosen)


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
        File or existing folder; a dated name beside the shop file when left out.
    """
    stamp = datetime.now().astimezone().strftime("%Y-%m-%d-%H%M%S")
    name = f"{archive.path.stem}-{stamp}.shop"
    if target is None:
        target = archive.path.parent / "backups" / name
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
