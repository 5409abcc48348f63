"""Throw away compiled code that no longer fits its source.

The compiler's cache looks only at the file of the function itself, not at what it calls, so an
update of one file could leave callers running old code.
"""

from __future__ import annotations

import contextlib
import hashlib
from pathlib import Path

_STAMP = "gas1d.stamp"


def clear_stale(folder: Path) -> int:
    """Remove cached machine code of a package folder when any of its sources changed.

    Parameters
    ----------
    folder : Path
        Folder with the sources; the cache lies in its ``__pycache__``.

    Returns
    -------
    int
        Files removed. [-]
    """
    digest = hashlib.sha256()
    for source in sorted(folder.glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    cache = folder / "__pycache__"
    stamp = cache / _STAMP
    removed = 0
    # a folder that may not be written holds no cache of ours either
    with contextlib.suppress(OSError):
        if stamp.is_file() and stamp.read_text(encoding="ascii") == digest.hexdigest():
            return 0
        for old in (*cache.glob("*.nbi"), *cache.glob("*.nbc")):
            old.unlink()
            removed += 1
        cache.mkdir(exist_ok=True)
        stamp.write_text(digest.hexdigest(), encoding="ascii")
    return removed
