"""Big numbers that follow the instruments; see ``live_numbers.js``."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import Any

from nicegui.element import Element
from nicegui.events import GenericEventArguments

_BEHIND = 40  # frames not answered after which no more are sent: two seconds


class LiveNumbers(Element, component="live_numbers.js"):
    """The numbers.

    Parameters
    ----------
    on_pedal : callable
        The foot pedal was pressed.
    on_typed : callable
        Takes name of an instrument and a line that it typed like a keyboard.
    typing : sequence of str
        Names of instruments that do so.
    """

    def __init__(
        self,
        on_pedal: Callable[[], Awaitable[None]],
        on_typed: Callable[[str, str], None],
        typing: Sequence[str],
    ) -> None:
        super().__init__()
        self._props["typing"] = list(typing)
        self._number = self._seen = 0

        def seen(event: GenericEventArguments) -> None:
            self._seen = int(event.args)

        async def pressed(_: GenericEventArguments) -> None:
            await on_pedal()

        self.on("seen", seen)
        self.on("typed", lambda event: on_typed(str(event.args[0]), str(event.args[1])[:200]))
        self.on("pedal", pressed)

    def units(self, **names: str) -> None:
        """Units that stand beside the numbers; names as in ``live_numbers.js``."""
        self._props.update(names)

    def now(self, frame: dict[str, Any]) -> bool:
        """Send one frame; False where the browser is too far behind to look at it."""
        if self._number - self._seen >= _BEHIND:
            # a browser that slept answers nothing: one frame now and then brings it back
            self._number += 1
            if self._number % _BEHIND:
                return False
        else:
            self._number += 1
        self.run_method("now", self._number, frame)
        return True

    def tell(self, kind: str, words: str) -> None:
        """Flash and say."""
        self.run_method("tell", kind, words)
