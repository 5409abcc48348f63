"""Flow in the report: each step of work, the curves before and after, what was left out."""

from __future__ import annotations

import math

from portwright import units
from portwright.catalogue import ENGLISH
from portwright.core.comparison import Verdict
from portwright.report.document import Block, Bullets, Drawing, Drawings, Grid, Lines
from portwright.services.compare import left_out_line
from portwright.services.overview import Step
from portwright.services.report_said import Gathered
from portwright.services.wording import verdict_sentence
from portwright.units import Kind

_CHART_SIZE = (3.6, 2.1)  # [in]


def capital(text: str) -> str:
    """A sentence with a capital letter in front."""
    return text[:1].upper() + text[1:]


def said_of(step: Step, g: Gathered) -> str:
    """What a step did, as a sentence."""
    return capital(verdict_sentence(step.comparison, g.said.display.length, g.said.say))


def steps(g: Gathered) -> Grid:
    """Every piece of work with its verdict, and over the cam where there is one."""
    say = g.said.say
    with_cam = any(s.comparison.result.over_cam is not None for s in g.story.steps)
    cam = (say("steps.cam"),) if with_cam else ()
    return Grid(
        (say("steps.stage"), say("steps.work"), say("steps.effect"), *cam),
        tuple(
            (
                f"{s.before} → {s.after}",
                s.change,
                capital(verdict_sentence(s.comparison, g.said.display.length, say, cam=False)),
                *((_over_cam(s, g),) if with_cam else ()),
            )
            for s in g.story.steps
        ),
        numeric=(3,) if with_cam else (),
        wide=(1, 2),
    )


def _over_cam(step: Step, g: Gathered) -> str:
    found = step.comparison.result.over_cam
    return "" if found is None else g.said.gain(found)


def left_out(g: Gathered) -> Bullets:
    """Sweeps not used, each with its cause."""
    say, faulty = g.said.say, g.checked.faulty
    lines = []
    for code, why in g.story.left_out.items():
        known = faulty.get(code)
        if say.language == ENGLISH or known is None:
            lines.append(left_out_line(code, why))
        else:
            lines.append(say("left-out.line", run=code, cause=say.or_as_is("cause", known.code)))
    return Bullets(tuple(lines))


def before_and_after(g: Gathered) -> tuple[Block, ...]:
    """Curves, table and the conditions under them."""
    from portwright.report.figures import BandPoint, Line, flow_chart, gain_chart

    whole, said, say = g.whole, g.said, g.said.say
    comparison, display = whole.comparison, said.display

    def lift(value: float) -> float:
        return units.from_si(value, display.length, Kind.LENGTH)

    def flow(area: float) -> float:
        return units.from_si(comparison.flow(area), display.flow, Kind.FLOW)

    lifts = comparison.result.lifts
    xs = [0.0, *(lift(g.lift) for g in lifts)]
    lines = (
        Line(whole.before, xs, [0.0, *(flow(g.gain.before) for g in lifts)]),
        Line(whole.after, xs, [0.0, *(flow(g.gain.after) for g in lifts)]),
    )
    points = [
        BandPoint(
            lift(g.lift),
            100.0 * g.gain.gain,
            100.0 * g.gain.low,
            100.0 * g.gain.high,
            g.gain.verdict is Verdict.REAL,
        )
        for g in lifts
        if math.isfinite(g.gain.gain)
    ]
    pressure = said.pressure(comparison.pressure)
    lift_label = say("charts.lift", unit=display.length)
    flow_label = say("charts.flow", unit=display.flow, pressure=pressure)
    port = comparison.after.port
    drawings = Drawings(
        (
            Drawing(
                flow_chart(lines, lift_label, flow_label, _CHART_SIZE, decimal=say.decimal),
                say("charts.flow-caption", port=port),
            ),
            Drawing(
                gain_chart(
                    points, lift_label, say("charts.gain"), _CHART_SIZE, decimal=say.decimal
                ),
                say("charts.gain-caption"),
            ),
        )
    )
    title = say(
        "table.title",
        port=port,
        before=whole.before,
        after=whole.after,
        unit=display.flow,
        pressure=pressure,
    )
    return drawings, Lines((title,)), _table(g), Lines((conditions(g),), small=True)


def _table(g: Gathered) -> Grid:
    whole, said, say = g.whole, g.said, g.said.say
    comparison, unit = whole.comparison, said.display.flow
    return Grid(
        (
            say("table.lift", unit=said.display.length),
            f"{whole.before}, {unit}",
            f"{whole.after}, {unit}",
            say("table.gain"),
            say("table.verdict"),
        ),
        tuple(
            (
                said.lift(lift.lift),
                said.flow(comparison.flow(lift.gain.before)),
                said.flow(comparison.flow(lift.gain.after)),
                said.gain(lift.gain),
                said.verdict(lift.gain.verdict),
            )
            for lift in comparison.result.lifts
        ),
        numeric=(0, 1, 2, 3),
        wide=(4,),
    )


def conditions(g: Gathered) -> str:
    """Under what the figures were found, in one line."""
    say, comparison = g.said.say, g.whole.comparison
    parts = [g.said.condition(name, value) for name, value in comparison.after.conditions.items()]
    parts += [
        say("conditions.before", runs=", ".join(comparison.before.runs)),
        say("conditions.after", runs=", ".join(comparison.after.runs)),
        say("conditions.air"),
    ]
    parts += _differences(g)
    if any(f.code == "pressure-moved" for f in comparison.findings):
        parts.append(say("finding.pressure-moved"))
    return " · ".join(parts)


def _differences(g: Gathered) -> list[str]:
    """Conditions that were not the same before and after, each with both values."""
    say, comparison = g.said.say, g.whole.comparison
    before, after = comparison.before.conditions, comparison.after.conditions

    def value(found: dict[str, str], name: str) -> str:
        text = found.get(name, "")
        if not text:
            return say("finding.not-recorded")
        return say("finding.quoted", text=say.or_as_is("value", text))

    return [
        say(
            "finding.conditions-differ",
            what=say.or_as_is("condition", name),
            before=value(before, name),
            after=value(after, name),
        )
        for name in dict.fromkeys((*before, *after))
        if before.get(name, "") != after.get(name, "") and name != "bench"
    ]
