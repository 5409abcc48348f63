"""The lifts of a sweep, to look at and to go to."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import asdict, dataclass

from nicegui.element import Element
from nicegui.events import GenericEventArguments


@dataclass(frozen=True, slots=True)
class Tile:
    """One lift.

    Parameters
    ----------
    key : str
        Lift as typed with its unit, "8 mm".
    lift, value, gain : str
        As shown, "" for none.
    state : str
        "read", "next", "open" or "contested".
    """

    key: str
    lift: str
    value: str = ""
    gain: str = ""
    state: str = "open"


class SweepTable(Element, component="sweep_table.js"):
    """Tiles of a sweep.

    Parameters
    ----------
    on_pick : callable
        Takes the key of the tile that was touched.
    """

    def __init__(self, on_pick: Callable[[str], Awaitable[None]]) -> None:
        super().__init__()
        self._props.update(tiles=[], liftUnit="", unit="")

        async def picked(event: GenericEventArguments) -> None:
            await on_pick(str(event.args))

        self.on("pick", picked)

    def show(self, tiles: Sequence[Tile], lift_unit: str, unit: str) -> None:
        """Draw the tiles."""
        self._props.update(tiles=[asdict(t) for t in tiles], liftUnit=lift_unit, unit=unit)
