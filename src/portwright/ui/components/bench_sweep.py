"""A sweep under way on one tablet: pad, curve, lifts, and what the other tablets did."""

from __future__ import annotations

import asyncio
from collections import OrderedDict, defaultdict

from nicegui import ui

from portwright import units
from portwright.errors import ConflictError, Finding, InputError, PortwrightError
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from portwright.services.capture import Entry, OpenSweep
from portwright.services.earlier import Bookshelf
from portwright.services.plausible import question
from portwright.ui.components.bench_notes import BenchNotes
from portwright.ui.components.bench_picture import BenchPicture
from portwright.ui.components.live_curve import LiveCurve, background_spec, current_spec
from portwright.ui.components.number_pad import Answer, NumberPad, Sent
from portwright.ui.components.sweep_table import SweepTable
from portwright.ui.components.voice import Voice
from portwright.ui.state import View
from portwright.ui.work import at_the_bench, in_thread
from portwright.units import Kind

_TOKENS = 64  # answers remembered, for numbers sent twice
_AFTER_ANSWER = 0.02  # how long tiles and curve wait so that the pad is free first [s]
_SPOKEN = {"mm": ("millimetre", "millimetres"), "in": ("inch", "inches")}

# Screens that show the same run, so that each hears what another tablet stored.
_open: dict[str, set[SweepScreen]] = defaultdict(set)
# One screen at a time works out earlier sweeps: eight waiting would hold every worker thread, and
# readings need one.
_learning = asyncio.Lock()


def _spoken(lift: AsTyped) -> str:
    """A lift to be read out."""
    one, many = _SPOKEN.get(lift.unit, (lift.unit, lift.unit))
    return f"{lift.text} {one if lift.text == '1' else many}"


