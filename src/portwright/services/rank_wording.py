"""Where a head stands, in words a customer understands."""

from __future__ import annotations

from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.ranking import Standing
from portwright.services.display import Display
from portwright.services.rank import Place, Ranking
from portwright.services.rank_spots import TOP, Measure

_FEW = 5  # members below which a share says next to nothing
_FEWEST = 3  # members below which it says nothing at all


def value_text(measure: Measure, value: float, pressure: float, display: Display) -> str:
    """The value ranked by, with its unit.

    Parameters
    ----------
    value : float
        As in :class:`~portwright.services.rank.Place`.
    pressure : float
        Test pressure at which flow is shown. [Pa]
    """
    velocity = float(jet_velocity(REFERENCE_DENSITY, pressure))
    if measure is Measure.COEFFICIENT:
        return f"{value:.3f}"
    if measure is Measure.FLOW:
        return f"{display.flow_text(value * velocity)} {display.flow}"
    return f"{display.per_valve_area_text(value * velocity)} {display.per_valve_area} of valve"


def share_text(found: Standing) -> str:
    """Share of the class below, with its interval: "better than about 85 % (60 to 97 %)"."""
    low, high = 100.0 * found.low, 100.0 * found.high
    return f"better than about {100.0 * found.share_below:.0f} % ({low:.0f} to {high:.0f} %)"


def share_cells(found: Standing | None) -> tuple[str, str, str, str]:
    """Share below, its interval, heads of the class and how many reached it, for a table."""
    if found is None:
        return "–", "–", "0", "–"
    count, reached = str(found.count), str(found.reached)
    if found.count < _FEWEST:
        return "too few", "–", count, reached
    interval = f"{100 * found.low:.0f} to {100 * found.high:.0f} %"
    return f"{100 * found.share_below:.0f} %", interval, count, reached


def reached_text(found: Standing) -> str:
    """How many of the class reached it: "2 of 13 reached this"."""
    if found.reached_low == found.reached_high == found.reached:
        text = f"{found.reached or 'none'} of {found.count} reached this"
        return f"only {text}" if 0 < found.reached <= 0.1 * found.count else text
    return (
        f"{found.reached} of {found.count} measured as high; "
        f"{found.reached_low} to {found.reached_high} may really have reached it"
    )


def place_sentence(ranking: Ranking, place: Place, pressure: float, display: Display) -> str:
    """One place in a sentence."""
    value = value_text(ranking.measure, place.value, pressure, display)
    where = f"At its {TOP}" if place.at == TOP else f"At {place.at}"
    if place.standing is None:
        return f"{where}: no head of this class was swept there."
    if place.standing.count < _FEW:
        heads = f"{place.standing.count} head{'s' if place.standing.count != 1 else ''}"
        return (
            f"{where} {value}; only {heads} of this class to compare with: "
            f"{reached_text(place.standing)}."
        )
    return (
        f"{where} {value}: {share_text(place.standing)} of its class; "
        f"{reached_text(place.standing)}."
    )


def headline(ranking: Ranking) -> Place | None:
    """The place with most heads to compare with, None where there is none at all."""
    known = [p for p in ranking.places if p.standing is not None]
    return max(known, key=lambda p: p.standing.count if p.standing else 0, default=None)
