"""Photos, other kept files and the shop's settings beside the tables of an export."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path, PurePosixPath
from typing import Any

from portwright.errors import ImportFileError
from portwright.io.limits import check_archive
from portwright.io.spreadsheet_text import protect, unprotect

FOLDER = "files"
LIST_NAME = "files.csv"
SETTINGS_NAME = "settings.json"
_MAX_UNPACKED = 20_000_000_000  # bytes of all files of one export


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A file kept with a job, without its bytes.

    Parameters
    ----------
    job, name, media_type, subject, stage, caption : str
    sha256 : str
        Of its bytes.
    """

    job: str
    name: str
    media_type: str
    subject: str
    stage: str
    caption: str
    sha256: str

    @property
    def stored_as(self) -> str:
        """File name in the export; no character of it is anything but a name."""
        ending = re.sub(r"[^.\w]", "", PurePosixPath(self.name).suffix)[:12]
        return f"{self.sha256}{ending}"


def write_files(folder: Path, files: Iterable[tuple[KeptFile, bytes]]) -> tuple[Path, ...]:
    """Write kept files and their list into an export; the same bytes are written once.

    Raises
    ------
    OSError
        Folder read-only or disk full.
    """
    names = [field.name for field in fields(KeptFile)]
    text = io.StringIO(newline="")
    rows = csv.writer(text)
    rows.writerow([*names, "file"])
    written: dict[str, Path] = {}
    for kept, data in files:
        (folder / FOLDER).mkdir(parents=True, exist_ok=True)
        path = folder / FOLDER / kept.stored_as
        if kept.stored_as not in written:
            path.write_bytes(data)
            written[kept.stored_as] = path
        rows.writerow([protect(getattr(kept, name)) for name in names] + [kept.stored_as])
    if not written:
        return ()
    listed = folder / LIST_NAME
    listed.write_text(text.getvalue(), encoding="utf-8-sig", newline="")
    return (listed, *written.values())


def read_files(path: Path) -> Iterator[tuple[KeptFile, bytes]]:
    """Kept files of an export, one after the other.

    Parameters
    ----------
    path : Path
        Folder or .zip file of the export; one without kept files gives none.

    Raises
    ------
    ImportFileError
        The list or a file is missing, or its bytes are not those that were written.
    """
    with _opened(path) as read:
        text = read(LIST_NAME)
        if text is None:
            return
        for row in csv.DictReader(io.StringIO(text.decode("utf-8-sig"), newline="")):
            try:
                kept = KeptFile(**{f.name: unprotect(row[f.name]) for f in fields(KeptFile)})
            except (KeyError, TypeError, AttributeError) as error:
                raise _damaged(path, LIST_NAME) from error
            # the name is made from the checksum, never taken from the list
            data = read(f"{FOLDER}/{kept.stored_as}")
            if data is None or hashlib.sha256(data).hexdigest() != kept.sha256:
                raise _damaged(path, kept.name)
            yield kept, data


def write_settings(folder: Path, settings: dict[str, Any]) -> tuple[Path, ...]:
    """Write settings into an export; none where there are none.

    Raises
    ------
    OSError
        Folder read-only or disk full.
    """
    if not settings:
        return ()
    path = folder / SETTINGS_NAME
    text = json.dumps(settings, indent=1, sort_keys=True, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8", newline="")
    return (path,)


def read_settings(path: Path) -> dict[str, Any]:
    """Settings of an export by name, none where it has none.

    Raises
    ------
    ImportFileError
        They are there and cannot be read.
    """
    with _opened(path) as read:
        text = read(SETTINGS_NAME)
    if text is None:
        return {}
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise _damaged(path, SETTINGS_NAME) from error
    if not isinstance(found, dict):
        raise _damaged(path, SETTINGS_NAME)
    return found


@contextmanager
def _opened(path: Path) -> Iterator[Callable[[str], bytes | None]]:
    """Reader of one file by its name in the export, None where there is none."""
    try:
        if path.suffix.lower() != ".zip":
            folder = path if path.is_dir() else path.parent
            yield lambda name: (folder / name).read_bytes() if (folder / name).exists() else None
            return
        with zipfile.ZipFile(path) as packed:
            check_archive(packed, path.name, _MAX_UNPACKED)
            names = set(packed.namelist())
            yield lambda name: packed.read(name) if name in names else None
    except (OSError, zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError) as error:
        raise ImportFileError(
            f"The kept files in {path.name} cannot be read: {error}.", "Export the shop again."
        ) from error


def _damaged(path: Path, name: str) -> ImportFileError:
    return ImportFileError(
        f"{name} is missing or damaged in the export {path.name}.",
        "Export the shop again; everything else of this export can be read.",
    )
