"""Translations in words a customer understands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright import units
from portwright.core.curve import Array
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.services.display import Display
from portwright.services.translate import BenchTranslation, Translated
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


def foundation(translated: Translated, pressure: float, display: Display) -> str:
    """What the translation stands on, and what its flows are, in two sentences."""
    relation = translated.translation.relation
    return (
        f"{relation_words(relation.heads, relation.plates)} Flow is shown at "
        f"{display.pressure_text(pressure)} by the square root of the pressure, as most sheets "
        "have it."
    )


def relation_words(heads: int, plates: int) -> str:
    """Number of heads and plates behind a relation."""
    said = [
        f"{n} {word}{'s' if n != 1 else ''}" for n, word in ((heads, "head"), (plates, "plate"))
    ]
    return f"From {said[0]} and {said[1]} tested on both benches."


@dataclass(frozen=True, slots=True, eq=False)
class Difference:
    """How much more the other bench reads, against the flow read here.

    Parameters
    ----------
    name : str
        Of the plate or head; "" for the curve a further head follows.
    head : bool
    flow : ndarray, shape (n,)
        Read here. [m3/s]
    best, low, high : ndarray, shape (n,)
        Relative difference with its 95 % interval; the ends are empty for single tests. [-]
    """

    name: str
    head: bool
    flow: Array
    best: Array
    low: Array
    high: Array


def difference_curve(found: BenchTranslation, pressure: float) -> Difference:
    """Difference of the benches for a further head, over the flows tested on both.

    Parameters
    ----------
    found : BenchTranslation
    pressure : float
        Test pressure at which flow is shown. [Pa]
    """
    areas = np.geomspace(found.relation.low, found.relation.high, 25)
    predicted = found.relation.predict(np.log(areas))
    low, high = predicted.interval()
    best = predicted.log_area - np.log(areas)
    flow = areas * float(jet_velocity(REFERENCE_DENSITY, pressure))
    return Difference("", True, flow, np.expm1(best), np.expm1(best + low), np.expm1(best + high))


def tested_on_both(found: BenchTranslation, pressure: float) -> list[Difference]:
    """Each plate and head with its own difference, nothing averaged."""
    velocity = float(jet_velocity(REFERENCE_DENSITY, pressure))
    none = np.empty(0)
    return [
        Difference(a.name, a.head, a.here * velocity, a.there / a.here - 1.0, none, none)
        for a in found.tests.articles
    ]


def benches_sentence(found: BenchTranslation, pressure: float, display: Display) -> str:
    """The difference at both ends: "B2 reads +2.5 % at 17 cfm, +4.6 % at 154 cfm, against B1"."""
    curve = difference_curve(found, pressure)
    ends = [
        f"{100 * curve.best[k]:+z.1f} % at "
        f"{units.from_si(float(curve.flow[k]), display.flow, Kind.FLOW):.0f} {display.flow}"
        for k in (0, -1)
    ]
    half = 50.0 * float(curve.high[-1] - curve.low[-1])
    return (
        f"{found.there} reads {ends[0]} and {ends[1]} against {found.here}, "
        f"plus or minus {half:.{decimals(half)}f} % for one head."
    )
