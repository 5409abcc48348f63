"""A photo to mark and trace on, by finger, pen or mouse."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from nicegui.element import Element

from portwright.services.trace import Points
from portwright.ui import links

Zooms = tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What stands on the photo.

    Parameters
    ----------
    marks, outline : tuple of tuple of float
        [px]
    mark_zoom, outline_zoom : tuple of float or None
        Screen pixels per picture pixel when each point was placed, None where no hand placed it.
    holes : tuple of tuple of float
        By which a face is laid on its counterpart. [px]
    hole_zoom : tuple of float or None
    """

    marks: Points = ()
    outline: Points = ()
    mark_zoom: Zooms = ()
    outline_zoom: Zooms = ()
    holes: Points = ()
    hole_zoom: Zooms = ()

    @classmethod
    def read(cls, state: Mapping[str, Any]) -> Drawn:
        """From what the browser sends."""
        marks, outline, holes = state["marks"], state["outline"], state["holes"]
        return cls(
            _points(marks),
            _points(outline),
            _zooms(marks),
            _zooms(outline),
            _points(holes),
            _zooms(holes),
        )


def _points(sent: list[list[float | None]]) -> Points:
    return tuple((float(p[0] or 0.0), float(p[1] or 0.0)) for p in sent)


def _zooms(sent: list[list[float | None]]) -> Zooms:
    return tuple(None if p[2] is None else float(p[2]) for p in sent)


class TracePhoto(Element, component="trace_photo.js"):
    """The photo with its marks and outline.

    Parameters
    ----------
    photo : int
        Stored file.
    size : tuple of int
        Width and height, upright. [px]
    keep : str
        Name under which the draft survives a reload in this browser tab.
    on_drawn : callable
        Called with what stands on the photo whenever it changes.
    on_seed : callable
        Called with a point inside what an outline is wanted for. [px]
    on_restored : callable
        Called with what stood on the photo before a reload, and the further choices kept with it.
    """

    def __init__(
        self,
        photo: int,
        size: tuple[int, int],
        keep: str,
        on_drawn: Callable[[Drawn], object],
        on_seed: Callable[[float, float], object],
        on_restored: Callable[[Drawn, dict[str, Any]], object],
    ) -> None:
        super().__init__()
        self._props.update(
            address=f"{links.PHOTO}/{photo}",
            keep=keep,
            width=size[0],
            height=size[1],
            tool="scale",
            words="",
            scale="",
            most=0,
            extra={},
            figure="",
        )
        self.on("changed", lambda event: on_drawn(Drawn.read(event.args)))
        self.on("seed", lambda event: on_seed(float(event.args["x"]), float(event.args["y"])))
        self.on(
            "restored", lambda event: on_restored(Drawn.read(event.args), dict(event.args["extra"]))
        )

    def use(self, tool: str, words: str) -> None:
        """What a finger does, by the name of a tool, and how to say it."""
        self._props.update(tool=tool, words=words)

    def scale(self, kind: str, most: int) -> None:
        """Take marks for another kind of scale, at most so many; older ones go."""
        self._props.update(scale=kind, most=most)

    def keep_too(self, extra: dict[str, Any]) -> None:
        """Choices to keep with the draft."""
        self._props["extra"] = extra

    def figure(self, text: str) -> None:
        """Show a result in the corner of the photo, in sight while tracing."""
        self._props["figure"] = text

    def take(self, outline: Points) -> None:
        """Put a suggested outline on the photo."""
        self.run_method("take", [list(p) for p in outline])

    def take_marks(self, marks: Points, kind: str) -> None:
        """Put marks of a kind of scale on the photo that the picture itself gave."""
        self.run_method("takeMarks", [list(p) for p in marks], kind)

    def forget(self) -> None:
        """Drop the draft: it is stored now."""
        self.run_method("forget")
