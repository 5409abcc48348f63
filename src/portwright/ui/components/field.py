"""Labelled text, paragraph, date and choice boxes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from nicegui.element import Element
from nicegui.events import GenericEventArguments


class Field(Element, component="field.js"):
    """One labelled box for words.

    Parameters
    ----------
    label : str
    value : str
    kind : str
        "text", "number", "search", "date", "password", "paragraph" or "choice"; a number is text as
        well, with the keys of numbers on a tablet.
    options : mapping or sequence of str
        What a choice offers, value to text; suggestions for the other kinds.
    hint : str
        One line under the box.
    on_change : callable, optional
        Called with the new text.
    on_enter : callable, optional
        Called with the text when Enter is pressed.
    """

    def __init__(
        self,
        label: str,
        value: str = "",
        *,
        kind: str = "text",
        options: Mapping[str, str] | Sequence[str] = (),
        hint: str = "",
        on_change: Callable[[str], object] | None = None,
        on_enter: Callable[[str], object] | None = None,
    ) -> None:
        super().__init__()
        self.value = value
        self._on_change = on_change
        self._props.update(label=label, kind=kind, value=value, hint=hint, stamp=0)
        self.offer(options)
        self.on("text", self._changed)
        if on_enter is not None:
            self.on("enter", lambda event: on_enter(str(event.args)))

    def offer(self, options: Mapping[str, str] | Sequence[str]) -> None:
        """Change what the box offers."""
        named = options if isinstance(options, Mapping) else {o: o for o in options}
        self._props["options"] = [[value, text] for value, text in named.items()]

    def set(self, value: str) -> None:
        """Show another text without calling ``on_change``."""
        self.value = value
        self._props["value"] = value
        self._props["stamp"] += 1

    def _changed(self, event: GenericEventArguments) -> None:
        self.value = str(event.args)
        with self._props.suspend_updates():  # an echo could overwrite what is typed meanwhile
            self._props["value"] = self.value
        if self._on_change is not None:
            self._on_change(self.value)
