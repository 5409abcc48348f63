"""Watching test pressure and flow together until the air has settled."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from portwright.core.constants import Array
from portwright.core.settling.rule import SettleRule
from portwright.core.settling.series import Mean, mean_of, shape_of
from portwright.errors import RangeError

_BLOCK = 0.1  # readings of so long are averaged before anything is judged [s]
_FEWEST = 9  # blocks in a stretch
_WORTH = 5.0  # independent values a stretch must hold
_OFF = 50.0  # test pressure below which the air is off [Pa] (our choice)
_DAMPING = 5  # blocks over which a swing is smoothed, about what a damped needle does
_LOOK = 8.0  # length in which hunting is looked for [s]
_TURNS = 3  # crossings of the mean that make a swing hunting and not a ramp
_FOLLOWS = 2.0  # a meter follows the pressure in this time [s] (from memory)
_GROWTH = 1.4  # one stretch tried is so much longer than the next
_RETURNS = 0.85  # a swing counts from this share of what unrest may explain (chosen on trial lifts)
_CALM = 0.95  # share of the longest stretch that is believed although the flow jumped before


class State(StrEnum):
    """What the air does."""

    OFF = "air off"
    SETTLING = "settling"
    HUNTING = "hunting"
    STEADY = "steady"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What is known of the air at one moment.

    Parameters
    ----------
    state : State
    time : float
        Clock time of the newest reading. [s]
    waited : float
        Since the last change. [s]
    pressure, flow : float
        Means over ``stretch``, or of the last second while nothing is settled. [Pa], [m3/s]
    area : Mean or None
        Natural logarithm of ``flow / sqrt(pressure)`` over the settled stretch. [-]
    stretch : float
        Length that was averaged, 0 while nothing is settled. [s]
    swing : float
        Half swing of the test pressure after damping, relative. [-]
    unsteady : bool
        Taken with a larger scatter than the rule calls steady.
    jumped : bool
        The flow jumped here or at the lift before, so a short calm stretch is not enough.
    """

    state: State
    time: float
    waited: float
    pressure: float
    flow: float
    area: Mean | None = None
    stretch: float = 0.0
    swing: float = 0.0
    unsteady: bool = False
    jumped: bool = False

    @property
    def may_be_taken(self) -> bool:
        """Whether a reading may be taken now."""
        return self.state is State.STEADY and self.area is not None


@dataclass(frozen=True, slots=True)
class _Settled:
    """A settled stretch: its length in blocks, its mean, and whether it holds all that was seen."""

    blocks: int
    area: Mean
    jumps: bool = False


