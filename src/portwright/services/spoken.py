"""The result for somebody who only hears it: rounded, in order, units spoken, no tables."""

from __future__ import annotations

import re
from pathlib import Path

from portwright import units
from portwright.core.comparison import LiftGain, Verdict
from portwright.io.system_voice import speak_to_wav, voice_hint, voice_name
from portwright.model.contents import JobContents
from portwright.services.clearances import open_checks
from portwright.services.files import write_file
from portwright.services.overview import Step
from portwright.services.privacy import hide, private_texts
from portwright.services.report import ReportChoices, gather
from portwright.services.report_plain import headline, on_the_engine, used_up, whole_percent
from portwright.services.report_said import Gathered
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

_CLAUSE = re.compile(r"[^\d,;:()>=+/]*")
_UNSAID = re.compile(r"\([^)]*\)")


def spoken_summary(shop: ShopFile, job: str, choices: ReportChoices | None = None) -> str:
    """A job's result as text for the ear.

    Raises
    ------
    UnknownNameError, InputError
        As for the report.
    """
    chosen = choices or ReportChoices()
    g = gather(shop, job, chosen)
    say = g.said.say
    parts = [
        say("spoken.opening", what=_plain(g.contents.job.vehicle or g.contents.job.casting or job)),
        _gain(g),
        _peak(g),
        *_steps(g),
        on_the_engine(g, "unit.rpm"),
        say("plain.walls-spoken", count=len(limits)) if (limits := used_up(g)) else "",
        _checks(g),
        say("spoken.end"),
    ]
    text = " ".join(p for p in parts if p)
    return text if g.names else hide(text, private_texts(g.contents, g.shop))


def how_to_have_a_voice() -> str:
    """What to do where :func:`has_voice` is False."""
    return voice_hint()


def has_voice() -> bool:
    """Whether this computer can speak into a file."""
    return bool(voice_name())


def summary_wav(shop: ShopFile, job: str, choices: ReportChoices | None = None) -> bytes:
    """The summary as a WAV file, spoken by a voice of this computer.

    Raises
    ------
    ReportError
        There is none.
    """
    chosen = choices or ReportChoices()
    language = gather_language(shop, chosen)
    return speak_to_wav(spoken_summary(shop, job, chosen), language)


def gather_language(shop: ShopFile, choices: ReportChoices) -> str:
    """Language in which a summary with these choices is."""
    from portwright.services.shop_marks import report_language

    return choices.language or report_language(shop)


def write_summary(
    shop: ShopFile, job: str, out: Path, choices: ReportChoices | None = None
) -> None:
    """Write the spoken summary as a WAV file.

    Raises
    ------
    ReportError
    """
    write_file(summary_wav(shop, job, choices), out)


def _plain(words: str) -> str:
    return " ".join(_UNSAID.sub(" ", words).split())


def _gain(g: Gathered) -> str:
    say, told = g.said.say, headline(g.whole)
    port = port_name(g, g.contents, g.story.port)
    if told is None or told.gain.verdict is Verdict.CANT_TELL:
        return say("spoken.no-difference", port=port)
    gain = told.gain
    half = max(1, round(50.0 * (gain.high - gain.low)))
    name = "gain" if gain.gain >= 0.0 else "loss"
    sure = "" if gain.verdict is Verdict.REAL else "-probable"
    size = whole_percent(gain.gain)
    return say(f"spoken.{name}{sure}", port=port, size=size, half=half)


def port_name(g: Gathered, contents: JobContents, code: str) -> str:
    """A port as people call it: "intake port 1"."""
    port = next((p for p in contents.ports if p.code == code), None)
    if port is None or port.cylinder is None:
        return g.said.say("spoken.port", code=code)
    return g.said.say(f"spoken.port-{port.side.value}", number=port.cylinder)


def _peak(g: Gathered) -> str:
    """Flow at the highest lift tested, before and after."""
    comparison, display, say = g.whole.comparison, g.said.display, g.said.say
    best: LiftGain = comparison.result.lifts[-1]

    def flow(area: float) -> str:
        return f"{units.from_si(comparison.flow(area), display.flow, Kind.FLOW):.0f}"

    if display.length in {"in", "thou"}:
        lift = f"{units.from_si(best.lift, 'thou', Kind.LENGTH):.0f}"
        length = say("unit.thou")
    else:
        lift = say.number(f"{units.from_si(best.lift, 'mm', Kind.LENGTH):.1f}".removesuffix(".0"))
        length = say("unit.mm")
    pressure, _, unit = display.pressure_text(comparison.pressure).partition(" ")
    return say(
        "spoken.peak",
        lift=lift,
        length=length,
        after=flow(best.gain.after),
        before=flow(best.gain.before),
        flow=say.or_as_is("unit", display.flow),
        pressure=say.number(pressure.removesuffix(".0")),
        pressure_unit=say.or_as_is("unit", unit),
    )


def _steps(g: Gathered) -> list[str]:
    """The step that gained most, and those that lost."""
    say = g.said.say
    told = [(s, h.gain) for s in g.story.steps if (h := headline(s)) is not None]
    real = [(s, gain) for s, gain in told if gain.verdict is Verdict.REAL]
    gained = [(s, gain) for s, gain in real if gain.gain > 0.0]
    lines = []
    if len(gained) > 1:
        best, gain = max(gained, key=lambda pair: pair[1].gain)
        size = whole_percent(gain.gain)
        lines.append(say("spoken.best", work=_work(best), size=size))
    lines += [
        say("spoken.lost", work=_work(s), size=whole_percent(gain.gain))
        for s, gain in real
        if gain.gain < 0.0
    ]
    return lines


def _work(step: Step) -> str:
    """First clause of what was done, without figures."""
    found = _CLAUSE.match(step.change)
    words = " ".join((found[0] if found else "").replace(" -", " ").split())
    return words or step.after


def _checks(g: Gathered) -> str:
    missing = len(open_checks(g.contents))
    say = g.said.say
    return say("plain.checks-open", count=missing) if missing else say("plain.checks-again")
