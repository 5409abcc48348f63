"""Box that sends a scan to the server."""

from __future__ import annotations

from collections.abc import Callable

from portwright.ui import links
from portwright.ui.components.sheet_box import SheetBox
from portwright.ui.security import LARGEST_SCAN


class ScanBox(SheetBox, component="sheet_box.js"):
    """File choice for a scan.

    Parameters
    ----------
    on_sent : callable
        Called with the key under which the server keeps the file.
    """

    def __init__(self, on_sent: Callable[[str], object]) -> None:
        super().__init__(
            on_sent,
            links.SCAN_FILE,
            label="Scan (STL, OBJ, PLY, 3MF up to 200 MB and 2 million triangles)",
            accept=".stl,.obj,.ply,.3mf",
            most=LARGEST_SCAN,
        )
