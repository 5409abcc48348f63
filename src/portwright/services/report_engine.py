"""What the head does on its engine, in the report: quick answers, and the run that was kept."""

from __future__ import annotations

from portwright import units
from portwright.errors import PortwrightError
from portwright.report.document import Block, Fact, Facts, Lines
from portwright.services.engine_quick import QuickAnswers, Range, quick_answers_of
from portwright.services.report_engine_run import simulated
from portwright.services.report_said import Gathered
from portwright.units import Kind


def engine(g: Gathered) -> tuple[Block | None, ...]:
    """What the flow means on this engine, as ranges."""
    return (*_quick(g), *simulated(g))


def _quick(g: Gathered) -> tuple[Block | None, ...]:
    say, said = g.said.say, g.said
    answers = [_answers(g, stage) for stage in (g.whole.before, g.whole.after)]
    last = answers[-1]
    if last is None:
        return ()
    facts = [
        Fact(say("engine.peak-power", stage=a.stage), _range(g, a.peak_power))
        for a in answers
        if a is not None
    ]
    facts.append(Fact(say("engine.ram"), _range(g, last.ram)))
    small = last.smallest
    lines = [
        say(
            "engine.smallest",
            place=say.or_as_is("place", small.name),
            area=f"{said.area(small.area)} {said.area_unit()}",
            speed=said.rpm(small.limit_speed),
            limit=_velocity(g, last.velocity_limit),
        ),
        say("engine.forecast"),
    ]
    return Facts(tuple(facts)), Lines(tuple(lines))


def _answers(g: Gathered, stage: str) -> QuickAnswers | None:
    try:
        return quick_answers_of(g.checked, g.pressure, port=g.story.port, stage=stage)
    except PortwrightError:  # the engine or the port is not described well enough
        return None


def _range(g: Gathered, found: Range) -> str:
    low, high = (g.said.turns(v) for v in (found.low, found.high))
    return g.said.say("engine.range", value=g.said.rpm(found.value), low=low, high=high)


def _velocity(g: Gathered, value: float) -> str:
    unit = "ft/s" if g.said.display.length in {"in", "thou"} else "m/s"
    return f"{units.show(value, unit, Kind.SPEED, 0)} {unit}"
