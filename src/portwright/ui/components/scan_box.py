"""Box that sends a scan to the server."""

from __future__ import annotations

from collections.abc import Callable

from nicegui.element import Element
from nicegui.events import GenericEventArguments

from portwright.ui import links
from portwright.ui.state import form_token


class ScanBox(Element, component="sheet_box.js"):
    """File choice for a scan.

    Parameters
    ----------
    on_sent : callable
        Called with the key under which the server keeps the file.
    """

    def __init__(self, on_sent: Callable[[str], object]) -> None:
        super().__init__()
        self._props.update(
            address=links.SCAN_FILE,
            token=form_token(),
            label="Scan (STL, OBJ, PLY, 3MF up to 200 MB)",
            accept=".stl,.obj,.ply,.3mf",
        )

        def sent(event: GenericEventArguments) -> object:
            return on_sent(str(event.args))

        self.on("sent", sent)
