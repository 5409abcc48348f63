"""What gives a photo its scale, and how well that is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from nicegui import ui

from portwright import units
from portwright.errors import InputError, PortwrightError
from portwright.model.quantity import AsTyped
from portwright.services.trace import Join, ScaleKind
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import Switch, button, heading
from portwright.ui.state import View
from portwright.units import Kind

_NAMES = {
    ScaleKind.FRAME: "Frame",
    ScaleKind.FRAME_WITH_MIDDLES: "Frame, 8 marks",
    ScaleKind.CIRCLE: "Circle",
    ScaleKind.BAR: "Bar",
}
_SIZES = {
    ScaleKind.BAR: ("Length of the bar",),
    ScaleKind.CIRCLE: ("Diameter of the circle",),
}
_SIDES = ("Side between marks 1 and 2", "Side between marks 2 and 3")
_SIDES_OF_EIGHT = ("Side from mark 1 to mark 3", "Side from mark 3 to mark 5")
_WORDS = {
    ScaleKind.FRAME: "Mark the four corners of a rectangle, in order round it. Takes out tilt.",
    ScaleKind.FRAME_WITH_MIDDLES: "Mark corner, middle of the side, corner and so on, eight marks "
    "round the rectangle. Takes out tilt and the bend of the lens.",
    ScaleKind.CIRCLE: "Mark the rim of a circle at five or more places all round. Takes out tilt "
    "for what lies inside or close to it.",
    ScaleKind.BAR: "Mark both ends of a bar. The camera must be square to the section.",
}
_LINES = (
    "Mark the four corners roughly and press Find the frame: printed lines, "
    "or the edges of a plain sheet, are found to a fraction of a pixel, with the bend of the lens. "
    "See that every mark sits in the middle of its line or on its edge."
)
_MOST = {ScaleKind.CIRCLE: 16}


@dataclass
class ScaleChoice:
    """What was chosen and typed about the scale.

    Parameters
    ----------
    kind : ScaleKind
    sizes : list of AsTyped or None
    limit : AsTyped
        Most by which a size may be off. [m]
    join : Join
    """

    kind: ScaleKind = ScaleKind.FRAME
    sizes: list[AsTyped | None] = field(default_factory=lambda: [None, None])
    limit: AsTyped = field(default_factory=lambda: units.typed(0.2, "mm", Kind.LENGTH))
    join: Join = Join.SMOOTH

    @property
    def most_marks(self) -> int:
        """Marks the photo takes."""
        return _MOST.get(self.kind, self.kind.marks)

    @property
    def framed(self) -> bool:
        """Whether a rectangle gives the scale."""
        return self.kind in {ScaleKind.FRAME, ScaleKind.FRAME_WITH_MIDDLES}

    @property
    def words(self) -> str:
        """How to mark it."""
        return _WORDS[self.kind]

    def kept(self) -> dict[str, Any]:
        """As the browser keeps it over a reload."""
        return {
            "scale": self.kind.value,
            "join": self.join.value,
            "limit": str(self.limit),
            "sizes": ["" if size is None else str(size) for size in self.sizes],
        }

    def take(self, kept: dict[str, Any]) -> None:
        """Bring back what :meth:`kept` gave; nonsense is left out."""
        try:
            self.kind, self.join = ScaleKind(kept["scale"]), Join(kept["join"])
            self.limit = units.read(kept["limit"], Kind.LENGTH)
            self.sizes = [units.read(s, Kind.LENGTH) if s else None for s in kept["sizes"]][:2]
        except (KeyError, TypeError, ValueError, PortwrightError):
            self.sizes = [None, None]


class ScaleBox:
    """Boxes for the scale.

    Parameters
    ----------
    choice : ScaleChoice
        Changed in place.
    view : View
    on_change : callable
        Called after anything changed.
    find : callable
        Finds the lines or edges of the frame.
    """

    def __init__(
        self,
        choice: ScaleChoice,
        view: View,
        on_change: Callable[[], object],
        find: Callable[[], object],
    ) -> None:
        self._choice, self._view, self._on_change = choice, view, on_change
        with ui.element("section").classes("sheet"):
            heading("Scale")
            self._kinds = Switch(
                "What gives the scale",
                {kind.value: name for kind, name in _NAMES.items()},
                choice.kind.value,
                self._chosen,
            )
            self._how = ui.label().classes("small")
            self._lines = ui.element("div").classes("stack")
            with self._lines:
                ui.label(_LINES).classes("small")
                button("Find the frame", find).style("align-self: flex-start")
            self._fields = ui.element("div").classes("fields")
            ui.label("The scale must lie level with the outline, not under it.").classes(
                "small soft"
            )
        self.show()

    def show(self) -> None:
        """Draw the boxes for the present choice."""
        choice, unit = self._choice, self._view.unit(Kind.LENGTH)
        self._kinds.press(choice.kind.value)
        self._how.text = choice.words
        self._lines.set_visibility(choice.framed)
        sides = _SIDES_OF_EIGHT if choice.kind is ScaleKind.FRAME_WITH_MIDDLES else _SIDES
        self._fields.clear()
        with self._fields:
            for place, name in enumerate(_SIZES.get(choice.kind, sides)):
                size = choice.sizes[place]
                NumberEntry(
                    name,
                    Kind.LENGTH,
                    size.unit if size else unit,
                    partial(self._typed, place),
                    value=size.text if size else "",
                )
            NumberEntry(
                "Size known to ±",
                Kind.LENGTH,
                choice.limit.unit,
                partial(self._typed, None),
                value=choice.limit.text,
            )

    def _chosen(self, kind: str) -> None:
        self._choice.kind = ScaleKind(kind)
        self.show()
        self._on_change()

    def _typed(self, place: int | None, value: AsTyped) -> Outcome:
        if place is None:
            if value.si < 0.0:
                raise InputError("The limit cannot be below zero.", "Type it without a sign.")
            self._choice.limit = value
        else:
            if value.si <= 0.0:
                raise InputError("A size is above zero.", "Type it again.")
            self._choice.sizes[place] = value
        self._on_change()
        return Outcome(value.text, "")
