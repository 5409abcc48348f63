"""Box that sends a sheet to the server."""

from __future__ import annotations

from collections.abc import Callable

from nicegui.element import Element
from nicegui.events import GenericEventArguments

from portwright.ui import links
from portwright.ui.state import form_token


class SheetBox(Element, component="sheet_box.js"):
    """File choice for a flow or measurement sheet.

    Parameters
    ----------
    on_sent : callable
        Called with the key under which the server keeps the sheet.
    """

    def __init__(self, on_sent: Callable[[str], object]) -> None:
        super().__init__()
        self._props.update(address=links.SHEET_FILE, token=form_token())

        def sent(event: GenericEventArguments) -> object:
            return on_sent(str(event.args))

        self.on("sent", sent)
