"""How large a file may be before it is taken for a mistake or an attack."""

from __future__ import annotations

import zipfile

from portwright.errors import ImportFileError

MAX_BYTES = 20_000_000
MAX_ROWS = 200_000
MAX_COLUMNS = 500


def refuse_if_long(rows: int, max_rows: int, name: str) -> None:
    """Raise ImportFileError when a table has more than ``max_rows`` rows and a heading."""
    if rows > max_rows + 1:
        raise ImportFileError(
            f"{name} has more than {max_rows} rows.", "Split it, or raise the limit."
        )


def check_archive(archive: zipfile.ZipFile, name: str, max_unpacked: int) -> None:
    """Raise ImportFileError when a zip file would unpack to more than ``max_unpacked`` bytes."""
    total = sum(info.file_size for info in archive.infolist())
    if total > max_unpacked:
        raise ImportFileError(
            f"{name} unpacks to {total / 1e6:.0f} MB; the limit is {max_unpacked / 1e6:.0f} MB.",
            "Check that this is the right file.",
        )
