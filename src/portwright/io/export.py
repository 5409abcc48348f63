"""A whole shop as plain files: tables for a person, one JSON file with everything."""

from __future__ import annotations

import csv
import io
import json
import zipfile
import zlib
from pathlib import Path

from portwright.errors import ArchiveWriteError, ImportFileError
from portwright.io.export_tables import PlainTable, plain_tables
from portwright.io.limits import check_archive
from portwright.io.spreadsheet_text import protect
from portwright.model.contents import ShopContents
from portwright.model.plain import from_plain, to_plain

FORMAT = "portwright-export"
VERSION = 1
JSON_NAME = "portwright.json"
MAX_JSON_BYTES = 2_000_000_000


def export_contents(contents: ShopContents, folder: Path) -> tuple[Path, ...]:
    """Write one CSV file per table and one JSON file that holds everything without loss.

    Parameters
    ----------
    contents : ShopContents
    folder : Path
        Made if it does not exist; files of an earlier export there are replaced.

    Returns
    -------
    tuple of Path
        Files written, the JSON file last.

    Raises
    ------
    ArchiveWriteError
        Folder read-only or disk full.

    Notes
    -----
    Text that a spreadsheet program would run as a formula gets an apostrophe in front in the CSV
    files; the importer takes it off again.
    """
    texts = {f"{table.name}.csv": _csv_text(table) for table in plain_tables(contents)}
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            # the byte order mark tells spreadsheet programs that the file is UTF-8
            written.append(_replace(folder / name, text.encode("utf-8-sig")))
        written.append(_replace(folder / JSON_NAME, export_json(contents).encode("utf-8")))
    except OSError as error:
        raise ArchiveWriteError(
            f"The export cannot be written to {folder}: {error.strerror or error}.",
            "Choose a folder you may write to, on a disk with room.",
        ) from error
    return tuple(written)


def export_json(contents: ShopContents) -> str:
    """Everything in ``contents`` as JSON text with its format version."""
    plain = {"format": FORMAT, "version": VERSION, "contents": to_plain(contents)}
    return json.dumps(plain, indent=1, allow_nan=False) + "\n"


def read_export(path: Path) -> ShopContents:
    """Read back what :func:`export_contents` wrote.

    Parameters
    ----------
    path : Path
        The folder, a zip file of it, or its JSON file.

    Raises
    ------
    ImportFileError
        No export there, damaged, or made by a newer Portwright.
    """
    text = _json_text(path)
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise _damaged(path, str(error)) from error
    if not isinstance(plain, dict) or plain.get("format") != FORMAT:
        raise ImportFileError(
            f"{path.name} is not an export of a shop.", f"Look for a file called {JSON_NAME}."
        )
    version = plain.get("version")
    if not isinstance(version, int) or version > VERSION:
        raise ImportFileError(
            f"{path.name} was made by a newer Portwright (format {version}, here {VERSION}).",
            "Update Portwright.",
        )
    try:
        return from_plain(ShopContents, plain.get("contents"))
    except (ValueError, RecursionError) as error:
        raise _damaged(path, str(error)) from error


def _damaged(path: Path, why: str) -> ImportFileError:
    return ImportFileError(f"The export in {path.name} is damaged: {why}.", "Export it again.")


def _json_text(path: Path) -> str:
    try:
        if path.suffix.lower() == ".zip":
            with zipfile.ZipFile(path) as archive:
                check_archive(archive, path.name, MAX_JSON_BYTES)
                names = [n for n in archive.namelist() if n.rpartition("/")[2] == JSON_NAME]
                if not names:
                    raise ImportFileError(f"{path.name} holds no {JSON_NAME}.", "Export it again.")
                return archive.read(names[0]).decode("utf-8")
        file = path / JSON_NAME if path.is_dir() else path
        return file.read_text(encoding="utf-8")
    except (
        OSError,
        zipfile.BadZipFile,
        UnicodeDecodeError,
        EOFError,
        RuntimeError,  # packed in a way that cannot be read here, or with a password
        zlib.error,
    ) as error:
        raise ImportFileError(
            f"{path.name} holds no readable export: {error}.", f"Look for {JSON_NAME} in it."
        ) from error


def _csv_text(table: PlainTable) -> str:
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow(table.headings)
    writer.writerows([protect(cell) for cell in row] for row in table.rows)
    return file.getvalue()


def _replace(path: Path, content: bytes) -> Path:
    """Write beside and move into place, so that a full disk leaves the earlier file."""
    beside = path.with_name(path.name + ".part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return path
