"""Entries of one measuring place, with the stage before and what follows from them."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.model.head import Port
from portwright.model.quantity import AsTyped
from portwright.services import measure, measuring_places
from portwright.ui import format as shown
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import heading
from portwright.ui.state import View
from portwright.units import Kind

Commit = Callable[[measuring_places.Group, str, AsTyped], Awaitable[Outcome]]


class MeasureGroup:
    """One place of the port: how to measure it, its boxes, areas and shares.

    Parameters
    ----------
    group : measuring_places.Group
    job, stage : str
    port : Port
    contents : JobContents
    view : View
    commit : callable
        Stores a value and tells what became of it.
    on_focus : callable
        Called with the key of the group when one of its boxes is entered.
    """

    def __init__(
        self,
        group: measuring_places.Group,
        port: Port,
        stage: str,
        contents: JobContents,
        view: View,
        commit: Commit,
        on_focus: Callable[[str], object],
    ) -> None:
        self._group, self._port, self._stage, self._view = group, port, stage, view
        self._subject = measuring_places.subject_of(port, group)
        self._entries: dict[str, NumberEntry] = {}
        with ui.element("section").classes("sheet") as section:
            heading(group.title)
            ui.label(group.how).classes("small soft")
            with ui.element("div").classes("fields"):
                for quantity in group.quantities:
                    self._entry(quantity, contents.job.number, commit)
            self._results = ui.element("dl").classes("facts results").props("aria-live=polite")
        section.on("focusin", lambda: on_focus(group.key))
        self.refresh(contents)

    def _entry(self, quantity: str, job: str, commit: Commit) -> None:
        kind = measuring_places.kind_of(quantity)

        async def committed(value: AsTyped) -> Outcome:
            return await commit(self._group, quantity, value)

        self._entries[quantity] = NumberEntry(
            quantity[0].upper() + quantity[1:],
            kind,
            self._view.unit(kind),
            committed,
            keep=f"{job}/{self._subject}/{self._stage}/{quantity}",
        )

    def refresh(self, contents: JobContents) -> None:
        """Show the stored values, again or in other units."""
        for quantity, entry in self._entries.items():
            kind = measuring_places.kind_of(quantity)
            both = measure.pair(contents, self._subject, quantity, self._stage)
            unit = self._view.unit(kind)
            text, say, state = "", "", ""
            if both.now is not None:
                text = shown.typed_number(both.now.value, kind, self._view)
                asked = measure.questions(contents, both.now)
                if asked:
                    say, state = f"{asked[0].message} {asked[0].hint}", "asked"
            before = both.before
            hint = (
                f"{before.stage}: {shown.typed(before.value, kind, self._view)}" if before else ""
            )
            entry.show(text, unit, say, state, hint=hint)
        self._derive(contents)

    def _derive(self, contents: JobContents) -> None:
        self._results.clear()
        with self._results:
            for item in measure.derived(contents, self._port, self._stage):
                if item.key != self._group.key:
                    continue
                with ui.element("div"):
                    with ui.element("dt"):
                        ui.label(item.name)
                    with ui.element("dd"):
                        ui.label(self._text(item))

    def _text(self, item: measure.Derived) -> str:
        if item.kind is Kind.RATIO:
            return shown.percent(item.value)
        return shown.quantity(item.value, item.kind, self._view)
