"""The kept before and after on the engine, in the report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from portwright import units
from portwright.core.engine.peaks import Peak, peak
from portwright.model.engine import Induction, Source
from portwright.model.engine_run import EngineGain, EnginePoint, KeptEngineRun
from portwright.report.document import Block, Boxed, Drawing, Drawings, Grid, Lines
from portwright.services.engine_facts import TERMS
from portwright.services.engine_kept import kept_run, out_of_date
from portwright.services.report_said import Gathered
from portwright.units import Kind

_MOST_SPEEDS = 9  # rows of the table; the curves show all
_CHART_SIZE = (3.6, 1.9)  # [in]
# Numbers that shape the curves and are worth measuring; the rest of what is assumed is air,
# friction and limits of the quick answers.
_SHAPING = frozenset({
    "rod", "cylinders", "compression", "rocker_ratio", "intake_centre", "exhaust_centre",
    "runner_length", "runner_diameter", "primary_diameter", "primary_length",
    "collector_volume", "tail_length", "tail_diameter", "air_ratio", "evaporated",
})  # fmt: skip
_BEHIND_A_PLENUM = frozenset({"plenum_volume", "throttle_diameter"})


def simulated(g: Gathered) -> tuple[Block | None, ...]:
    """Sentences, curves and table of the run that was kept; nothing where none was."""
    kept = kept_run(g.contents)
    if kept is None:
        return ()
    say = g.said.say
    old = (say("engine.outdated"),) if out_of_date(kept, g.contents) else ()
    title = say(
        "engine.simulated",
        before=kept.before,
        after=kept.after,
        port=kept.port,
        date=say.date(kept.at),
    )
    return (
        Lines((title, *_headlines(g, kept))),
        Boxed(old),
        _curves(g, kept),
        _table(g, kept),
        Lines((say("engine.why"),)),
        Lines((_made_of(g, kept),), small=True),
    )


def told_band(gains: Sequence[EngineGain], *, rises: bool) -> list[EngineGain]:
    """Speeds at which torque is told to rise, or to fall."""
    if rises:
        return [one for one in gains if one.low is not None and one.low > 0.0]
    return [one for one in gains if one.high is not None and one.high < 0.0]


def most(gains: Sequence[EngineGain]) -> EngineGain:
    """Speed of the largest change among those that are told."""
    return max(gains, key=lambda one: abs(one.gain or 0.0))


def _headlines(g: Gathered, kept: KeptEngineRun) -> list[str]:
    say, told = g.said.say, g.said
    lines, count = [], 0
    for rises, name in ((True, "engine.rises"), (False, "engine.falls")):
        band = told_band(kept.gains, rises=rises)
        count += len(band)
        if band:
            best = most(band)
            lines.append(
                say(
                    name,
                    low=told.turns(band[0].speed),
                    high=told.rpm(band[-1].speed),
                    at=told.rpm(best.speed),
                    gain=_gain(g, best),
                )
            )
    if count == 0:
        lines.append(say("engine.no-difference"))
    elif count < len(kept.gains):
        lines.append(say("engine.elsewhere"))
    return [*lines, *_peaks(g, kept)]


def _gain(g: Gathered, one: EngineGain) -> str:
    if one.gain is None or one.low is None or one.high is None:
        return "–"
    low, middle, high = (f"{100.0 * v:+z.0f}" for v in (one.low, one.gain, one.high))
    return g.said.say("engine.gain", value=middle, low=low, high=high)


def _head(kept: KeptEngineRun, stage: str, *, first: bool) -> list[EnginePoint]:
    """Points of one head; the two halves where a stage is compared with itself."""
    half = len(kept.points) // 2
    return [p for p in (kept.points[:half] if first else kept.points[half:]) if p.stage == stage]


def _both(kept: KeptEngineRun) -> tuple[list[EnginePoint], list[EnginePoint]]:
    return _head(kept, kept.before, first=True), _head(kept, kept.after, first=False)


def _peaks(g: Gathered, kept: KeptEngineRun) -> list[str]:
    say, found = g.said.say, []
    for points in _both(kept):
        speed = np.array([p.speed for p in points])
        power = np.array([np.nan if p.power is None else p.power for p in points])
        found.append(peak(speed, power))
    if any(one is None for one in found):
        return []
    shown = [_power(g, one, points) for one, points in zip(found, _both(kept), strict=True) if one]
    line = say("engine.peaks", before=shown[0], after=shown[1])
    if kept.shift is None:
        return [line]
    shift, low, high = (
        None if v is None else f"{50.0 * round(v / 50.0):+z.0f}"
        for v in (kept.shift, kept.shift_low, kept.shift_high)
    )
    if low is None or high is None:
        moves = say("engine.shift", shift=shift)
    else:
        moves = say("engine.shift-range", shift=shift, low=low, high=high)
    return [f"{line} {moves}"]


def _power(g: Gathered, found: Peak, points: Sequence[EnginePoint]) -> str:
    level = next((p.level for p in points if p.speed >= found.speed), None) or points[-1].level
    value = f"{_with_range(found.value, level, _power_unit(g), Kind.POWER)} {_power_unit(g)}"
    name = "engine.peak" if found.inside else "engine.peak-beyond"
    return g.said.say(name, value=value, speed=g.said.rpm(found.speed))


def _inches(g: Gathered) -> bool:
    return g.said.display.length in {"in", "thou"}


def _power_unit(g: Gathered) -> str:
    return "hp" if _inches(g) else "kW"


def _torque_unit(g: Gathered) -> str:
    return "lbf ft" if _inches(g) else "Nm"


def _with_range(value: float | None, level: float | None, unit: str, kind: Kind) -> str:
    """A value with half the width of its range: "171 ± 15"."""
    if value is None:
        return "–"
    shown = units.show(value, unit, kind, 0)
    return f"{shown} ± {units.show(value * level, unit, kind, 0)}" if level else shown


def _table(g: Gathered, kept: KeptEngineRun) -> Grid:
    say, (one, two) = g.said.say, _both(kept)
    torque, power = _torque_unit(g), _power_unit(g)
    count = len(kept.gains)
    rows = sorted({round(k) for k in np.linspace(0, count - 1, min(count, _MOST_SPEEDS))})
    return Grid(
        (
            say("engine.speed", unit=say("short.rpm")),
            say("engine.torque", stage=kept.before, unit=torque),
            say("engine.torque", stage=kept.after, unit=torque),
            say("engine.power", stage=kept.before, unit=power),
            say("engine.power", stage=kept.after, unit=power),
            say("engine.change"),
        ),
        tuple(
            (
                f"{kept.gains[k].speed:.0f}",
                *(_with_range(p[k].torque, p[k].level, torque, Kind.TORQUE) for p in (one, two)),
                *(_with_range(p[k].power, p[k].level, power, Kind.POWER) for p in (one, two)),
                _gain(g, kept.gains[k]),
            )
            for k in rows
        ),
        numeric=(0, 1, 2, 3, 4, 5),
        wide=(1, 2, 3, 4),
    )


def _curves(g: Gathered, kept: KeptEngineRun) -> Drawings:
    from portwright.report.figures import BandPoint, RangeLine, gain_chart, range_chart

    say, unit = g.said.say, _torque_unit(g)
    label = say("engine.speed", unit=say("short.rpm"))
    lines = []
    for points in _both(kept):
        known = [(p.speed, p.torque, p.level or 0.0) for p in points if p.torque is not None]
        value = [units.from_si(t, unit, Kind.TORQUE) for _, t, _ in known]
        lines.append(
            RangeLine(
                points[0].stage if points else "",
                [s for s, _, _ in known],
                value,
                [v * (1.0 - w) for v, (_, _, w) in zip(value, known, strict=True)],
                [v * (1.0 + w) for v, (_, _, w) in zip(value, known, strict=True)],
            )
        )
    gains = [
        BandPoint(
            one.speed,
            100.0 * one.gain,
            100.0 * one.low,
            100.0 * one.high,
            not one.low <= 0.0 <= one.high,
        )
        for one in kept.gains
        if one.gain is not None and one.low is not None and one.high is not None
    ]
    return Drawings(
        (
            Drawing(
                range_chart(
                    lines,
                    label,
                    say("engine.torque-axis", unit=unit),
                    _CHART_SIZE,
                    decimal=say.decimal,
                ),
                say("engine.torque-caption"),
            ),
            Drawing(
                gain_chart(
                    gains,
                    label,
                    say("engine.change-axis"),
                    _CHART_SIZE,
                    from_zero=False,
                    decimal=say.decimal,
                ),
                say("engine.change-caption"),
            ),
        )
    )


def _made_of(g: Gathered, kept: KeptEngineRun) -> str:
    say = g.said.say
    plenum = kept.facts.get("induction", "").startswith(Induction.INDIVIDUAL)
    shaping = _SHAPING if plenum else _SHAPING | _BEHIND_A_PLENUM
    assumed = [
        say.or_as_is("engine-value", TERMS[item.name].words)
        for item in kept.inputs
        if item.source is Source.ASSUMED and item.name in shaping and item.name in TERMS
    ]
    parts = [
        say("engine.uncalibrated")
        if kept.factor is None
        else say("engine.calibrated", count=kept.engines),
        say("engine.sampled", count=kept.samples) if kept.samples else say("engine.not-sampled"),
        say("engine.assumed", names=", ".join(assumed)) if assumed else "",
        say("engine.not-in-it"),
        say("engine.method", method=kept.method, version=kept.program),
    ]
    return " ".join(p for p in parts if p)
