"""A button that reads a text aloud in the browser."""

from __future__ import annotations

from nicegui.element import Element


class Speak(Element, component="speak.js"):
    """Reads ``words`` with a voice of this device.

    Parameters
    ----------
    words : str
    language : str
        Two letters.
    """

    def __init__(self, words: str, language: str) -> None:
        super().__init__()
        self._props.update(words=words, language=language)
