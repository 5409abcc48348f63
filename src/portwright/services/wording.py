"""Verdicts as sentences a customer understands, with no more digits than are known.

Texts come from the catalogue; English where no language is named.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from portwright import units
from portwright.catalogue import Words, words
from portwright.core.comparison import BandGain, Gain, Verdict
from portwright.services.compare import RunComparison
from portwright.units import Kind


def percent(gain: Gain, *, sign: bool = True, say: Words | None = None) -> str:
    """A gain with its 95 % interval, rounded to what is known: "+4.2 ± 0.9 %".

    A real one that would seem to touch zero when rounded ("-1.0 ± 1.0 %") keeps as many digits
    more as show that it does not.
    """
    half = 50.0 * (gain.high - gain.low)
    middle = 100.0 * gain.gain
    digits = decimals(half)
    if gain.verdict is Verdict.REAL:
        closest = digits + 3
        while digits < closest and round(abs(middle), digits) <= round(half, digits):
            digits += 1
    text = f"{middle:{'+' if sign else ''}z.{digits}f} ± {half:.{digits}f} %"
    return text if say is None else say.number(text)


def decimals(uncertainty: float) -> int:
    """Digits after the point that an uncertainty allows: its own first significant one.

    A leading 1 keeps a second digit, because 1 may stand for 0.95 or for 1.5.
    """
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 1
    exponent = math.floor(math.log10(uncertainty))
    leading = uncertainty / 10.0**exponent
    return max(0, min(3, -exponent + (1 if leading < 2.0 else 0)))


def direction(gain: Gain) -> str:
    """Gain or loss in a word."""
    return "gain" if gain.gain >= 0.0 else "loss"


def verdict_word(verdict: Verdict, say: Words | None = None) -> str:
    """A verdict in the words of a language."""
    return verdict.value if say is None else say(f"verdict.{verdict.name.lower()}")


def band_name(band: BandGain, length_unit: str = "mm", say: Words | None = None) -> str:
    """Stretch of lift a band covers: "4.2 to 8.4 mm"."""
    say = say or words()
    low, high = (
        units.show(v, length_unit, Kind.LENGTH, _digits(length_unit)) for v in (band.low, band.high)
    )
    return say.number(say("said.band", low=low, high=high, unit=length_unit))


def _digits(length_unit: str) -> int:
    return 3 if length_unit == "in" else 1


def sentence(comparison: RunComparison, length_unit: str = "mm", say: Words | None = None) -> str:
    """Say in one to three sentences whether the change did anything."""
    first, second = comparison.before, comparison.after
    opening = (say or words())("said.opening", before=first.label, after=second.label)
    return opening + verdict_sentence(comparison, length_unit, say)


def verdict_sentence(
    comparison: RunComparison,
    length_unit: str = "mm",
    say: Words | None = None,
    *,
    cam: bool = True,
) -> str:
    """As :func:`sentence`, without the names of what was compared; ``cam`` adds that over it."""
    say = say or words()
    bands = comparison.result.bands
    if not bands:
        return _without_bands(comparison, say)
    real = [b for b in bands if b.gain.verdict is Verdict.REAL]
    maybe = [b for b in bands if b.gain.verdict is Verdict.PROBABLY]
    if not real and not maybe:
        worst = max(bands, key=lambda b: b.gain.high - b.gain.low)
        half = 50.0 * (worst.gain.high - worst.gain.low)
        size = say.number(f"{half:.{decimals(half)}f}")
        return f"{say('said.no-difference')} {say('said.would-not-show', size=size)}"
    parts = [_stretch(group, "real", length_unit, say) for group in _runs_of(bands, real)]
    parts += [_stretch(group, "probable", length_unit, say) for group in _runs_of(bands, maybe)]
    rest = [b for b in bands if b.gain.verdict is Verdict.CANT_TELL]
    text = "; ".join(parts)
    if rest:
        names = say("and").join(band_name(b, length_unit, say) for b in rest)
        text += "; " + say("said.no-difference-in", bands=names)
    text += "."
    over_cam = comparison.result.over_cam if cam else None
    if over_cam is not None:
        text += " " + say(
            "said.over-cam",
            cam=comparison.cam,
            gain=percent(over_cam, say=say),
            verdict=verdict_word(over_cam.verdict, say),
        )
    return text


def _without_bands(comparison: RunComparison, say: Words) -> str:
    told = [g for g in comparison.result.lifts if g.gain.verdict is not Verdict.CANT_TELL]
    if not told:
        return say("said.no-difference")
    best = max(told, key=lambda g: abs(g.gain.gain))
    return say(
        f"said.at-lifts-{direction(best.gain)}",
        verdict=verdict_word(best.gain.verdict, say),
        told=len(told),
        all=len(comparison.result.lifts),
        size=percent(best.gain, say=say),
        lift=say.number(units.show(best.lift, "mm", Kind.LENGTH, 2)),
    )


def _runs_of(bands: Sequence[BandGain], chosen: Sequence[BandGain]) -> list[list[BandGain]]:
    """Chosen bands that lie next to each other and point the same way."""
    groups: list[list[BandGain]] = []
    for band in bands:
        if band not in chosen:
            continue
        previous = groups[-1][-1] if groups else None
        together = (
            previous is not None
            and bands.index(previous) + 1 == bands.index(band)
            and direction(previous.gain) == direction(band.gain)
        )
        if together:
            groups[-1].append(band)
        else:
            groups.append([band])
    return groups


def _stretch(group: Sequence[BandGain], how: str, length_unit: str, say: Words) -> str:
    stretch = BandGain(group[0].band, group[0].low, group[-1].high, group[0].gain)
    sizes = [percent(b.gain, say=say) for b in group]
    size = (
        say("and").join(sizes)
        if len(sizes) < 3
        else say("said.range", first=sizes[0], last=sizes[-1])
    )
    return say(
        f"said.{how}-{direction(group[0].gain)}",
        where=band_name(stretch, length_unit, say),
        size=size,
    )
