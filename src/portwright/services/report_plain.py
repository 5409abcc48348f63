"""The result for somebody who is no engineer."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.core.comparison import Gain, Verdict
from portwright.core.port.metal import WallState
from portwright.report.document import Lines
from portwright.services.clearances import open_checks
from portwright.services.engine_kept import kept_run
from portwright.services.metal import walls
from portwright.services.overview import Step
from portwright.services.port_limits import limits_of
from portwright.services.report_engine_run import most, told_band
from portwright.services.report_flow import said_of
from portwright.services.report_said import Gathered


def summary(g: Gathered) -> Lines:
    """The answer first."""
    say = g.said.say
    whole = say(
        "summary.whole",
        port=g.story.port,
        before=g.whole.before,
        after=g.whole.after,
        said=said_of(g.whole, g),
    )
    undecided = [s for s in g.story.steps if all_undecided(s)]
    if not undecided:
        return Lines((whole,), large=True)
    names = ", ".join(f"{s.before} → {s.after}" for s in undecided)
    return Lines((whole, say("summary.undecided", steps=names)), large=True)


def terms(g: Gathered) -> Lines:
    """What the short names on the page stand for."""
    say = g.said.say
    before, after = g.whole.before, g.whole.after
    port = next((p for p in g.contents.ports if p.code == g.story.port), None)
    lines = [say("summary.stages", before=before, after=after), say("summary.real")]
    if port is not None and port.cylinder is not None:
        name = f"summary.port-{port.side.value}"
        lines.insert(0, say(name, port=port.code, cylinder=port.cylinder))
    return Lines((" ".join(lines),), small=True)


def all_undecided(step: Step) -> bool:
    """Whether a step changed nothing that the sweeps can show."""
    bands = step.comparison.result.bands
    gains = [b.gain for b in bands] or [g.gain for g in step.comparison.result.lifts]
    return all(gain.verdict is Verdict.CANT_TELL for gain in gains)


@dataclass(frozen=True, slots=True)
class Headline:
    """The one gain that stands for the whole curve.

    Parameters
    ----------
    gain : Gain
    over_cam : bool
        Over the open time of the cam; else in the lift band named.
    """

    gain: Gain
    over_cam: bool
    low: float = 0.0
    high: float = 0.0


def headline(step: Step) -> Headline | None:
    """Gain over the cam, else of the highest lift band, None where there is neither."""
    result = step.comparison.result
    if result.over_cam is not None:
        return Headline(result.over_cam, True)
    if result.bands:
        best = result.bands[-1]
        return Headline(best.gain, False, best.low, best.high)
    return None


def plain_paragraph(g: Gathered) -> Lines:
    """One paragraph without a technical term that is not explained in it."""
    say = g.said.say
    lines = [_what_it_gained(g), say("plain.bench"), on_the_engine(g, "short.rpm"), _work(g)]
    at_limit = _used_up_together(g)
    if at_limit:
        lines.append(say("plain.walls", places="; ".join(at_limit)))
    missing = len(open_checks(g.contents))
    lines.append(say("plain.checks-open", count=missing) if missing else say("plain.checks-again"))
    return Lines((" ".join(line for line in lines if line),))


def whole_percent(value: float) -> str:
    """A share as whole percent without sign, for people who do not want decimals."""
    return f"{abs(100.0 * value):.0f}"


def _what_it_gained(g: Gathered) -> str:
    say, told = g.said.say, headline(g.whole)
    if told is None or told.gain.verdict is Verdict.CANT_TELL:
        return say("plain.no-difference", port=g.story.port)
    gain = told.gain
    name = "gain" if gain.gain >= 0.0 else "loss"
    ends = sorted((abs(gain.low), abs(gain.high)))
    return say(
        f"plain.{name}" + ("" if gain.verdict is Verdict.REAL else "-probable"),
        port=_port_in_words(g),
        size=whole_percent(gain.gain),
        low=whole_percent(ends[0]),
        high=whole_percent(ends[1]),
    )


def _port_in_words(g: Gathered) -> str:
    """The port with what it does, for somebody who never saw one."""
    code = g.story.port
    port = next((p for p in g.contents.ports if p.code == code), None)
    if port is None or port.cylinder is None:
        return code
    return g.said.say(f"plain.port-{port.side.value}", code=code, cylinder=port.cylinder)


def on_the_engine(g: Gathered, unit: str) -> str:
    """Change of torque of the kept run in a sentence, "" where there is none to tell.

    ``unit`` is the catalogue's name of the unit of speed, written or for the ear.
    """
    kept = kept_run(g.contents)
    if kept is None:
        return ""
    told = [*told_band(kept.gains, rises=True), *told_band(kept.gains, rises=False)]
    if not told:
        return ""
    best = most(told)
    if best.gain is None or best.low is None or best.high is None:
        return ""
    ends = sorted((abs(best.low), abs(best.high)))
    return g.said.say(
        "plain.engine-gain" if best.gain > 0.0 else "plain.engine-loss",
        size=whole_percent(best.gain),
        speed=g.said.rpm(best.speed, unit),
        low=whole_percent(ends[0]),
        high=whole_percent(ends[1]),
    )


def _work(g: Gathered) -> str:
    say, steps = g.said.say, g.story.steps
    seen = sum(not all_undecided(s) for s in steps)
    if len(steps) < 2:
        return ""
    if seen == len(steps):
        return say("plain.steps-all", count=len(steps))
    return say("plain.steps", seen=seen, count=len(steps))


def used_up(g: Gathered) -> list[str]:
    """Where no metal may be taken any more."""
    return list(dict.fromkeys(", ".join(p for p in place if p) for place in _at_limit(g)))


def _at_limit(g: Gathered) -> list[tuple[str, str]]:
    """Subject and landmark of every wall without metal to take."""
    return [
        (wall.subject, wall.landmark or wall.place)
        for wall in walls(g.contents, limits_of(g.archive))
        if wall.state is not WallState.FREE
    ]


def _used_up_together(g: Gathered) -> list[str]:
    """The same landmark of several cylinders said once: "pinch (cyl 4, 5, 6)"."""
    groups: dict[str, list[str]] = {}
    for subject, landmark in _at_limit(g):
        groups.setdefault(landmark, []).append(subject)
    said = []
    for landmark, subjects in groups.items():
        names = sorted(set(subjects), key=_in_order)
        if len(names) > 1 and all(n.startswith("cyl ") for n in names):
            names = [names[0], *(n.removeprefix("cyl ") for n in names[1:])]
        where, who = g.said.place(landmark), g.said.place(", ".join(names))
        said.append(f"{where} ({who})" if where and who else where or who)
    return said


def _in_order(name: str) -> tuple[str, int]:
    digits = "".join(c for c in name if c.isdigit())
    return name.rstrip("0123456789"), int(digits or 0)
