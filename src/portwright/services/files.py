"""Finished files to disk, for commands."""

from __future__ import annotations

from pathlib import Path

from portwright.errors import ImportFileError
from portwright.report.pdf import write_bytes


def write_file(content: bytes, path: Path) -> None:
    """Write a file whole; an older one is replaced only when the new one is complete.

    Raises
    ------
    ReportError
    """
    write_bytes(content, path)


def read_file(path: Path) -> bytes:
    """Bytes of a file a person named.

    Raises
    ------
    ImportFileError
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise ImportFileError(
            f"{path} cannot be read: {error.strerror or error}.", "Check the name and its folder."
        ) from error
