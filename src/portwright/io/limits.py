"""How large a file may be before it is taken for a mistake or an attack."""

from __future__ import annotations

import zipfile

from portwright.errors import ImportFileError

MAX_BYTES = 20_000_000
MAX_ROWS = 200_000
MAX_COLUMNS = 500
_HARMLESS = 20_000_000  # unpacked, whatever the packing gains [bytes]
_MOST_GAINED = 100  # packing makes sheets, exports and meshes 5 to 40 times smaller


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
    packed = sum(info.compress_size for info in archive.infolist())
    if total > max(_HARMLESS, _MOST_GAINED * packed):
        raise ImportFileError(
            f"{name} unpacks to {total / max(packed, 1):.0f} times its size, as only a trap does.",
            "Do not open this file; ask for it again from where it came.",
        )
