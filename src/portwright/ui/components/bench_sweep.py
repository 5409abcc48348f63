"""A sweep under way on one tablet: pad, curve, lifts, and what the other tablets did."""

from __future__ import annotations

import asyncio
import math
from collections import OrderedDict, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from nicegui import ui

from portwright import units
from portwright.errors import ConflictError, InputError, PortwrightError
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from portwright.services.capture import Entry, OpenSweep
from portwright.services.earlier import Bookshelf, Earlier, Point, Reference, flows_of
from portwright.services.plausible import question
from portwright.ui.components.bench_notes import BenchNotes
from portwright.ui.components.live_curve import LiveCurve, background_spec, current_spec
from portwright.ui.components.number_pad import Answer, NumberPad, Sent
from portwright.ui.components.sweep_table import SweepTable, Tile
from portwright.ui.components.voice import Voice
from portwright.ui.format import signed_percent, typed_number, unit_sign
from portwright.ui.state import View
from portwright.ui.work import in_thread
from portwright.units import Kind

_TOKENS = 64  # answers remembered, for numbers sent twice
_PROBE = units.read("1", Kind.LENGTH, "mm")
_SPOKEN = {"mm": "millimetres", "in": "inches", "thou": "thou"}

# Screens that show the same run, so that each hears what another tablet stored.
_open: dict[str, set[SweepScreen]] = defaultdict(set)


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
        self._earlier: Earlier | None = None
        self._before: Reference | None = None
        self._picked: AsTyped | None = None
        self._replaces: int | None = None
        self._answers: OrderedDict[str, Answer] = OrderedDict()
        self._turn = asyncio.Lock()
        comma = any("," in (self._shown(s.reading) or "") for s in sweep.stored)
        with ui.element("div").classes("bench"):
            with ui.element("div").classes("bench-pad"):
                self._pad = NumberPad(sweep.run.code, self._commit, self._undo, comma=comma)
            with ui.element("div").classes("bench-side"):
                self._curve = LiveCurve()
                self._table = SweepTable(self._pick)
                self._notes = BenchNotes(self)
                Voice()
        self._draw()
        view.on_change(self._redraw)
        _open[sweep.run.code].add(self)
        ui.context.client.on_delete(self._closed)
        ui.timer(0.1, self._learn, once=True)

    def _closed(self) -> None:
        _open[self.sweep.run.code].discard(self)

    async def _learn(self) -> None:
        """Earlier sweeps come after the pad: their check takes a moment, typing need not wait."""
        self._earlier = await in_thread(self._shelf.earlier, self.sweep.run)
        self._redraw()

    # --- showing -----------------------------------------------------------------------------

    def _shown(self, reading: Reading) -> str | None:
        typed = self.sweep.shown(reading)
        return None if typed is None else typed.text

    @property
    def _entry_unit(self) -> str:
        """Unit in which the bench's number is typed now."""
        if self.sweep.kind is Kind.FLOW:
            return self._view.choice.flow
        if self.sweep.kind is Kind.RATIO:
            return "%"
        shown = [self.sweep.shown(s.reading) for s in self.sweep.stored]
        return next((t.unit for t in reversed(shown) if t), self._view.display.pressure)

    def _redraw(self) -> None:
        seen = self._earlier
        if seen is not None:
            self._before = seen.reference(previous_stage=True) or seen.reference(
                previous_stage=False
            )
            self._curve.background(background_spec(self.sweep, seen, self._view.display))
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
        sweep, display = self.sweep, self._view.display
        seen = self._earlier or Earlier(self._pressure)
        lift = self.lift
        before, half = self._beside(lift)
        read = sum(sweep.at(t.si) is not None for t in sweep.lifts.lifts)
        extra = len(sweep.stored) - read
        planned = len(sweep.lifts.lifts)
        last = sweep.last
        self._pad.show(
            lift=lift.text if lift else "",
            liftUnit=lift.unit if lift else "",
            called=typed_number(lift, Kind.LENGTH, self._view) if lift else "",
            calledUnit=display.length,
            unit=unit_sign(self._entry_unit),
            progress=f"{read} of {planned}" + (f" + {extra}" if extra else ""),
            correcting=self._replaces is not None,
            ranges=list(sweep.ranges),
            firstRange=last.reading.range_number if last else next(iter(sweep.ranges), None),
            before=before,
            beforeName=self._before_name(),
            half=half,
            factor=self._factor(seen),
            flowUnit=unit_sign(display.flow),
            decimals=1,
            stored=[
                [s.reading.lift.text, s.reading.lift.unit, t.text, unit_sign(t.unit)]
                for s in sweep.stored
                if (t := sweep.shown(s.reading)) is not None
            ],
        )
        points = seen.points(sweep.run, sweep.calibration)
        self._table.show(self._tiles(points), display.length, unit_sign(display.flow))
        self._curve.current(current_spec(sweep, points, display))
        self._notes.refresh(self._earlier)

    @property
    def _pressure(self) -> float:
        typed = self.sweep.air.test_pressure or self.sweep.calibration.reads_at
        return typed.si if typed else units.to_si(28.0, "inH2O", Kind.PRESSURE)

    def _before_name(self) -> str:
        if self._earlier is None:
            return "earlier sweeps are being read …"
        if self._before is None:
            return "no earlier stage"
        return self._before.stage

    def _beside(self, lift: AsTyped | None) -> tuple[float | None, float | None]:
        if lift is None or self._before is None:
            return None, None
        flow, half = self._before.at(lift.si)
        if not math.isfinite(flow):
            return None, None
        return units.from_si(flow, self._view.display.flow, Kind.FLOW), half

    def _factor(self, seen: Earlier) -> float:
        """Flow shown per unit typed, 0 where it is not proportional."""
        if self.sweep.kind is not Kind.FLOW:
            return 0.0
        unit, pressure = self._entry_unit, seen.pressure
        air = self.sweep.air
        flow = seen.remember(
            ("factor", unit, air), lambda: self._probe(Entry("100", unit, _PROBE), pressure)
        )
        shown = units.from_si(flow, self._view.display.flow, Kind.FLOW) / 100.0
        return shown if math.isfinite(shown) else 0.0

    def _probe(self, entry: Entry, pressure: float) -> float:
        run = replace(self.sweep.run, readings=(self.sweep.reading(entry),))
        return flows_of(run, self.sweep.calibration, pressure)[0]

    def _tiles(self, known: Sequence[Point]) -> list[Tile]:
        sweep, display = self.sweep, self._view.display
        points = {round(p.reading.lift.si, 8): p for p in known}
        lifts = {round(t.si, 8): t for t in sweep.lifts.lifts}
        lifts |= {round(p.reading.lift.si, 8): p.reading.lift for p in points.values()}
        called = round(self.lift.si, 8) if self.lift else -1
        doubted = {round(c.aside.reading.lift.si, 8) for c in sweep.contested}
        tiles = []
        for key in sorted(lifts):
            point = points.get(key)
            value = gain = ""
            state = "next" if key == called else "open"
            if point is not None:
                value = units.show(point.flow, display.flow, Kind.FLOW)
                before = self._before.at(key)[0] if self._before else math.nan
                gain = signed_percent(point.flow / before - 1.0) if before > 0.0 else ""
                state = "next" if key == called else "read"
            if key in doubted:
                state = "contested"
            shown = display.lift_text(lifts[key].si)
            tiles.append(Tile(str(lifts[key]), shown, value, gain, state))
        return tiles

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
            self._draw()
            self._pad.answer(answer)
        if answer.state in {"saved", "aside"}:
            await self.tell_others()

    async def _judge_and_store(self, sent: Sent) -> Answer:
        sweep = self.sweep
        try:
            lift = units.read(sent.lift, Kind.LENGTH, sent.lift_unit)
            reading = sweep.reading(Entry(sent.text, sent.unit, lift, sent.range_number))
            if not sent.keep:
                asked = await in_thread(question, sweep, reading, self._earlier, self._view.display)
                if asked is not None:
                    return Answer(
                        sent.token, "asked", asked.message, asked.hint, f"{sent.text}? Look again."
                    )
            await in_thread(sweep.commit, reading, self._replaces)
        except ConflictError as error:
            self._picked = self._replaces = None
            return Answer(sent.token, "aside", error.message, words="Two values. Look.")
        except InputError as error:
            return Answer(sent.token, "refused", error.message, error.hint)
        except PortwrightError as error:
            return Answer(sent.token, "refused", f"Not saved. {error.message}", error.hint)
        self._picked = self._replaces = None
        words = f"{sent.lift} {_SPOKEN.get(sent.lift_unit, sent.lift_unit)}, {sent.text}"
        return Answer(
            sent.token, "saved", f"{sent.text} {sent.unit} at {lift} is saved.", words=words
        )

    async def _undo(self) -> None:
        last = self.sweep.last
        if last is None:
            return
        async with self._turn:
            await in_thread(self.sweep.withdraw, last.id, "taken back at the bench")
            self._picked = last.reading.lift
            self._replaces = None
            self._draw()
        await self.tell_others()

    undo = _undo

    async def _pick(self, key: str) -> None:
        """Go to a lift; one that was read already is read again."""
        lift = units.read(key, Kind.LENGTH)
        there = self.sweep.at(lift.si)
        self._picked = lift
        self._replaces = there.id if there else None
        self._draw()

    async def settle(self, aside: int, *, keep: bool) -> None:
        """Decide which of two readings counts."""
        async with self._turn:
            try:
                await in_thread(self.sweep.settle, aside, keep=keep)
            finally:
                self._draw()
        await self.tell_others()

    async def note_air(self, air: Reading) -> None:
        """Store the next readings with other air."""
        await in_thread(self.sweep.note_air, air)
        self._draw()

    async def tell_others(self) -> None:
        """Let the other screens of this run look at the shop file again."""
        for other in list(_open[self.sweep.run.code] - {self}):
            await other.look_again()

    async def look_again(self) -> None:
        """Another tablet stored something for this run."""
        async with self._turn:
            await in_thread(self.sweep.refresh)
            if self._picked is not None and self._replaces is None:
                taken = self.sweep.at(self._picked.si)
                self._picked = None if taken else self._picked
            self._draw()
