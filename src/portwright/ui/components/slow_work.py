"""Work that takes seconds: seen, joined again after a reload, and stopped on request."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from nicegui import ui

from portwright.errors import SolveCancelledError
from portwright.services.health import Queue
from portwright.services.shop_log import Event, note
from portwright.ui.errors import error_words
from portwright.ui.layout import button
from portwright.ui.work import SLOW_AT_ONCE, at_length

T = TypeVar("T")
Told = Callable[[str], None]

_LOOK = 0.2  # seconds between looks at the work


def _stopped() -> SolveCancelledError:
    return SolveCancelledError("Stopped.", "Choose again, or begin anew.")


@dataclass(slots=True, eq=False)
class _Job(Generic[T]):
    """One piece of work under way, shared by all pages that asked for the same."""

    task: asyncio.Task[T] | None = None
    said: str = ""
    stopped: bool = False

    def told(self, words: str) -> None:
        """Called by the work between its steps, in its own thread."""
        if self.stopped:
            raise _stopped()
        self.said = words


_running: dict[str, _Job[Any]] = {}


def under_way(besides: str = "") -> Queue:
    """How much slow work is done now, and how much waits for its turn; one key left out."""
    number = len(_running.keys() - {besides})
    return Queue(min(number, SLOW_AT_ONCE), max(0, number - SLOW_AT_ONCE))


class SlowWork(Generic[T]):
    """Place where work is shown while it runs, and its result after.

    Parameters
    ----------
    key : str
        What is worked out; a page that asks for the same key joins the work under way.
    work : callable
        Takes a function to tell each step to; runs in a thread.
    show : callable
        Builds the result in place.
    """

    def __init__(self, key: str, work: Callable[[Told], T], show: Callable[[T], object]) -> None:
        self._show = show
        self._job: _Job[T] = _running.get(key) or self._start(key, work)
        self._place = ui.element("div").classes("stack").props("aria-live=polite")
        with self._place, ui.element("section").classes("sheet"):
            self._words = ui.label("Working …").classes("strong").props("role=status")
            ui.linear_progress(show_value=False).props(
                'indeterminate instant-feedback aria-label="Work under way"'
            )
            button("Stop", self._stop).style("align-self: flex-start")
        self._timer = ui.timer(_LOOK, self._look)

    def _start(self, key: str, work: Callable[[Told], T]) -> _Job[T]:
        job: _Job[T] = _Job()
        begun = time.monotonic()
        job.task = asyncio.create_task(at_length(work, job.told))
        _running[key] = job

        def ended(task: asyncio.Task[T]) -> None:
            _running.pop(key, None)
            if not task.cancelled():
                # counts as seen, also when the page was left before the end
                note(Event.WORK_ENDED, error=task.exception(), seconds=time.monotonic() - begun)

        job.task.add_done_callback(ended)
        return job

    def _stop(self) -> None:
        self._job.stopped = True
        self._words.set_text("Stopping after this step …")

    def _look(self) -> None:
        task = self._job.task
        if task is None or not task.done():
            if self._job.said and not self._job.stopped:
                self._words.set_text(f"{self._job.said} …")
            return
        self._timer.cancel()
        self._place.clear()
        with self._place:
            # a stop that came during the last step still counts
            error = task.exception() or (_stopped() if self._job.stopped else None)
            if error is None:
                self._show(task.result())
            elif isinstance(error, Exception):
                _refused(error)


def _refused(error: Exception) -> None:
    message, hint = error_words(error)
    with ui.element("div").classes("notice fault").props("role=alert"):
        ui.label(message).classes("strong")
        if hint:
            ui.label(hint)