class Watch:
    """Judges a stream of readings against a rule.

    Parameters
    ----------
    rule : SettleRule
    start : float
        Clock time of the first change. [s]
    """

    def __init__(self, rule: SettleRule, start: float = 0.0) -> None:
        self.rule = rule
        self._size = 1 + math.ceil(max(rule.patience, _LOOK) / _BLOCK)
        self._blocks = np.empty((4 * self._size, 3))  # time, test pressure, flow
        self._jumped = False
        self.restart(start)

    def restart(self, time: float) -> None:
        """Forget what was: lift, range or air changed at ``time``. [s]

        That the flow jumped is remembered: where it separates at one lift it does at the next.
        """
        self._since = self._time = time
        self._count = 0
        self._sum = np.zeros(3)
        self._held = 0
        self._number = 0
        self._spacing = _BLOCK

    @property
    def waited(self) -> float:
        """Time since the last change. [s]"""
        return self._time - self._since

    def push(self, time: float, pressure: float, flow: float) -> None:
        """Add one reading.

        Parameters
        ----------
        time : float
            Clock time, not before the reading before. [s]
        pressure : float
            Test pressure. [Pa]
        flow : float
            Volume flow at that pressure; any measure proportional to it will do. [m3/s]

        Raises
        ------
        RangeError
            Time runs backwards.
        """
        if time < self._time:
            raise RangeError("Readings must follow each other in time.")
        number = int((time - self._since) / _BLOCK)
        if number != self._number:
            self._close()
            self._number = number
        self._time = time
        self._sum += (time, pressure, flow)
        self._held += 1

    def _close(self) -> None:
        if not self._held:
            return
        if self._count == len(self._blocks):  # keep the newest; moved once in many blocks
            self._blocks[: self._size] = self._blocks[-self._size :]
            self._count = self._size
        self._blocks[self._count] = self._sum / self._held
        self._count += 1
        self._sum[:] = 0.0
        self._held = 0

    def judge(self) -> Judgement:
        """Say what the air does now."""
        waited = self.waited
        blocks = self._blocks[max(0, self._count - self._size) : self._count]
        if not len(blocks):
            return Judgement(State.SETTLING, self._time, waited, math.nan, math.nan)
        self._spacing = max(_BLOCK, (blocks[-1, 0] - blocks[0, 0]) / max(1, len(blocks) - 1))
        recent = blocks[-max(1, round(1.0 / self._spacing)) :, 1:]
        blocks = blocks[blocks[:, 0] >= self._since + self.rule.dead, 1:]
        pressure, flow = (float(m) for m in recent.mean(axis=0))
        if pressure < _OFF or flow <= 0.0:
            return Judgement(State.OFF, self._time, waited, pressure, flow)
        if self.rule.fixed_wait > 0.0:
            return self._by_the_clock(waited, pressure, flow)
        usable = len(blocks) >= _FEWEST and bool(np.all(blocks > 0.0))
        if not usable:
            return Judgement(State.SETTLING, self._time, waited, pressure, flow)
        logs = np.log(blocks)
        swing, hunting = self._hunting(logs[:, 0])
        settled = None if hunting else self._settled(logs, waited)
        if settled is None:
            state = State.HUNTING if hunting else State.SETTLING
            return Judgement(
                state, self._time, waited, pressure, flow, swing=swing, jumped=self._jumped
            )
        area, rule = settled.area, self.rule
        swings = area.scatter > 0.5 * rule.unsteady
        self._jumped = self._jumped or swings  # what comes next is watched for longer
        doubtful = (
            (settled.jumps and swings)
            or area.scatter > rule.unsteady
            or area.error > 2.0 * rule.precision
        )
        pressure, flow = (float(m) for m in blocks[-settled.blocks :].mean(axis=0))
        return Judgement(
            State.STEADY,
            self._time,
            waited,
            pressure,
            flow,
            self._stated(logs, settled),
            settled.blocks * self._spacing,
            swing,
            doubtful,
        )

    def _stated(self, logs: Array, settled: _Settled) -> Mean:
        """Mean as handed on: its swings known from all that was seen, not from the calmest part."""
        if settled.jumps:
            return settled.area.stated()
        values = _area(logs)
        stretch = values[-settled.blocks :]
        mean = mean_of(stretch, shape_of(values).rest)
        return replace(mean, scatter=settled.area.scatter).stated(shape_of(stretch).drift)

    def _by_the_clock(self, waited: float, pressure: float, flow: float) -> Judgement:
        if waited < self.rule.fixed_wait:
            return Judgement(State.SETTLING, self._time, waited, pressure, flow)
        length = max(1, round(self.rule.shortest / self._spacing))
        last = self._blocks[max(0, self._count - length) : self._count, 1:]
        pressure, flow = (float(m) for m in last.mean(axis=0))
        above = last[np.all(last > 0.0, axis=1)]
        area = mean_of(_area(np.log(above))).stated()
        stretch = len(last) * self._spacing
        return Judgement(State.STEADY, self._time, waited, pressure, flow, area, stretch)

    def _hunting(self, pressure: Array) -> tuple[float, bool]:
        """Half swing of the damped test pressure, and whether it goes up and down."""
        look = pressure[-round(_LOOK / self._spacing) :]
        if look.size < 2 * _DAMPING:
            return 0.0, False
        damped = _damped(look)
        place = np.linspace(-1.0, 1.0, damped.size)
        rest = damped - damped.mean() - place * (place @ damped) / (place @ place)
        swing = _width(rest)
        side = np.sign(rest[np.abs(rest) > 0.25 * swing])
        turns = int(np.count_nonzero(side[1:] != side[:-1]))
        return swing, swing > self.rule.swing and turns >= _TURNS

    def _settled(self, logs: Array, waited: float) -> _Settled | None:
        """Longest settled stretch, None where there is none."""
        rule = self.rule
        late = waited >= rule.patience
        # an unsteady lift needs all there is: its mean comes from few independent swings
        lengths = self._lengths(len(logs), rule.patience if late else rule.longest)
        found = (self._stretch(logs[-n:], late=late) for n in lengths)
        stretch = next((f for f in found if f is not None), None)
        if stretch is None:
            return None
        before = self._before(logs, lengths)
        calm = stretch.blocks * self._spacing >= _CALM * rule.longest
        jumps = self._jumps(logs, before, stretch, calm=calm)
        if not jumps and not self._jumped:
            return stretch
        if not jumps and calm and not late:
            self._jumped = False
            return stretch
        # the flow stood elsewhere a moment ago, or did at the lift before: it separates and comes
        # back, and a short quiet stretch shows one of its two states only
        self._jumped = True
        return self._all_of(logs, before, stretch) if late else None

    def _jumps(self, logs: Array, before: Array, stretch: _Settled, *, calm: bool) -> bool:
        """Whether the flow stood elsewhere while nothing else can have moved it."""
        may_be = 2.0 * stretch.area.scatter + 0.5 * self.rule.flow_drift
        if before.size > stretch.blocks and _half_swing(before) > may_be:
            return True
        # pressure and meter come to rest from one side; what goes away and comes back is the flow
        seen = self._since_followed(logs)
        if calm or seen.size <= stretch.blocks + _DAMPING:
            return False
        return 0.5 * _away_and_back(_damped(seen)) > _RETURNS * may_be

    def _all_of(self, logs: Array, before: Array, stretch: _Settled) -> _Settled:
        """Mean of both states of a flow that jumps, with its swing."""
        if before.size <= stretch.blocks:
            seen = self._since_followed(logs)
            before = seen[-max(stretch.blocks, 2 * seen.size // 3) :]
        return _Settled(
            before.size, replace(mean_of(before), scatter=_half_swing(before)), jumps=True
        )

    def _since_followed(self, logs: Array) -> Array:
        """Effective area since the meter had time to follow the change."""
        return _area(logs[max(0, round((_FOLLOWS - self.rule.dead) / self._spacing)) :])

    def _lengths(self, available: int, longest: float) -> list[int]:
        """Stretches tried, in blocks, longest first."""
        shortest = max(_FEWEST, math.ceil(self.rule.shortest / self._spacing))
        length = min(available, max(shortest, int(longest / self._spacing)))
        lengths = []
        while length > shortest:
            lengths.append(length)
            length = int(length / _GROWTH)
        return [*lengths, shortest] if available >= shortest else []

    def _before(self, logs: Array, lengths: list[int]) -> Array:
        """Effective area while the pressure was steady and the meter had time to follow."""
        rule = self.rule
        steady = (
            n
            for n in lengths
            if shape_of(logs[-n:, 0]).within(rule.pressure_drift, rule.confidence)
        )
        length = next(steady, 0) - round(_FOLLOWS / self._spacing)
        return _area(logs[-length:]) if length > 0 else np.empty(0)

    def _stretch(self, logs: Array, *, late: bool) -> _Settled | None:
        rule = self.rule
        if not shape_of(logs[:, 0]).within(rule.pressure_drift, rule.confidence):
            return None
        flow = shape_of(logs[:, 1])
        if not flow.within(rule.flow_drift, rule.confidence) and not (
            late and flow.none_seen(rule.confidence)
        ):
            return None
        values = _area(logs)
        shape = shape_of(values)
        area = mean_of(values)
        # what still drifts may go on for as long again: rectangular with that half width
        error = math.hypot(area.error, shape.drift / math.sqrt(12.0))
        area = replace(area, error=error, scatter=_half_swing(shape.rest))
        if area.worth < _WORTH or (area.error > rule.precision and not late):
            return None
        return _Settled(len(logs), area)


def _area(logs: Array) -> Array:
    values: Array = logs[:, 1] - 0.5 * logs[:, 0]
    return values


def _damped(values: Array) -> Array:
    """As a needle with some damping would show them."""
    total = np.cumsum(np.concatenate(([0.0], values)))
    smooth: Array = (total[_DAMPING:] - total[:-_DAMPING]) / _DAMPING
    return smooth


def _away_and_back(values: Array) -> float:
    """Height of the largest peak or dip over what lies on both sides of it."""
    heights = []
    for side in (values, -values):
        before = np.minimum.accumulate(side)
        after = np.minimum.accumulate(side[::-1])[::-1]
        heights.append(float((side - np.maximum(before, after)).max()))
    return max(heights)


def _width(values: Array) -> float:
    low, high = np.percentile(values, (2.5, 97.5))
    return 0.5 * float(high - low)


def _half_swing(values: Array) -> float:
    """Half the width that holds 95 % of what a damped needle shows."""
    return _width(_damped(values)) if values.size > 2 * _DAMPING else _width(values)
