"""One place of a wall: what is left, drawn and said, and boxes to sound it."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from nicegui import ui

from portwright.model.quantity import AsTyped
from portwright.services.metal import (
    Wall,
    held_back_sentence,
    plan_sentence,
    wall_sentence,
)
from portwright.services.wall_entry import WallPlace
from portwright.ui import format as shown
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import raw
from portwright.ui.state import View
from portwright.units import Kind

Commit = Callable[[WallPlace, str, AsTyped], Awaitable[Outcome]]
_WIDE, _HIGH = 320, 26


def wall_words(wall: Wall, view: View) -> None:
    """What is left of a wall, loud where nothing is."""
    plan = plan_sentence(wall, view.display)
    loud = not wall.sounded_since and "limit" in plan
    state = "fault" if not wall.state.allows_cutting else "ask" if loud else "good"
    with ui.element("div").classes(f"notice {state}"):
        ui.label(wall_sentence(wall, view.display)).classes("strong" if state == "fault" else "")
        raw(wall_bar(wall))
        if plan:
            ui.label(plan).classes("strong" if loud else "small")
        if held := held_back_sentence(wall, view.display):
            ui.label(held).classes("strong")


def wall_bar(wall: Wall) -> str:
    """Wall as a bar: full what stays, hatched what the plan takes, a line at the limit."""
    most = max(wall.first, wall.now, wall.limits.least) * 1.08
    left = wall.now if wall.sounded_since or wall.after_plan is None else wall.after_plan

    def at(value: float) -> float:
        return max(0.0, value) / most * _WIDE

    colour = "--good" if wall.state.allows_cutting else "--fault"
    parts = [
        _bar(at(wall.first), "--line"),
        _bar(at(wall.now), colour, 0.4),
        _bar(at(left), colour),
        f'<path d="M{at(wall.limits.least):.1f} 0V{_HIGH}" stroke="var(--ink)" stroke-width="3"/>',
    ]
    return (
        f'<svg viewBox="0 0 {_WIDE} {_HIGH}" aria-hidden="true" '
        f'style="width:100%;max-width:{_WIDE}px;height:auto;display:block">{"".join(parts)}</svg>'
    )


def _bar(wide: float, colour: str, full: float = 1.0) -> str:
    return (
        f'<rect x="0" y="5" width="{wide:.1f}" height="16" fill="var({colour})" '
        f'fill-opacity="{full}"/>'
    )


class WallLine:
    """Boxes for one place and what follows from them.

    Parameters
    ----------
    place : WallPlace
    stage : str
    view : View
    keep : str
        Name under which an unsaved number survives a reload.
    commit : callable
        Keeps a number; takes the place, the quantity and the value.
    """

    def __init__(self, place: WallPlace, stage: str, view: View, keep: str, commit: Commit) -> None:
        self._stage, self._view, self._place = stage, view, place
        self._entries: dict[str, NumberEntry] = {}
        with ui.element("section").classes("sheet"):
            with ui.element("h3"):
                ui.label(f"{place.place[0].upper()}{place.place[1:]}, {place.subject}")
            with ui.element("div").classes("fields"):
                for name, label in (
                    ("wall thickness", f"Wall at {stage}"),
                    ("planned cut", "Cut planned here"),
                    ("wall limit", "Must stay"),
                ):
                    self._entries[name] = self._entry(name, label, f"{keep}/{name}", commit)
            self._said = ui.element("div").props("aria-live=polite")
        self.refresh(place)

    def _entry(self, name: str, label: str, keep: str, commit: Commit) -> NumberEntry:
        async def committed(value: AsTyped) -> Outcome:
            return await commit(self._place, name, value)

        return NumberEntry(label, Kind.LENGTH, self._view.unit(Kind.LENGTH), committed, keep=keep)

    def refresh(self, place: WallPlace) -> None:
        """Show the place as it stands now."""
        self._place = place
        wall, unit = place.wall, self._view.unit(Kind.LENGTH)
        texts, hint = dict.fromkeys(self._entries, ""), ""
        if wall is not None:
            now = [v for at, v in wall.readings if at == self._stage]
            earlier = [(at, v) for at, v in wall.readings if at != self._stage]
            if now:
                texts["wall thickness"] = shown.number(now[-1], Kind.LENGTH, self._view)
            if earlier:
                at, value = earlier[-1]
                hint = f"{at}: {shown.quantity(value, Kind.LENGTH, self._view)}"
            if wall.planned is not None:
                texts["planned cut"] = shown.number(wall.planned, Kind.LENGTH, self._view)
            texts["wall limit"] = shown.number(wall.limits.least, Kind.LENGTH, self._view)
        hints = {
            "wall thickness": hint,
            "planned cut": "off the wall as first read",
            "wall limit": "",
        }
        for name, entry in self._entries.items():
            entry.show(texts[name], unit, hint=hints.get(name, ""))
        self._said.clear()
        with self._said:
            if wall is None:
                ui.label("Not sounded yet.").classes("strong")
            else:
                wall_words(wall, self._view)
