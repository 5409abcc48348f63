"""A sweep taken live: lines in, settled readings out, a pause on anything odd.

It has no clock and no thread of its own: the same lines give the same readings, whether they come
from the wire or from a stored trace.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from portwright.core.settling.rule import SettleRule
from portwright.core.settling.watch import Judgement, State, Watch
from portwright.io.instruments.lines import LineReader
from portwright.io.instruments.reader import Line
from portwright.model.instrument import Instrument, Link
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from portwright.services.carried import NO_LIFT
from portwright.services.live_flow import LiveFlow
from portwright.services.live_trace import Event

STILL = 0.03e-3  # a lift that moves by no more is the same setting [m] (our choice)
_JUDGE = 0.25  # time between two judgements [s]
_GAP = 1.5  # without a line for so long the stretch begins anew [s]
_SMOOTH = 0.3  # time constant of the numbers shown [s]
_JUMP = 0.25  # change of flow at unmoved lift and pressure that a range change makes [-]
_JUMP_TIME = 0.6  # within which it happens [s]
SWUNG = "the flow swung: it is watched for longer"


class Step(StrEnum):
    """What the sweep waits for."""

    LINES = "waiting for the instruments"
    RANGE = "choose the range"
    AIR = "switch the air on"
    LIFT = "set the lift"
    SETTLING = "settling"
    HUNTING = "hunting: not taken"
    STEADY = "steady"
    TAKEN = "taken"
    PAUSED = "paused"
    DONE = "all lifts read"


@dataclass(frozen=True, slots=True)
class Take:
    """A settled reading that waits to be stored.

    Parameters
    ----------
    token : str
        The same for everyone who looks at it.
    reading : Reading
    judgement : Judgement
    """

    token: str
    reading: Reading
    judgement: Judgement


@dataclass(frozen=True, slots=True)
class Now:
    """What the screen shows.

    Parameters
    ----------
    step : Step
    words : str
        Why it is paused, or what to do.
    lift : float
        Of the indicator, NaN without one. [m]
    pressure : float
        [Pa]
    ratio : float
        ``flow / sqrt(pressure)`` in the measure of :class:`LiveFlow`.
    waited, stretch : float
        [s]
    error : float
        Standard error of the settled mean, NaN before. [-]
    called : AsTyped or None
        Lift the next reading is for. [m]
    range_number : int or None
    unsteady : bool
    """

    step: Step
    words: str
    lift: float
    pressure: float
    ratio: float
    waited: float
    stretch: float
    error: float
    called: AsTyped | None
    range_number: int | None
    unsteady: bool


@dataclass(slots=True)
class Plan:
    """What is still to be read, as the bench screen knows it.

    Parameters
    ----------
    called : AsTyped or None
        Lift called now. [m]
    unread : tuple of AsTyped
    air : Reading
    range_number : int or None
        Range chosen by hand where no instrument sends it.
    """

    called: AsTyped | None = None
    unread: tuple[AsTyped, ...] = ()
    air: Reading = field(default_factory=lambda: Reading(NO_LIFT))
    range_number: int | None = None


class LiveSweep:
    """One sweep while the instruments are listened to.

    Parameters
    ----------
    flow : LiveFlow
    instruments : sequence of Instrument
    rule : SettleRule
    zero : mapping of str to float
        What each channel showed with the air off. [SI]
    has_ranges : bool
        The bench has numbered ranges.
    """

    def __init__(
        self,
        flow: LiveFlow,
        instruments: Sequence[Instrument],
        rule: SettleRule,
        zero: Mapping[str, float],
        *,
        has_ranges: bool = False,
    ) -> None:
        self.flow, self.rule, self.zero = flow, rule, dict(zero)
        self._readers = {i.name: LineReader(i) for i in instruments}
        self._has_ranges = has_ranges
        self._lift_typed = any(
            i.connection.link is Link.KEYS and any(c.name == "lift" for c in i.channels)
            for i in instruments
        )
        self.plan = Plan()
        self.values: dict[str, float] = {}
        self.events: list[Event] = []
        self.not_understood = 0
        self.last_line = ""
        self.take: Take | None = None
        self._watch = Watch(rule)
        self._judged: Judgement | None = None
        self._judge_at = self._sample_at = -math.inf
        self._anchor: float | None = None
        self._armed = flow.has_lift
        self._taken = False
        self._paused = ""
        self._missing: set[str] = set()
        self._takes = 0
        self._clock = -math.inf  # of the newest line or event
        self._smooth = (math.nan, math.nan)
        self._recent: deque[tuple[float, float, float]] = deque(maxlen=256)

    # --- lines ---------------------------------------------------------------------------------

    def feed(self, line: Line) -> bool:
        """Take one line; False where it is not understood."""
        reader = self._readers.get(line.source)
        self.last_line = line.text
        found = None if line.cut or reader is None else reader.read(line.text)
        if found is None:
            self.not_understood += 1
            return False
        for name, value in found.items():
            self.values[name] = value - self.zero.get(name, 0.0)
        # lines of several instruments overtake each other on the way, and so do pulled cables
        self._clock = max(self._clock, line.time)
        if "range_number" in found:
            self._range_sent(self._clock, round(found["range_number"]))
        if "lift" in found:
            self._lift(self._clock, self.values["lift"])
        if "test_pressure" in found or self.flow.field in found:
            self._sample(self._clock)
        return True

    @property
    def range_number(self) -> int | None:
        """Range in use: as sent, else as chosen by hand."""
        sent = self.values.get("range_number")
        return self.plan.range_number if sent is None else round(sent)

    def _range_sent(self, time: float, number: int) -> None:
        before = self.events_of("range")
        if before and before[-1].said["range"] == number:
            return
        self._note(time, "range", range=number)
        if before:
            self._restart(time)

    def _lift(self, time: float, lift: float) -> None:
        if self._anchor is not None and abs(lift - self._anchor) <= STILL:
            return
        self._anchor = lift
        self._taken = False
        self.take = None
        self._note(time, "lift", lift=lift)
        self._restart(time)

    def _sample(self, time: float) -> None:
        pressure = self.values.get("test_pressure")
        flow = self.flow.flow(self.values, self.range_number)
        if pressure is None or flow is None:
            return
        if time - self._sample_at > _GAP:
            self._restart(time)
            self._smooth = (pressure, flow)
        share = 1.0 - math.exp(-(time - self._sample_at) / _SMOOTH)
        self._sample_at = time
        before = self._smooth
        self._smooth = (
            before[0] + share * (pressure - before[0]),
            before[1] + share * (flow - before[1]),
        )
        self._watch.push(time, pressure, flow)
        self._recent.append((time, pressure, flow))
        if time >= self._judge_at + _JUDGE:
            self._judge_at = time
            self._judge(time)

    def _restart(self, time: float) -> None:
        self._clock = max(self._clock, time)
        self._watch.restart(self._clock)
        self._judged = None
        self._recent.clear()

    # --- judging -------------------------------------------------------------------------------

    def _judge(self, time: float) -> None:
        self._judged = judged = self._watch.judge()
        jump = self._jump()
        if jump and not self._paused:
            self._jumped(time, jump)
            return
        lift = self.called
        wanted = judged.may_be_taken and not (self._paused or self._taken or self.take)
        if wanted and self._armed and lift is not None:
            reading = self.flow.reading(judged, lift, self.values, self.plan.air, self.range_number)
            self._takes += 1
            self.take = Take(f"live-{self._takes}-{time:.4f}", reading, judged)

    def _jump(self) -> float:
        """Sudden change of flow while lift and pressure stay, relative; 0 where there is none."""
        if not self._recent or self._watch.waited < 2.0:
            return 0.0
        now = self._recent[-1]
        then = next((r for r in self._recent if r[0] >= now[0] - _JUMP_TIME), now)
        if min(now[1], then[1], now[2], then[2]) <= 0.0:
            return 0.0
        pressure, flow = math.log(now[1] / then[1]), math.log(now[2] / then[2])
        return math.expm1(flow) if abs(flow) > _JUMP and abs(pressure) < 0.4 * abs(flow) else 0.0

    def _jumped(self, time: float, jump: float) -> None:
        self._restart(time)
        self.take = None
        if not self.flow.has_lift:  # without an indicator it may as well be the next lift
            return
        if self._lift_typed:  # the valve is turned first, its lift sent after
            self._anchor, self._taken = None, False
            self.values.pop("lift", None)
            return
        what = "Did the range change?" if self._has_ranges else "What changed?"
        self.pause(f"The flow jumped by {100.0 * jump:+z.0f} % at an unmoved lift. {what}")

    @property
    def called(self) -> AsTyped | None:
        """Lift the valve stands at if that is to be read, without an indicator the one called."""
        if not self.flow.has_lift:
            return self.plan.called
        if self._anchor is None:
            return None
        wanted = (*self.plan.unread, *((self.plan.called,) if self.plan.called else ()))
        near = [t for t in wanted if abs(t.si - self._anchor) <= STILL]
        return min(near, key=lambda t: abs(t.si - (self._anchor or 0.0)), default=None)

    def now(self) -> Now:
        """What to show."""
        judged = self._judged
        pressure, flow = self._smooth
        ratio = flow / math.sqrt(pressure) if pressure > 1.0 else math.nan
        step, words = self._step(judged)
        area = judged.area if judged else None
        return Now(
            step,
            words,
            self.values.get("lift", math.nan),
            pressure,
            ratio,
            judged.waited if judged else 0.0,
            judged.stretch if judged else 0.0,
            area.error if area else math.nan,
            self.called or self.plan.called,
            self.range_number,
            judged.unsteady if judged else False,
        )

    def _step(self, judged: Judgement | None) -> tuple[Step, str]:
        state = judged.state if judged else State.SETTLING
        swing = judged.swing if judged else 0.0
        found = (
            (bool(self._paused), Step.PAUSED, self._paused),
            (not self.plan.unread and self.plan.called is None, Step.DONE, ""),
            (self._has_ranges and self.range_number is None, Step.RANGE, ""),
            ("test_pressure" not in self.values, Step.LINES, ""),
            (state is State.OFF, Step.AIR, ""),
            (self._taken, Step.TAKEN, ""),
            (self.called is None or not self._armed, Step.LIFT, self._lift_words()),
            (
                state is State.HUNTING,
                Step.HUNTING,
                f"test pressure swings by ± {100.0 * swing:.1f} %",
            ),
            (state is State.STEADY, Step.STEADY, ""),
            (judged is not None and judged.jumped, Step.SETTLING, SWUNG),
        )
        return next(
            ((step, words) for applies, step, words in found if applies), (Step.SETTLING, "")
        )

    def _lift_words(self) -> str:
        if self._lift_typed and self._anchor is None:
            return "send it from the indicator when it is set"
        if self.flow.has_lift:
            return "what stands there is not asked for" if (self._anchor or 0.0) > STILL else ""
        return "say when it is set"

    # --- what a person or the screen does ------------------------------------------------------

    def ready(self, time: float | None = None) -> None:
        """Without an indicator: the lift called is set now."""
        at = self._sample_at if time is None else time
        self._armed, self._taken, self.take = True, False, None
        self._note(at, "ready", called=str(self.plan.called) if self.plan.called else "")
        if math.isfinite(at):
            self._restart(at)

    def choose_range(self, number: int) -> None:
        """The bench stands on this range, where no instrument says so."""
        self.plan.range_number = number
        self._note(max(self._sample_at, 0.0), "range", range=number, chosen=True)
        self.go_on()

    def stored(self, token: str) -> None:
        """The reading offered is on the disk."""
        if self.take is None or self.take.token != token:
            return
        take, self.take = self.take, None
        judged = take.judgement
        self._note(
            judged.time,
            "taken",
            lift=str(take.reading.lift),
            waited=round(judged.waited, 3),
            stretch=round(judged.stretch, 3),
            error=judged.area.error if judged.area else math.nan,
            unsteady=judged.unsteady,
        )
        self._taken = True
        self._armed = self.flow.has_lift

    def pause(self, why: str) -> None:
        """Take nothing until a person says go on."""
        self._paused = why

    @property
    def paused(self) -> str:
        """Why it is paused, "" while it goes on."""
        return self._paused

    def go_on(self, *, again: bool = True) -> None:
        """Go on; with ``again`` the lift that stands there is read anew."""
        if self._paused and math.isfinite(self._sample_at):
            self._note(self._sample_at, "go on", again=again)
        self._paused, self._missing = "", set()
        self.take = None
        self._taken = not again
        if math.isfinite(self._sample_at):
            self._restart(self._sample_at)

    def contact_lost(self, time: float, name: str, why: str) -> None:
        """An instrument is gone: what it said last must not be used."""
        self._note(time, "contact", instrument=name, lost=why)
        reader = self._readers.get(name)
        for channel in reader.names if reader else ():
            self.values.pop(channel, None)
        self._anchor = None
        self.take = None
        self._restart(max(time, self._sample_at))
        self._missing.add(name)
        self.pause(f"{name} is not connected. {why}")

    def contact_made(self, time: float, name: str) -> None:
        """It is there again; the lift that stands there is read anew."""
        self._note(time, "contact", instrument=name, lost="")
        was_missing = bool(self._missing)
        self._missing.discard(name)
        if was_missing and not self._missing:
            self.go_on()

    def _note(self, time: float, kind: str, **said: object) -> None:
        self.events.append(Event(time, kind, said))

    def events_of(self, kind: str) -> list[Event]:
        """Events of a kind so far."""
        return [e for e in self.events if e.kind == kind]
