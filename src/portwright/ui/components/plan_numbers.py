"""The numbers of a plan as boxes: typed for this plan, never stored."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence

from nicegui import ui

from portwright.model.quantity import AsTyped
from portwright.services.plan_terms import Known, PlanTerm
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import heading
from portwright.ui.state import View
from portwright.units import Kind, show

Commit = Callable[[str, AsTyped], Outcome]


def box_unit(kind: Kind, view: View) -> str:
    """Unit of a box of that kind on this page."""
    inch = view.choice.length == "in"
    own = {
        Kind.VOLUME: "cc",
        Kind.AREA: "in2" if inch else "cm2",
        Kind.ANGLE: "deg",
        Kind.LENGTH: "in" if inch else "mm",
        Kind.RATIO: "-",
        Kind.PRESSURE: "psi" if inch else "bar",
        Kind.FORCE: "lbf" if inch else "N",
        Kind.STIFFNESS: "lbf/in" if inch else "N/mm",
    }
    return own[kind]


class PlanNumbers:
    """Boxes for what a plan rests on.

    Parameters
    ----------
    view : View
    commit : callable
        Takes name and number into the plan and tells what became of it.
    groups : mapping of str to sequence of PlanTerm
        Numbers in groups; those with a title fold away, "" stays open.
    without : str
        Words under a box nobody knows the number of.
    opened : container of str
        Titles of groups that do not begin folded.
    """

    def __init__(
        self,
        view: View,
        commit: Commit,
        groups: Mapping[str, Sequence[PlanTerm]],
        without: str = "not known",
        opened: Container[str] = (),
    ) -> None:
        self._view, self._without = view, without
        self._boxes: dict[str, NumberEntry] = {}
        with ui.element("section").classes("sheet"):
            heading("Numbers used")
            ui.label("Change any of them for this plan; nothing is stored.").classes("small soft")
            for title, terms in groups.items():
                folded = ui.element("details").classes("more") if title else ui.element("div")
                if title in opened:
                    folded.props("open")
                with folded:
                    if title:
                        with ui.element("summary"):
                            ui.label(title)
                    with ui.element("div").classes("fields"):
                        for term in terms:
                            self._boxes[term.name] = self._box(term, commit)

    def _box(self, term: PlanTerm, commit: Commit) -> NumberEntry:
        def committed(value: AsTyped) -> Outcome:
            return commit(term.name, value)

        label = term.name[0].upper() + term.name[1:]
        return NumberEntry(label, term.kind, box_unit(term.kind, self._view), committed)

    def show(self, known: Mapping[str, Known]) -> None:
        """Show the numbers of a plan with their origin."""
        for name, box in self._boxes.items():
            unit = box_unit(box.kind, self._view)
            item = known.get(name)
            if item is None:
                box.show("", unit, hint=self._without)
            else:
                text = show(item.value, unit, box.kind)
                box.show(text, unit, hint=f"{item.origin.value}: {item.note}")
