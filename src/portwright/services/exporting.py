"""The whole shop out as plain tables and one lossless file, and back."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

from portwright.archive.archive import Archive
from portwright.archive.store import SaveReport
from portwright.errors import ArchiveWriteError
from portwright.io.export import export_contents, read_export
from portwright.services.guarded import careful


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
            return export_contents(contents, target)
        with tempfile.TemporaryDirectory() as folder:
            files = export_contents(contents, Path(folder))
            with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
                for file in files:
                    packed.write(file, file.relative_to(folder))
            return tuple(file.relative_to(folder) for file in files)
    except OSError as error:
        raise ArchiveWriteError(
            f"The export {target} cannot be written.", "Choose a folder that may be written."
        ) from error


def is_export(path: Path) -> bool:
    """Whether a path looks like an export of a whole shop: a folder or a .zip file."""
    return path.is_dir() or path.suffix.lower() == ".zip"


def import_export(archive: Archive, path: Path) -> SaveReport:
    """Read an export back into a shop file; what is there already is skipped.

    Raises
    ------
    ImportFileError, ArchiveError
    """
    return archive.save(careful(read_export, path))
