"""A stored trace under another settle rule, beside what was stored at the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from portwright.core.settling.rule import SettleRule
from portwright.core.settling.watch import Judgement
from portwright.errors import InputError
from portwright.io.instruments.description import read_description
from portwright.model.bench import Calibration
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.services import live_trace
from portwright.services.carried import NO_LIFT, kept_plan
from portwright.services.compare import archive_pressure
from portwright.services.earlier import flows_of
from portwright.services.live_flow import LiveFlow
from portwright.services.live_sweep import LiveSweep, Plan
from portwright.services.live_trace import Event, Trace
from portwright.services.shop_file import ShopFile
from portwright.units import Kind, read

_NEAR = 1e-6  # lifts closer than this are one setting [m]


@dataclass(frozen=True, slots=True)
class Replayed:
    """One reading a rule takes from a trace.

    Parameters
    ----------
    reading : Reading
    judgement : Judgement
    """

    reading: Reading
    judgement: Judgement

    @property
    def error(self) -> float:
        """Standard error of the effective area, relative. [-]"""
        return self.judgement.area.error if self.judgement.area else math.nan


def replay(
    traces: Sequence[Trace], calibration: Calibration, rule: SettleRule, air: Reading | None = None
) -> list[Replayed]:
    """Feed stored lines to the live sweep again, as they came.

    Parameters
    ----------
    traces : sequence of Trace
    calibration : Calibration
        The one the run names.
    rule : SettleRule
    air : Reading, optional
        Air and leak where no instrument sends them.

    Returns
    -------
    list of Replayed
        One for each time a lift was set, in order; a lift set twice is there twice.
    """
    taken: list[Replayed] = []
    for trace in traces:
        instruments = tuple(read_description(text) for text in trace.header["instruments"])
        live = LiveSweep(
            LiveFlow(calibration, instruments),
            instruments,
            rule,
            trace.header["zero"],
            has_ranges=bool(calibration.ranges),
        )
        lifts = tuple(read(text, Kind.LENGTH, unit) for text, unit in trace.header["lifts"])
        live.plan = Plan(None, lifts, air or Reading(NO_LIFT))
        for entry in trace.entries:
            if isinstance(entry, Event):
                _happened(live, entry)
                continue
            live.feed(entry)
            if live.take is not None:
                taken.append(Replayed(live.take.reading, live.take.judgement))
                live.stored(live.take.token)
    return taken


def _happened(live: LiveSweep, event: Event) -> None:
    """What a person or the wires did then."""
    match event.kind:
        case "ready":
            text = event.said.get("called", "")
            live.plan.called = read(text, Kind.LENGTH) if text else None
            live.ready(event.time)
        case "zero":
            live.zero = {name: float(value) for name, value in event.said.items()}
        case "contact" if event.said["lost"]:
            live.contact_lost(event.time, event.said["instrument"], event.said["lost"])
        case "contact":
            live.contact_made(event.time, event.said["instrument"])
        case "range" if event.said.get("chosen"):
            live.choose_range(int(event.said["range"]))
        case "go on":
            live.go_on(again=bool(event.said["again"]))
        case _:  # what the sweep itself noticed, it notices again
            pass


def newest_at(taken: Sequence[Replayed], lift: float) -> Replayed | None:
    """The last reading a rule took at a lift."""
    near = [t for t in taken if abs(t.reading.lift.si - lift) < _NEAR]
    return near[-1] if near else None


@dataclass(frozen=True, slots=True)
class Row:
    """One lift under two rules.

    Parameters
    ----------
    lift : AsTyped
        [m]
    stored, other : float
        Flow at the shop's pressure as stored and under the other rule, NaN where not taken. [m3/s]
    stored_error, other_error : float
        Standard error of each mean, relative, NaN where not known. [-]
    stored_waited, other_waited : float
        Time from setting the lift to the reading, NaN where not known. [s]
    unsteady : bool
        The other rule takes it with a large scatter only.
    """

    lift: AsTyped
    stored: float
    other: float
    stored_error: float
    other_error: float
    stored_waited: float
    other_waited: float
    unsteady: bool = False

    @property
    def change(self) -> float:
        """Other over stored, minus one. [-]"""
        return self.other / self.stored - 1.0


@dataclass(frozen=True, slots=True)
class SideBySide:
    """A run as stored and under another settle rule.

    Parameters
    ----------
    run : Run
    rule : SettleRule
    pressure : float
        Flows are at this test pressure. [Pa]
    rows : tuple of Row
        By rising lift.
    not_taken : tuple of str
        Lifts the other rule takes no reading at.
    lines : int
        Lines in the trace.
    """

    run: Run
    rule: SettleRule
    pressure: float
    rows: tuple[Row, ...]
    not_taken: tuple[str, ...]
    lines: int

    @property
    def mean_change(self) -> float:
        """Mean change over the lifts both have. [-]"""
        known = [r.change for r in self.rows if math.isfinite(r.change)]
        return float(np.mean(known)) if known else math.nan


def side_by_side(shop: ShopFile, code: str, rule: SettleRule) -> SideBySide:
    """Reduce the trace of a run with another rule, beside what is stored.

    Raises
    ------
    NotFoundError
        It has no trace.
    InputError
        Its calibration is gone.
    """
    run = shop.run(code)
    traces = live_trace.load(shop, run.job, code)
    calibration = calibration_of(shop, run)
    taken = replay(traces, calibration, rule, kept_plan(shop, run)[1])
    pressure = archive_pressure(shop)
    noted = {}
    for trace in traces:
        for event in trace.entries:
            if isinstance(event, Event) and event.kind == "taken":
                noted[read(event.said["lift"], Kind.LENGTH).si] = event.said
    rows = []
    for reading in sorted(run.readings, key=lambda r: r.lift.si):
        found = newest_at(taken, reading.lift.si)
        said = next((v for k, v in noted.items() if abs(k - reading.lift.si) < _NEAR), {})
        rows.append(
            Row(
                reading.lift,
                _flow(run, reading, calibration, pressure),
                _flow(run, found.reading, calibration, pressure) if found else math.nan,
                float(said.get("error", math.nan)),
                found.error if found else math.nan,
                float(said.get("waited", math.nan)),
                found.judgement.waited if found else math.nan,
                found.judgement.unsteady if found else False,
            )
        )
    missing = tuple(str(r.lift) for r in rows if math.isnan(r.other))
    return SideBySide(run, rule, pressure, tuple(rows), missing, sum(t.lines for t in traces))


def calibration_of(shop: ShopFile, run: Run) -> Calibration:
    """Calibration a run names.

    Raises
    ------
    InputError
    """
    for calibration in shop.calibrations():
        if (calibration.bench, calibration.version) == (run.bench, run.calibration):
            return calibration
    raise InputError(
        f"Run {run.code} has no calibration of bench {run.bench}.",
        "Give the bench one on the Bench health screen, or with 'portwright calibrate'.",
    )


def _flow(run: Run, reading: Reading, calibration: Calibration, pressure: float) -> float:
    return flows_of(replace(run, readings=(reading,)), calibration, pressure)[0]


@dataclass(frozen=True, slots=True)
class Share:
    """How two benches differ at one lift. All relative. [-]

    Parameters
    ----------
    lift : AsTyped
        [m]
    as_stored : float
        Second over first bench as stored, as a natural logarithm.
    settled : float
        The same under one rule for both.
    error : float
        Standard error of ``settled`` from the unrest of the air.
    """

    lift: AsTyped
    as_stored: float
    settled: float
    error: float

    @property
    def by_settling(self) -> float:
        """Part of the difference that one settle rule for both takes away."""
        return self.as_stored - self.settled


@dataclass(frozen=True, slots=True)
class TwoBenches:
    """One port on two benches.

    Parameters
    ----------
    first, second : SideBySide
    shares : tuple of Share
    calibration_error : float
        Standard uncertainty of the ratio from the two calibrations. [-]
    findings : tuple of str
        What else differs between the two runs.
    """

    first: SideBySide
    second: SideBySide
    shares: tuple[Share, ...]
    calibration_error: float
    findings: tuple[str, ...]

    def mean(self) -> Share:
        """Over all lifts; the error is that of the mean."""
        if not self.shares:
            return Share(AsTyped("all", "", 0.0), math.nan, math.nan, math.nan)
        n = len(self.shares)
        return Share(
            AsTyped("all", "", 0.0),
            float(np.mean([s.as_stored for s in self.shares])),
            float(np.mean([s.settled for s in self.shares])),
            math.sqrt(sum(s.error**2 for s in self.shares)) / n,
        )

    def sentence(self) -> str:
        """What it comes to."""
        mean = self.mean()
        if math.isnan(mean.settled):
            return "The two runs have no settled lift in common."
        benches = f"{self.second.run.bench} against {self.first.run.bench}"
        left = f"{100.0 * mean.settled:+z.1f} % is left"
        wide = 2.0 * math.hypot(self.calibration_error, mean.error)
        within = "within" if abs(mean.settled) <= wide else "more than"
        return (
            f"{benches}: {100.0 * mean.as_stored:+z.1f} % as stored. "
            f"{100.0 * mean.by_settling:+z.1f} % of it comes from settling, {left}, {within} the "
            f"± {100.0 * wide:.1f} % that the calibrations and the unrest allow."
        )


def live_on_two(shop: ShopFile, contents: JobContents) -> list[tuple[Run, Run]]:
    """Sweeps of one port and stage of a job that two benches read live, earlier bench first."""
    traced = set(live_trace.runs_with_trace(shop, contents.job.number))
    live = [run for run in contents.runs if run.code in traced]
    return [
        (one, other)
        for place, one in enumerate(live)
        for other in live[place + 1 :]
        if (one.port, one.stage) == (other.port, other.stage) and one.bench != other.bench
    ]


def two_benches(shop: ShopFile, first: str, second: str, rule: SettleRule) -> TwoBenches:
    """How much of the difference of two benches on one port comes from settling.

    Both traces are read with one rule; what still differs has another cause.

    Raises
    ------
    NotFoundError
        One of the runs has no trace.
    InputError
        Both runs are of one bench.
    """
    one, other = side_by_side(shop, first, rule), side_by_side(shop, second, rule)
    if one.run.bench == other.run.bench:
        raise InputError(
            f"{first} and {second} were both made on {one.run.bench}.", "Choose another bench's."
        )
    shares = []
    for row in one.rows:
        match = next((r for r in other.rows if abs(r.lift.si - row.lift.si) < _NEAR), None)
        if match is None or not all(
            math.isfinite(v) and v > 0.0 for v in (row.stored, row.other, match.stored, match.other)
        ):
            continue
        shares.append(
            Share(
                row.lift,
                math.log(match.stored / row.stored),
                math.log(match.other / row.other),
                math.hypot(row.other_error, match.other_error),
            )
        )
    doubts = [calibration_of(shop, s.run).relative_uncertainty for s in (one, other)]
    return TwoBenches(one, other, tuple(shares), math.hypot(*doubts), _differences(one, other))


def _differences(one: SideBySide, other: SideBySide) -> tuple[str, ...]:
    found = []
    ports = [(s.run.job, s.run.port, s.run.stage) for s in (one, other)]
    if ports[0] != ports[1]:
        found.append("They are not of the same port and stage.")
    names = ("bore_adapter", "adapter_length", "inlet_aid", "exhaust_stub", "plug", "valve")
    for name in names:
        a, b = (getattr(s.run.conditions, name) for s in (one, other))
        if a != b:
            words = name.replace("_", " ")
            found.append(f"{words}: {a or 'not recorded'} and {b or 'not recorded'}.")
    return tuple(found)
