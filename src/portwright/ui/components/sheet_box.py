"""Box that sends a file to the server."""

from __future__ import annotations

from collections.abc import Callable

from nicegui.element import Element
from nicegui.events import GenericEventArguments

from portwright.ui import links
from portwright.ui.security import LARGEST_UPLOAD
from portwright.ui.state import form_token


class SheetBox(Element, component="sheet_box.js"):
    """File choice, for a flow or measurement sheet unless something else is said.

    Parameters
    ----------
    on_sent : callable
        Called with what the server answers: the key under which it keeps the sheet.
    address : str
        Where the file is sent.
    label, accept : str
        Words above the box, and what it offers.
    most : int
        Largest file; a larger one is refused before it is sent. [bytes]
    """

    def __init__(
        self,
        on_sent: Callable[[str], object],
        address: str = links.SHEET_FILE,
        *,
        label: str = "Sheet (CSV or XLSX)",
        accept: str = ".csv,.txt,.xlsx",
        most: int = LARGEST_UPLOAD,
    ) -> None:
        super().__init__()
        self._props.update(
            address=address, token=form_token(), label=label, accept=accept, most=most
        )

        def sent(event: GenericEventArguments) -> object:
            return on_sent(str(event.args))

        self.on("sent", sent)
