"""The whole shop out as plain tables and one lossless file, and back."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

from portwright.archive.archive import Archive
from portwright.archive.store import SaveReport
from portwright.archive.who import DOOR
from portwright.errors import ArchiveWriteError
from portwright.io.export import export_contents, read_export
from portwright.io.export_files import (
    KeptFile,
    read_files,
    read_settings,
    write_files,
    write_settings,
)
from portwright.model.contents import ShopContents
from portwright.services.billing import repeated_numbers
from portwright.services.guarded import careful

# What opens the shop, and what belongs to this computer or can be worked out again.
_STAYS = {*DOOR, "backup plan", "backup state", "engine-tries", "instrument zero"}


def export_shop(archive: Archive, target: Path) -> tuple[Path, ...]:
    """Write everything the shop file holds into a folder or a .zip file.

    Returns
    -------
    tuple of Path
        Files written; names inside the .zip file for that.

    Raises
    ------
    ArchiveWriteError
        The target cannot be written.
    """
    contents = archive.contents()
    try:
        if target.suffix.lower() != ".zip":
            written = export_contents(contents, target)
            return written + _besides(archive, contents, target)
        with tempfile.TemporaryDirectory() as folder:
            files = export_contents(contents, Path(folder))
            files += _besides(archive, contents, Path(folder))
            with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
                for file in files:
                    packed.write(file, file.relative_to(folder))
            return tuple(file.relative_to(folder) for file in files)
    except OSError as error:
        raise ArchiveWriteError(
            f"The export {target} cannot be written.", "Choose a folder that may be written."
        ) from error


def _besides(archive: Archive, contents: ShopContents, folder: Path) -> tuple[Path, ...]:
    settings = {n: v for n, v in archive.settings().items() if n not in _STAYS}
    files = write_files(folder, _kept_files(archive, contents))
    return files + write_settings(folder, settings)


def _kept_files(archive: Archive, contents: ShopContents) -> Iterator[tuple[KeptFile, bytes]]:
    for job in contents.jobs:
        number = job.job.number
        for a in archive.attachments(number):
            about = (a.name, a.media_type, a.subject, a.stage, a.caption, a.sha256)
            yield KeptFile(number, *about), archive.attachment_data(a.id)


def is_export(path: Path) -> bool:
    """Whether a path looks like an export of a whole shop: a folder or a .zip file."""
    return path.is_dir() or path.suffix.lower() == ".zip"


def import_export(archive: Archive, path: Path) -> SaveReport:
    """Read an export back into a shop file; what is there already is skipped.

    Raises
    ------
    ImportFileError, ArchiveError
    """
    saved = archive.save(careful(read_export, path))
    new = 0
    for kept, data in read_files(path):
        known = {(a.sha256, a.name, a.subject, a.stage) for a in archive.attachments(kept.job)}
        new += (kept.sha256, kept.name, kept.subject, kept.stage) not in known
        archive.add_attachment(
            kept.job,
            data,
            kept.name,
            kept.media_type,
            subject=kept.subject,
            stage=kept.stage,
            caption=kept.caption,
        )
    if new:
        saved.added["kept file"] = new
    for name, value in read_settings(path).items():
        mine = archive.setting(name)
        if name in _STAYS or mine == value:
            continue
        if mine is None:
            archive.save_setting(name, value)
            saved.added["setting"] = saved.added.get("setting", 0) + 1
        else:
            saved.conflicts.append(f"setting '{name}' differs; the one here was kept")
    saved.conflicts += [f.message for f in repeated_numbers(archive)]
    return saved
