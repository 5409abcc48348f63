"""Finished files to disk, for commands."""

from __future__ import annotations

from pathlib import Path

from portwright.report.pdf import write_bytes


def write_file(content: bytes, path: Path) -> None:
    """Write a file whole; an older one is replaced only when the new one is complete.

    Raises
    ------
    ReportError
    """
    write_bytes(content, path)
