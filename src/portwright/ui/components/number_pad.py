"""One large pad for one reading after the other; see ``number_pad.js`` for what it promises."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any

from nicegui.element import Element
from nicegui.events import GenericEventArguments


@dataclass(frozen=True, slots=True)
class Sent:
    """A number as the pad sent it.

    Parameters
    ----------
    token : str
        The same when a number is sent again.
    text, unit : str
    lift, lift_unit : str
        Lift it was typed for.
    range_number : int or None
    keep : bool
        A person said that it shall be kept as it is.
    """

    token: str
    text: str
    unit: str
    lift: str
    lift_unit: str
    range_number: int | None
    keep: bool

    @classmethod
    def read(cls, args: dict[str, Any]) -> Sent:
        """From the browser."""
        number = args.get("range")
        return cls(
            str(args["token"])[:80],
            str(args["text"])[:20],
            str(args["unit"])[:12],
            str(args["lift"])[:20],
            str(args["liftUnit"])[:12],
            None if number is None else int(number),
            bool(args.get("keep")),
        )


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a number.

    Parameters
    ----------
    token : str
    state : str
        "saved", "aside" (saved beside another value), "asked" (not saved yet) or "refused".
    message, hint : str
    words : str
        To be read out.
    """

    token: str
    state: str
    message: str = ""
    hint: str = ""
    words: str = ""

    def props(self) -> dict[str, str]:
        """For the browser."""
        return {
            "token": self.token,
            "state": self.state,
            "message": self.message,
            "hint": self.hint,
            "words": self.words,
        }


class NumberPad(Element, component="number_pad.js"):
    """The pad.

    Parameters
    ----------
    run : str
        Run code; names what this tab keeps of an unsaved number.
    on_commit : callable
        Takes what was sent; the answer follows with :meth:`answer`.
    on_undo : callable
    comma : bool
        Decimal comma on the pad; both marks are understood from a keyboard.
    """

    def __init__(
        self,
        run: str,
        on_commit: Callable[[Sent], Awaitable[None]],
        on_undo: Callable[[], Awaitable[None]],
        *,
        comma: bool,
    ) -> None:
        super().__init__()
        self._props.update(
            run=run, ranges=[], stored=[], answer={}, comma=comma, factor=0.0, decimals=1
        )

        async def committed(event: GenericEventArguments) -> None:
            await on_commit(Sent.read(event.args))

        async def undone(_: GenericEventArguments) -> None:
            await on_undo()

        self.on("commit", committed)
        self.on("undo", undone)

    def show(self, **props: Any) -> None:
        """Next lift, units and what stands beside the entry; names as in ``number_pad.js``."""
        self._props.update(props)

    def answer(self, answer: Answer) -> None:
        """Say what became of a number."""
        self._props["answer"] = answer.props()
