"""Where a traced outline belongs, and keeping it there."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.services import trace_store
from portwright.services.landmarks import LANDMARKS
from portwright.services.trace import Tracing
from portwright.services.trace_store import Belongs, Target
from portwright.ui.components.ask_reason import ask_reason
from portwright.ui.components.field import Field
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.errors import show_finding
from portwright.ui.layout import Switch, button, heading
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

_NAMES = {
    Target.SECTION: "Section",
    Target.OPENING: "Port opening",
    Target.CHAMBER: "Chamber",
    Target.RUNNER: "Runner or pipe",
    Target.GASKET: "Gasket",
}


class SaveBox:
    """Choice of port, stage and place, and the button that keeps the outline.

    Parameters
    ----------
    contents : JobContents
    subject, stage : str
        What the photo shows, as far as that is noted.
    view : View
    tracing : callable
        Gives what stands on the photo; raises where it is not complete.
    on_saved : callable
        Called after it was kept.
    """

    def __init__(
        self,
        contents: JobContents,
        subject: str,
        stage: str,
        view: View,
        tracing: Callable[[], Tracing],
        on_saved: Callable[[], object],
    ) -> None:
        self._job, self._tracing, self._on_saved = contents.job.number, tracing, on_saved
        self._target = Target.SECTION
        self._distance: AsTyped | None = None
        ports = {p.code: f"{p.code} {p.side.value}" for p in contents.ports}
        stages = {s.code: f"{s.code} {s.note[:40]}" for s in contents.stages}
        with ui.element("section").classes("sheet"):
            heading("Save")
            Switch(
                "What the outline is",
                {target.value: name for target, name in _NAMES.items()},
                self._target.value,
                self._chosen,
            )
            with ui.element("div").classes("fields"):
                first = next(iter(ports), "")
                self._port = Field(
                    "Port", subject if subject in ports else first, kind="choice", options=ports
                )
                newest = list(stages)[-1] if stages else ""
                self._stage = Field(
                    "Stage", stage if stage in stages else newest, kind="choice", options=stages
                )
            self._place = ui.element("div").classes("fields")
            with self._place:
                NumberEntry(
                    "Distance from the opening", Kind.LENGTH, view.unit(Kind.LENGTH), self._typed
                )
                self._landmark = Field(
                    "Landmark",
                    kind="choice",
                    options={"": "none"} | {name: name for name in LANDMARKS},
                )
            button("Save the outline", self._save, "main").style("align-self: flex-start")
            self._said = ui.element("div").classes("stack").props("role=status")

    def _chosen(self, target: str) -> None:
        self._target = Target(target)
        self._place.set_visibility(self._target is Target.SECTION)

    def _typed(self, value: AsTyped) -> Outcome:
        if value.si < 0.0:
            raise InputError("The distance cannot be below zero.", "Type it again.")
        self._distance = value
        return Outcome(value.text, "")

    async def _save(self) -> None:
        shop, tracing = shop_file(), self._tracing()
        belongs = Belongs(
            self._job,
            self._port.value,
            self._stage.value,
            self._target,
            self._distance,
            self._landmark.value,
        )
        present = await in_thread(trace_store.present, shop, belongs)
        reason = ""
        if present is not None:
            reason = await ask_reason(
                f"{present.quantity} of {present.subject} is {present.value} at this place."
            )
            if not reason:
                return
        stored = await in_thread(trace_store.store, shop, belongs, tracing, reason)
        self._said.clear()
        with self._said:
            for measured in stored:
                where = " ".join(t for t in (measured.subject, belongs.stage) if t)
                ui.label(f"Saved: {measured.quantity} of {where} {measured.value}").classes(
                    "strong"
                )
            for finding in trace_store.questions(stored):
                show_finding(finding)
        self._on_saved()