class SweepScreen:
    """Everything shown while a sweep is taken.

    Parameters
    ----------
    sweep : OpenSweep
    shelf : Bookshelf
    view : View
    """

    def __init__(self, sweep: OpenSweep, shelf: Bookshelf, view: View) -> None:
        self.sweep, self._shelf, self._view = sweep, shelf, view
        self._picture = BenchPicture(sweep, view)
        self._picked: AsTyped | None = None
        self._replaces: int | None = None
        self._picks = 0
        self._answers: OrderedDict[str, Answer] = OrderedDict()
        self._turn = asyncio.Lock()
        self._drawing_soon = False
        self._client = ui.context.client
        comma = self._picture.comma
        with ui.element("div").classes("bench"):
            with ui.element("div").classes("bench-pad") as self.pad_place:
                self._pad = NumberPad(sweep.run.code, self._commit, self._undo, comma=comma)
            with ui.element("div").classes("bench-side"):
                self._curve = LiveCurve()
                self._table = SweepTable(self._pick)
                self._notes = BenchNotes(self)
                Voice()
        self._draw()
        view.on_change(self._redraw)
        _open[sweep.run.code].add(self)
        self._client.on_delete(self._closed)
        ui.timer(0.1, self._learn, once=True)

    def hide_pad(self) -> None:
        """Make room for numbers that are not typed."""
        self._pad.set_visibility(False)

    @property
    def pressure(self) -> float:
        """Test pressure flows are shown at. [Pa]"""
        return self._picture.seen.pressure

    def flow_of(self, area: float) -> float:
        """Flow of an effective area [m2] at the pressure shown. [m3/s]"""
        return self._picture.seen.flow(area)

    def _closed(self) -> None:
        screens = _open[self.sweep.run.code]
        screens.discard(self)
        if not screens:
            del _open[self.sweep.run.code]

    async def _learn(self) -> None:
        """Earlier sweeps come after the pad: their check takes a moment, typing need not wait."""
        async with _learning:
            self._picture.learn(await in_thread(self._shelf.earlier, self.sweep.run))
        self._redraw()

    def _redraw(self) -> None:
        if self._picture.earlier is not None:
            spec = background_spec(self.sweep, self._picture.earlier, self._view.display)
            self._curve.background(spec)
        self._draw()

    @property
    def lift(self) -> AsTyped | None:
        """Lift called now."""
        if self._picked is not None:
            return self._picked
        last = self.sweep.last
        return self.sweep.next_lift(last.reading.lift.si if last else 0.0)

    def _draw(self) -> None:
        """Show the sweep as it is in the shop file."""
        self._draw_pad()
        self._draw_rest()

    def _draw_pad(self) -> None:
        beside = self._picture.pad(self.lift, correcting=self._replaces is not None)
        self._pad.show(**beside, picks=self._picks)

    def _draw_rest(self) -> None:
        sweep, display, picture = self.sweep, self._view.display, self._picture
        points = picture.seen.points(sweep.run, sweep.calibration)
        self._table.show(picture.tiles(points, self.lift), display.length, units.sign(display.flow))
        self._curve.current(current_spec(sweep, points, display))
        self._notes.refresh(picture.earlier)

    async def _draw_rest_soon(self) -> None:
        """Draw after the answer has gone out, once for all that changed meanwhile."""
        if self._drawing_soon:
            return
        self._drawing_soon = True
        await asyncio.sleep(_AFTER_ANSWER)
        self._drawing_soon = False
        if not self._client.is_deleted:
            self._draw_rest()

    # --- what a person does --------------------------------------------------------------------

    async def _commit(self, sent: Sent) -> None:
        async with self._turn:
            answer = self._answers.get(sent.token)
            if answer is None or (answer.state == "asked" and sent.keep):
                answer = await self._judge_and_store(sent)
            if answer.state in {"saved", "aside", "asked"}:
                self._answers[sent.token] = answer
                while len(self._answers) > _TOKENS:
                    self._answers.popitem(last=False)
            self._draw_pad()
            self._pad.answer(answer)
        await self._draw_rest_soon()
        if answer.state in {"saved", "aside"}:
            await self.tell_others()

    async def _judge_and_store(self, sent: Sent) -> Answer:
        try:
            lift = units.read(sent.lift, Kind.LENGTH, sent.lift_unit)
            reading = self.sweep.reading(Entry(sent.text, sent.unit, lift, sent.range_number))
        except InputError as error:
            return Answer(sent.token, "refused", error.message, error.hint)
        return await self._store(sent.token, reading, sent.text, sent.unit, keep=sent.keep)

    async def offer(self, token: str, reading: Reading, *, keep: bool) -> Answer:
        """Judge and store a reading that came from the instruments, as if it had been typed."""
        shown = self.sweep.shown(reading)
        text, unit = (shown.text, shown.unit) if shown else ("", "")
        async with self._turn:
            answer = await self._store(token, reading, text, unit, keep=keep)
            self._draw_pad()
        await self._draw_rest_soon()
        if answer.state in {"saved", "aside"}:
            await self.tell_others()
        return answer

    async def _store(
        self, token: str, reading: Reading, text: str, unit: str, *, keep: bool
    ) -> Answer:
        lift = reading.lift
        try:
            again = self._replaces if self._picked == lift else None
            asked = await at_the_bench(self._ask_or_store, reading, again, keep=keep)
            if asked is not None:
                return Answer(token, "asked", asked.message, asked.hint, f"{text}? Look again.")
        except ConflictError as error:
            self._picked = self._replaces = None
            return Answer(token, "aside", error.message, words="Two values. Look.")
        except InputError as error:
            return Answer(token, "refused", error.message, error.hint)
        except PortwrightError as error:
            return Answer(token, "refused", f"Not saved. {error.message}", error.hint)
        self._picked = self._replaces = None
        return Answer(
            token,
            "saved",
            f"{text} {unit} at {lift} is saved.",
            words=f"{_spoken(lift)}, {text}. {self._next_words()}",
        )

    def _next_words(self) -> str:
        return f"Next {_spoken(self.lift)}." if self.lift else "All lifts read."

    def _ask_or_store(self, reading: Reading, again: int | None, *, keep: bool) -> Finding | None:
        """What to ask about a reading; None once it is on the disk."""
        seen, display = self._picture.earlier, self._view.display
        asked = None if keep else question(self.sweep, reading, seen, display)
        if asked is None:
            self.sweep.commit(reading, again)
        return asked

    async def _undo(self) -> None:
        last = self.sweep.last
        if last is None:
            return
        async with self._turn:
            await at_the_bench(self.sweep.withdraw, last.id, "taken back at the bench")
            self._picked = last.reading.lift
            self._replaces = None
            self._draw()
        await self.tell_others()

    undo = _undo

    async def _pick(self, key: str) -> None:
        """Go to a lift; one that was read already is read again."""
        lift = units.read(key, Kind.LENGTH)
        there = self.sweep.at(lift.si)
        self._picked, self._picks = lift, self._picks + 1
        self._replaces = there.id if there else None
        self._draw()

    async def settle(self, aside: int, *, keep: bool) -> None:
        """Decide which of two readings counts."""
        async with self._turn:
            try:
                await at_the_bench(self.sweep.settle, aside, keep=keep)
            finally:
                self._draw()
        await self.tell_others()

    async def note_air(self, air: Reading) -> None:
        """Store the next readings with other air."""
        await at_the_bench(self.sweep.note_air, air)
        self._draw()

    async def tell_others(self) -> None:
        """Let the other screens of this run look at the shop file again."""
        for other in list(_open[self.sweep.run.code] - {self}):
            await other.look_again()

    async def look_again(self) -> None:
        """Another tablet stored something for this run."""
        async with self._turn:
            await at_the_bench(self.sweep.refresh)
            if self._picked is not None and self._replaces is None:
                taken = self.sweep.at(self._picked.si)
                self._picked = None if taken else self._picked
            self._draw()
