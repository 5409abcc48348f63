"""The numbers of a milling plan as boxes: typed for this plan, never stored."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from portwright.model.quantity import AsTyped
from portwright.services.compression import MILL_TERMS, Known
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import heading
from portwright.ui.state import View
from portwright.units import Kind, show

Commit = Callable[[str, AsTyped], Outcome]

_SHOWN = {
    "chamber",
    "open area",
    "swept volume",
    "gasket volume",
    "deck volume",
    "crown volume",
    "sink volume",
    "ring-land volume",
    "half V angle",
    "face tilt",
    "head gasket change",
    "intake gasket change",
    "cam sprocket radius",
    "head width",
    "chamber distance",
    "port height",
}


def box_unit(kind: Kind, view: View) -> str:
    """Unit of a box of that kind on this page."""
    inch = view.choice.length == "in"
    return {
        Kind.VOLUME: "cc",
        Kind.AREA: "in2" if inch else "cm2",
        Kind.ANGLE: "deg",
        Kind.LENGTH: "in" if inch else "mm",
        Kind.RATIO: "-",
    }[kind]


class MillNumbers:
    """Boxes for what the plan rests on.

    Parameters
    ----------
    view : View
    commit : callable
        Takes name and number into the plan and tells what became of it.
    """

    def __init__(self, view: View, commit: Commit) -> None:
        self._view = view
        self._boxes: dict[str, NumberEntry] = {}
        with ui.element("section").classes("sheet"):
            heading("Numbers used")
            ui.label("Change any of them for this plan; nothing is stored.").classes("small soft")
            with ui.element("div").classes("fields"):
                for term in MILL_TERMS:
                    if term.name in _SHOWN:
                        self._boxes[term.name] = self._box(term.name, term.kind, commit)

    def _box(self, name: str, kind: Kind, commit: Commit) -> NumberEntry:
        def committed(value: AsTyped) -> Outcome:
            return commit(name, value)

        label = name[0].upper() + name[1:]
        return NumberEntry(label, kind, box_unit(kind, self._view), committed)

    def show(self, known: dict[str, Known]) -> None:
        """Show the numbers of a plan with their origin."""
        for name, box in self._boxes.items():
            unit = box_unit(box.kind, self._view)
            item = known.get(name)
            if item is None:
                box.show("", unit, hint="not known")
            else:
                text = show(item.value, unit, box.kind)
                box.show(text, unit, hint=f"{item.origin.value}: {item.note}")
