"""Why a stored value changes: asked once, kept with the old value."""

from __future__ import annotations

from nicegui import ui

from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading

_USUAL = ("Typing slip", "Measured again")


async def ask_reason(what: str) -> str:
    """Reason given, "" when the change was called off.

    Parameters
    ----------
    what : str
        The change in words.
    """
    with ui.dialog() as dialog, ui.element("div").classes("card").props('role="document"'):
        heading("Why does it change?")
        ui.label(what)
        with ui.element("div").classes("row-wrap"):
            for words in _USUAL:
                button(words, lambda words=words: dialog.submit(words), "main")
        other = Field("Another reason", on_enter=dialog.submit)
        with ui.element("div").classes("row-wrap"):
            button("Keep the old value", lambda: dialog.submit(""), "quiet")
            button("Change it", lambda: dialog.submit(other.value))
    answer = await dialog
    dialog.delete()
    return str(answer or "").strip()
