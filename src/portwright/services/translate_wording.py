"""Translations in words a customer understands."""

from __future__ import annotations

import numpy as np

from portwright import units
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.services.display import Display
from portwright.services.translate import Translated
from portwright.services.wording import decimals
from portwright.units import Kind


def flow_there(translated: Translated, place: int, pressure: float, unit: str) -> tuple[float, ...]:
    """Flow here, there, and half the 95 % interval there, at one lift.

    Parameters
    ----------
    place : int
        Index of the lift. [-]
    pressure : float
        Test pressure at which flow is shown. [Pa]
    unit : str
        Flow unit.
    """
    velocity = float(jet_velocity(REFERENCE_DENSITY, pressure))
    half = (translated.high[place] - translated.low[place]) / 2.0
    areas = (translated.here[place], translated.there[place], half)
    return tuple(units.from_si(float(a) * velocity, unit, Kind.FLOW) for a in areas)


def reads_there(translated: Translated, place: int, pressure: float, display: Display) -> str:
    """One lift in a sentence: "reads 122 on B1, would read about 127 on B2, plus or minus 4"."""
    t = translated.translation
    lift = f"{display.lift_text(float(translated.lift[place]))} {display.length}"
    here, there, half = flow_there(translated, place, pressure, display.flow)
    digits = decimals(half)
    if not translated.covered[place]:
        return (
            f"At {lift} it reads {here:.1f} {display.flow} on {t.here}; what it would read on "
            f"{t.there} is not known: nothing of that flow was on both benches."
        )
    return (
        f"At {lift} it reads {here:.{digits}f} {display.flow} on {t.here}, would read about "
        f"{there:.{digits}f} on {t.there}, plus or minus {half:.{digits}f}."
    )


def best_lift(translated: Translated) -> int:
    """Highest lift that could be translated, else the highest. [-]"""
    known = np.flatnonzero(translated.covered)
    return int(known[-1]) if known.size else translated.lift.size - 1


def foundation(translated: Translated) -> str:
    """What the translation stands on, in a sentence."""
    return relation_words(
        translated.translation.relation.heads, translated.translation.relation.plates
    )


def relation_words(heads: int, plates: int) -> str:
    """Number of heads and plates behind a relation."""
    said = [
        f"{n} {word}{'s' if n != 1 else ''}" for n, word in ((heads, "head"), (plates, "plate"))
    ]
    return f"From {said[0]} and {said[1]} tested on both benches."
