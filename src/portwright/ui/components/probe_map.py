"""A section on which the place of the probe is touched."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui.element import Element
from nicegui.events import GenericEventArguments


class ProbeMap(Element, component="probe_map.js"):
    """Outline of a section with the marks so far.

    Parameters
    ----------
    outline : sequence of (across, up)
        [mm]
    label : str
        What is shown, for those who cannot see it.
    on_place : callable
        Called with across and up, in millimetres, when a place was touched.
    """

    def __init__(
        self,
        outline: Sequence[tuple[float, float]],
        label: str,
        on_place: Callable[[float, float], object],
    ) -> None:
        super().__init__()
        self._props.update(
            outline=[[round(v, 3) for v in p] for p in outline], marks=[], at=None, label=label
        )

        def placed(event: GenericEventArguments) -> object:
            return on_place(float(event.args[0]), float(event.args[1]))

        self.on("place", placed)

    def show(
        self, marks: Sequence[tuple[float, float, str]], at: tuple[float, float] | None
    ) -> None:
        """Show marks with their words, and the place of the probe. [mm]"""
        self._props["marks"] = [list(m) for m in marks]
        self._props["at"] = list(at) if at else None
