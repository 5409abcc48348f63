"""A photo on which arrows, rings and words can be set."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from nicegui.element import Element
from nicegui.events import GenericEventArguments


class PhotoMarks(Element, component="photo_marks.js"):
    """The photo with its marks.

    Parameters
    ----------
    address : str
        Of the photo as taken.
    marks : sequence of dict
        Marks it has.
    on_marked : callable
        Called with all marks after each change.
    """

    def __init__(
        self,
        address: str,
        marks: Sequence[dict[str, Any]],
        on_marked: Callable[[list[dict[str, Any]]], object],
    ) -> None:
        super().__init__()
        self._props.update(address=address, start=list(marks))

        def told(event: GenericEventArguments) -> None:
            on_marked(list(event.args))

        self.on("marked", told)
