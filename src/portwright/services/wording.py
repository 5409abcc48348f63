"""Verdicts as sentences a customer understands, with no more digits than are known."""

from __future__ import annotations

import math
from collections.abc import Sequence

from portwright import units
from portwright.core.comparison import BandGain, Gain, Verdict
from portwright.services.compare import RunComparison
from portwright.units import Kind


def percent(gain: Gain, *, sign: bool = True) -> str:
    """A gain with its 95 % interval, rounded to what is known: "+4.2 ± 0.9 %"."""
    half = 50.0 * (gain.high - gain.low)
    digits = decimals(half)
    middle = 100.0 * gain.gain
    return f"{middle:{'+' if sign else ''}.{digits}f} ± {half:.{digits}f} %"


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


def band_name(band: BandGain, length_unit: str = "mm") -> str:
    """Stretch of lift a band covers: "4.2 to 8.4 mm"."""
    low, high = (
        units.show(v, length_unit, Kind.LENGTH, _digits(length_unit)) for v in (band.low, band.high)
    )
    return f"{low} to {high} {length_unit}"


def _digits(length_unit: str) -> int:
    return 3 if length_unit == "in" else 1


def sentence(comparison: RunComparison, length_unit: str = "mm") -> str:
    """Say in one to three sentences whether the change did anything."""
    first, second = comparison.before, comparison.after
    opening = f"{first.label} to {second.label}: "
    bands = comparison.result.bands
    if not bands:
        return opening + _without_bands(comparison)
    real = [b for b in bands if b.gain.verdict is Verdict.REAL]
    maybe = [b for b in bands if b.gain.verdict is Verdict.PROBABLY]
    if not real and not maybe:
        worst = max(bands, key=lambda b: b.gain.high - b.gain.low)
        half = 50.0 * (worst.gain.high - worst.gain.low)
        return (
            opening + "can't tell the two apart at any lift. A change smaller than about "
            f"{half:.{decimals(half)}f} % would not show with these sweeps."
        )
    parts = [_stretch(group, "a real", length_unit) for group in _runs_of(bands, real)]
    parts += [_stretch(group, "probably a", length_unit) for group in _runs_of(bands, maybe)]
    rest = [b for b in bands if b.gain.verdict is Verdict.CANT_TELL]
    text = opening + "; ".join(parts)
    if rest:
        text += "; can't tell " + " and ".join(band_name(b, length_unit) for b in rest)
    text += "."
    cam = comparison.result.over_cam
    if cam is not None:
        text += f" Over the open time of cam {comparison.cam}: {percent(cam)}, {cam.verdict}."
    return text


def _without_bands(comparison: RunComparison) -> str:
    told = [g for g in comparison.result.lifts if g.gain.verdict is not Verdict.CANT_TELL]
    if not told:
        return "can't tell the two apart at any lift."
    best = max(told, key=lambda g: abs(g.gain.gain))
    lift = units.show(best.lift, "mm", Kind.LENGTH, 2)
    return (
        f"{best.gain.verdict} {direction(best.gain)} at {len(told)} of "
        f"{len(comparison.result.lifts)} lifts, largest {percent(best.gain)} at {lift} mm."
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


def _stretch(group: Sequence[BandGain], how: str, length_unit: str) -> str:
    where = band_name(
        BandGain(group[0].band, group[0].low, group[-1].high, group[0].gain), length_unit
    )
    size = (
        " and ".join(percent(b.gain) for b in group)
        if len(group) < 3
        else (f"{percent(group[0].gain)} to {percent(group[-1].gain)}")
    )
    return f"{how} {direction(group[0].gain)} from {where} ({size})"
