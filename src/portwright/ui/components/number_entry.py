"""A number as typed: decimal comma, fractions, its own unit, and an honest saved state."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from nicegui.element import Element
from nicegui.events import GenericEventArguments

from portwright import units
from portwright.errors import InputError, PortwrightError
from portwright.model.quantity import AsTyped
from portwright.units import Kind


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a committed number.

    Parameters
    ----------
    shown : str
        Text the box shows from now on.
    say : str
        Words under the box.
    state : str
        "saved", "asked" (kept but questioned) or "refused" (not kept).
    """

    shown: str
    say: str = "Saved"
    state: str = "saved"


class NumberEntry(Element, component="number_entry.js"):
    """One labelled box for one number.

    Parameters
    ----------
    label : str
    kind : Kind
        What is measured; decides which units may be typed behind the number.
    unit : str
        Unit of the box, used when none is typed.
    on_commit : callable
        Takes the value as typed and returns an :class:`Outcome`, now or awaited; a
        :class:`PortwrightError` it raises is shown under the box as a refusal.
    value : str
        Text shown at first.
    hint : str
        One line under the box.
    keep : str
        Name under which an unsaved number survives a reload in this browser tab; "" keeps none.
    big : bool
        Digits to be read at arm's length.
    """

    def __init__(
        self,
        label: str,
        kind: Kind,
        unit: str,
        on_commit: Callable[[AsTyped], Outcome | Awaitable[Outcome]],
        *,
        value: str = "",
        hint: str = "",
        keep: str = "",
        big: bool = False,
    ) -> None:
        super().__init__()
        self.kind = kind
        self._commit = on_commit
        self._props.update(
            label=label,
            unit=unit,
            value=value,
            hint=hint,
            keep=keep,
            big=big,
            disabled=False,
            state="",
            say="",
            answered=0,
        )
        self.on("commit", self._committed)

    def show(
        self, value: str, unit: str, say: str = "", state: str = "", *, hint: str = ""
    ) -> None:
        """Show another stored value; a number being typed stays as it is."""
        self._props.update(value=value, unit=unit, say=say, state=state, hint=hint)

    def enable(self, *, enabled: bool) -> None:
        """Let numbers in, or not."""
        self._props["disabled"] = not enabled

    def focus(self) -> None:
        """Put the cursor into the box."""
        self.run_method("focus")

    async def _committed(self, event: GenericEventArguments) -> None:
        unit, number = str(event.args["unit"]), int(event.args["number"])
        try:
            typed = units.read(str(event.args["text"]), self.kind, unit)
            answer = self._commit(typed)
            outcome = await answer if isinstance(answer, Awaitable) else answer
        except InputError as error:
            outcome = Outcome("", str(error), "refused")
        except PortwrightError as error:
            outcome = Outcome("", f"Not saved. {error}", "refused")
        value = self._props["value"] if outcome.state == "refused" else outcome.shown
        self._props.update(value=value, say=outcome.say, state=outcome.state, answered=number)
