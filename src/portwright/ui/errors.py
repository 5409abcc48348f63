"""Errors shown to the person: what is wrong, and what to do."""

from __future__ import annotations

import logging

from nicegui import ui

from portwright.errors import Finding, PortwrightError, Severity

_log = logging.getLogger(__name__)

# How a finding looks and is called; the word carries the meaning, the colour only repeats it.
_LOOK = {
    Severity.NOTE: ("", "Note"),
    Severity.WARNING: ("ask", "Check"),
    Severity.FAULT: ("fault", "Fault"),
}


def show_error(error: Exception) -> None:
    """Open a dialog for an error; anything unexpected is logged in full and said plainly."""
    message, hint = error_words(error)
    with (
        ui.dialog(value=True) as dialog,
        ui.element("div").classes("card fault").props('role=alertdialog aria-label="Error"'),
    ):
        ui.label(message).classes("strong")
        if hint:
            ui.label(hint)
        ui.button("OK", on_click=dialog.close, color=None).classes("act main").props("autofocus")


def error_words(error: Exception) -> tuple[str, str]:
    """What is wrong and what to do, for any error."""
    if isinstance(error, PortwrightError):
        return error.message, error.hint
    _log.error("unexpected error on a page", exc_info=error)
    return (
        "Something went wrong inside Portwright.",
        "Nothing was lost that was shown as saved. Reload the page; the log has the details.",
    )


def show_finding(finding: Finding) -> None:
    """One finding as a block of text."""
    look, word = _LOOK[finding.severity]
    with ui.element("div").classes(f"notice {look}"):
        ui.label(word).classes("kind small")
        ui.label(finding.message).classes("strong")
        if finding.hint:
            ui.label(finding.hint).classes("small")
