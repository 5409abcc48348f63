"""What screens of plans share: numbers typed for one plan, kept in the address, shown again."""

from __future__ import annotations

import json
from collections.abc import Callable, Container, Mapping
from typing import Generic, TypeVar

from nicegui import ui

from portwright.errors import PortwrightError
from portwright.model.quantity import AsTyped
from portwright.services.plan_terms import Known, PlanTerm
from portwright.ui.components.number_entry import Outcome
from portwright.ui.components.plan_numbers import PlanNumbers
from portwright.ui.state import View

Plan = TypeVar("Plan")


def numbers_text(given: Mapping[str, AsTyped]) -> str:
    """Numbers of a plan as they stand in an address."""
    return "; ".join(f"{name}={value.text} {value.unit}" for name, value in given.items())


class PlanPage(Generic[Plan]):
    """Numbers on the left, what follows on the right.

    Parameters
    ----------
    view : View
    given : dict of str to AsTyped
    groups : mapping of str to list of PlanTerm
        Boxes; see :class:`PlanNumbers`.
    work_out : callable
        Plan from the numbers given.
    known : callable
        Numbers of a plan.
    show : callable
        Draws a plan.
    address : callable
        Address of the screen with these numbers.
    opened : container of str
        Titles of groups that do not begin folded.
    """

    def __init__(
        self,
        view: View,
        given: dict[str, AsTyped],
        groups: Mapping[str, list[PlanTerm]],
        *,
        work_out: Callable[[Mapping[str, AsTyped]], Plan],
        known: Callable[[Plan], Mapping[str, Known]],
        show: Callable[[Plan, str], object],
        address: Callable[[str], str],
        opened: Container[str] = (),
    ) -> None:
        self._opened = opened
        self._view, self._given, self._groups = view, given, groups
        self._work_out, self._known, self._draw, self._address = work_out, known, show, address
        with ui.element("div").classes("columns"):
            self._left = ui.element("div").classes("stack")
            self._right = ui.element("div").classes("mill-answer").props("aria-live=polite")
        self._again()
        view.on_change(self._again)

    def _again(self) -> None:
        self._left.clear()
        with self._left:
            self._boxes = PlanNumbers(self._view, self._number, self._groups, opened=self._opened)
        try:
            self._show(self._work_out(self._given))
        except PortwrightError as error:
            self._right.clear()
            with self._right, ui.element("div").classes("notice ask"):
                ui.label(error.message).classes("strong")
                ui.label(error.hint)

    def _number(self, name: str, value: AsTyped) -> Outcome:
        given = {**self._given, name: value}
        plan = self._work_out(given)  # refused: the box says why, all stays
        self._given = given
        here = json.dumps(self._address(numbers_text(given)))
        ui.run_javascript(f"history.replaceState(history.state, '', {here})")
        self._show(plan)
        return Outcome(value.text, "In this plan")

    def _show(self, plan: Plan) -> None:
        self._boxes.show(self._known(plan))
        self._right.clear()
        with self._right:
            self._draw(plan, numbers_text(self._given))
