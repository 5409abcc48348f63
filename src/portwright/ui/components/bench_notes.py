"""Beside the pad: two values for one lift, what is mounted, what to do next."""

from __future__ import annotations

from typing import Protocol

from nicegui import ui

from portwright.model.run import Reading
from portwright.services.capture import Contested, OpenSweep
from portwright.services.carried import AIR, asked_of, read_air, stated, with_air
from portwright.services.earlier import Earlier
from portwright.ui import links
from portwright.ui.components.ask_reason import ask_reason
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, link_button
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


class Screen(Protocol):
    """What the notes need of the screen they stand on."""

    sweep: OpenSweep

    async def undo(self) -> None:
        """Take the last reading back."""

    async def settle(self, aside: int, *, keep: bool) -> None:
        """Decide which of two readings counts."""

    async def note_air(self, air: Reading) -> None:
        """Store the next readings with other air."""


class BenchNotes:
    """Conflicts first, then actions and conditions.

    Parameters
    ----------
    screen : Screen
    """

    def __init__(self, screen: Screen) -> None:
        self._screen = screen
        self._shown: tuple[object, ...] = ()
        self._conflicts = ui.element("div").classes("stack").props("aria-live=assertive")
        with ui.element("div").classes("row-wrap"):
            self._undo = button("Take back the last", screen.undo)
            run = screen.sweep.run
            link_button("Sweep again", links.bench(run.job, run.port, run.stage))
            link_button("Compare", links.compare(run.job, run.code), "quiet")
            button("Leave this sweep out", self._leave_out, "quiet")
        self._conditions = ui.element("div").classes("stack small")

    def refresh(self, earlier: Earlier | None) -> None:
        """Draw again what changed."""
        sweep = self._screen.sweep
        self._undo.set_enabled(sweep.last is not None)
        state = (
            tuple(c.aside.id for c in sweep.contested),
            sweep.air,
            sweep.run.left_out,
            None if earlier is None else tuple(earlier.left_out.items()),
        )
        if state == self._shown:
            return
        self._shown = state
        self._conflicts.clear()
        with self._conflicts:
            for contested in sweep.contested:
                self._conflict(contested)
        self._conditions.clear()
        with self._conditions:
            self._say_conditions(earlier)

    def _conflict(self, contested: Contested) -> None:
        shown = self._screen.sweep.shown
        aside, counting = contested.aside, contested.counting
        with ui.element("div").classes("notice fault").props("role=alert"):
            ui.label(f"Two values at {aside.reading.lift}").classes("kind")
            ui.label("Entered on two tablets. Both are stored; choose the one that counts.")
            with ui.element("div").classes("row-wrap"):
                if counting is not None:
                    button(
                        f"{shown(counting.reading)} (first)",
                        lambda: self._screen.settle(aside.id, keep=False),
                    )
                button(
                    f"{shown(aside.reading)} (second)",
                    lambda: self._screen.settle(aside.id, keep=True),
                )

    def _say_conditions(self, earlier: Earlier | None) -> None:
        sweep = self._screen.sweep
        air = {name: getattr(sweep.air, name) for name in asked_of(sweep.calibration)}
        said = {"bench": sweep.run.bench} | stated(sweep.run.conditions)
        said |= {n.replace("_", " "): str(v) for n, v in air.items() if v is not None}
        missing = [n.replace("_", " ") for n, v in air.items() if v is None]
        ui.label("; ".join(f"{name} {text}" for name, text in said.items()))
        if missing:
            ui.label(f"Not recorded: {', '.join(missing)}").classes("soft")
        if sweep.run.left_out:
            ui.label(f"Left out of comparisons: {sweep.run.left_out}").classes("tag ask")
        for code, why in (earlier.left_out if earlier else {}).items():
            ui.label(f"{code} is not used here: {why}").classes("soft")
        button("Note air, leak and zero", self._ask_air, "quiet").style("align-self: flex-start")

    async def _ask_air(self) -> None:
        air = self._screen.sweep.air
        with ui.dialog() as dialog, ui.element("div").classes("card").props('role="document"'):
            heading("Air, leak and zero, for the readings that follow")
            boxes = {}
            with ui.element("div").classes("fields"):
                for name, (_, unit) in asked_of(self._screen.sweep.calibration).items():
                    value = getattr(air, name)
                    boxes[name] = Field(
                        name.replace("_", " ").capitalize(),
                        "" if value is None else str(value),
                        hint=f"in {value.unit if value else unit} unless you type a unit",
                    )
            with ui.element("div").classes("row-wrap"):
                button("Note it", lambda: dialog.submit(True), "main")
                button("Leave it", lambda: dialog.submit(False), "quiet")
        wanted = await dialog
        dialog.delete()
        if wanted:
            typed = {name: read_air(name, box.value, AIR[name][1]) for name, box in boxes.items()}
            await self._screen.note_air(with_air(typed))

    async def _leave_out(self) -> None:
        run = self._screen.sweep.run
        reason = await ask_reason(f"Sweep {run.code} will not be used in comparisons.")
        if reason:
            await in_thread(shop_file().mark_run, run.job, run.code, reason)
            ui.navigate.reload()
