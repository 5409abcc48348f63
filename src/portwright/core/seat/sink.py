"""How deep a seat must sink for a new profile, and what its insert allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.chamber.checks import need_number, need_size
from portwright.core.constants import Array
from portwright.core.seat.gap import rest
from portwright.core.seat.profile import HalfSection, SeatProfile, ValveProfile
from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class Sink:
    """What a new profile costs in height.

    Parameters
    ----------
    seat : float
        The new seat's outer edge below the old one; negative where it comes higher. [m]
    valve : float
        The shut valve lower by this; tip and installed height grow by it. [m]
    decided_by : str
        Piece of the new profile that decides how deep.
    """

    seat: float
    valve: float
    decided_by: str


def sink_for(
    old: tuple[SeatProfile, ValveProfile],
    new: tuple[SeatProfile, ValveProfile],
    clean_up: float = 0.0,
    *,
    face_only: bool = False,
) -> Sink:
    """Find how deep the new cuts must go to lie wholly in the metal of the old seat.

    Parameters
    ----------
    old, new : tuple of SeatProfile and ValveProfile
        Seat and valve before and after.
    clean_up : float
        Metal taken off at the place that decides. [m]
    face_only : bool
        Only the seat face has to clean up; the other cuts may leave old metal showing.

    Raises
    ------
    RangeError
        A clean-up below zero, or a new seat face in the old throat.

    Notes
    -----
    Definition: the new line lowered until it is nowhere above the old one; a corner decides.
    """
    if need_number(clean_up, "clean-up") < 0.0:
        raise RangeError("A clean-up cut takes metal off.", "Give zero or more.")
    before, after = _surface(old[0].outline()), new[0].outline()
    wanted = _wanted(after, face_only=face_only)
    line = after.points[wanted[0] : wanted[-1] + 2]
    radii = np.unique(np.concatenate([before[:, 0], line[:, 0]]))
    radii = radii[(radii >= line[0, 0]) & (radii <= line[-1, 0])]
    if line[0, 0] < before[0, 0] - 1e-9:
        radii = radii[radii >= before[0, 0]]
        if radii.size == 0 or face_only:
            raise RangeError(
                f"The new seat reaches in to {2e3 * line[0, 0]:.2f} mm, inside the old throat of "
                f"{2e3 * before[0, 0]:.2f} mm.",
                "There is no metal there: a new insert is needed.",
            )
    above = np.interp(radii, line[:, 0], line[:, 1]) - np.interp(radii, *before.T)
    depth = float(above.max()) + clean_up
    at = int(np.argmax(above))
    piece = after.names[wanted[0] + _piece_at(line, float(radii[at]))]
    valve = rest(*old).height - (rest(*new).height - depth)
    return Sink(depth, valve, piece)


def _surface(outline: HalfSection) -> Array:
    return outline.points[1:]


def _wanted(outline: HalfSection, *, face_only: bool) -> list[int]:
    skip = {"throat", "chamber", "blend to the throat"}
    return [
        i for i, n in enumerate(outline.names) if (n == "seat face" if face_only else n not in skip)
    ]


def _piece_at(line: Array, radius: float) -> int:
    return int(np.clip(np.searchsorted(line[:, 0], radius, side="left") - 1, 0, len(line) - 2))


@dataclass(frozen=True, slots=True)
class Insert:
    """A pressed-in seat insert.

    Parameters
    ----------
    outer_diameter : float
        [m]
    height : float
        Top to bottom. [m]
    """

    outer_diameter: float
    height: float

    def __post_init__(self) -> None:
        need_size(self.outer_diameter, "outside diameter of the insert")
        need_size(self.height, "height of the insert")


@dataclass(frozen=True, slots=True)
class InsertRoom:
    """What a profile leaves of its insert; negative where it cuts through.

    Parameters
    ----------
    land : float
        From the outermost cut to the outside of the insert, across. [m]
    wall : float
        From throat to the outside of the insert, across. [m]
    below : float
        Insert below the lowest cut. [m]
    largest_throat : float
        Throat that leaves the wall asked for. [m]
    largest_seat : float
        Outside of the seat face that leaves the land asked for, cuts above it as they are. [m]
    """

    land: float
    wall: float
    below: float
    largest_throat: float
    largest_seat: float


def insert_room(
    insert: Insert, seat: SeatProfile, sink: float, least_wall: float, least_land: float
) -> InsertRoom:
    """Find what a profile leaves of its insert.

    Parameters
    ----------
    insert : Insert
        Its top level with the outermost cut before sinking.
    seat : SeatProfile
        New profile.
    sink : float
        New seat below the old one. [m]
    least_wall, least_land : float
        What should stay. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    Definition.
    """
    need_number(sink, "sink")
    need_number(least_wall, "least wall")
    need_number(least_land, "least land")
    points = seat.outline().points
    top = points[-1, 1]
    lowest = seat.face.depth + sum(c.depth for c in seat.below)
    above = seat.cut_diameter - seat.outer_diameter
    return InsertRoom(
        land=0.5 * (insert.outer_diameter - seat.cut_diameter),
        wall=0.5 * (insert.outer_diameter - seat.throat_diameter),
        below=insert.height - sink - lowest - float(top),
        largest_throat=insert.outer_diameter - 2.0 * least_wall,
        largest_seat=insert.outer_diameter - 2.0 * least_land - above,
    )
