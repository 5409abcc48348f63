"""Where to cut next: what opening a section can bring at most, and in which order to look."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from portwright.errors import RangeError


class Room(StrEnum):
    """Whether there is metal for a cut."""

    THERE = "metal there"
    UNKNOWN = "wall not measured"
    NONE = "no metal here"


@dataclass(frozen=True, slots=True)
class GainRange:
    """Relative change of effective area a cut can be expected to bring.

    Parameters
    ----------
    low, high : float
        Ends of the range. [-]
    """

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place where metal could go.

    Parameters
    ----------
    place : str
        Landmark.
    action : str
        What to do there, in words.
    why : tuple of str
        What speaks for it, most important first, each a sentence.
    room : Room
        Whether there is metal.
    cut : float or None
        Metal off one wall that the expectation counts with. [m]
    expected : GainRange or None
        None where no flow is known at this stage.
    caution : tuple of str
        What to watch, each a sentence.
    """

    place: str
    action: str
    why: tuple[str, ...]
    room: Room
    cut: float | None
    expected: GainRange | None
    caution: tuple[str, ...] = ()


def section_gain(effective_area: float, section_area: float, growth: float) -> GainRange:
    """Range of what a larger section can add to the effective area of the whole port.

    Parameters
    ----------
    effective_area : float
        Of the port, at the lift looked at. [m2]
    section_area : float
        Of the section before the cut. [m2]
    growth : float
        Area added over area before. [-]

    Returns
    -------
    GainRange
        From nothing to the case in which the section costs its whole dynamic pressure.

    Raises
    ------
    RangeError
        An effective area that does not fit through the section.

    Notes
    -----
    Losses in series, incompressible: ``1/A_eff^2 = rest + K/A^2``, K the share of its dynamic
    pressure a section costs, 0 to 1.  With ``s = K (A_eff/A)^2`` the gain is
    ``(1 - s (1 - 1/(1+g)^2))^(-1/2) - 1``.  Air that has separated and lies on again can gain
    more; a cut that makes it separate loses.  Definition.
    """
    share = (effective_area / section_area) ** 2
    if not 0.0 < share < 1.0:
        raise RangeError(
            f"A section of {section_area * 1e6:.0f} mm² cannot pass an effective area of "
            f"{effective_area * 1e6:.0f} mm².",
            "Check the section and the flow: one of them is wrong.",
        )
    if growth < 0.0:
        raise RangeError("A cut does not make a section smaller.")
    return GainRange(0.0, (1.0 - share * (1.0 - (1.0 + growth) ** -2)) ** -0.5 - 1.0)


_ROOM_ORDER = {Room.THERE: 0, Room.UNKNOWN: 1, Room.NONE: 2}


def ranked(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Candidates in the order to look at them.

    Parameters
    ----------
    candidates : iterable of Candidate
        In any order.

    Notes
    -----
    Places with metal first, then those where the wall is unknown, then those without; within each
    by what could be gained at most, then by how much speaks for them.  The order is all there is:
    no score stands behind it.
    """

    def order(candidate: Candidate) -> tuple[int, float, int]:
        gain = candidate.expected.high if candidate.expected else 0.0
        return _ROOM_ORDER[candidate.room], -gain, -len(candidate.why)

    return tuple(sorted(candidates, key=order))
