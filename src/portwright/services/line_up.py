"""How a manifold, pipe or gasket is laid on the head: by middles, or by holes both have."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from portwright.core.constants import Array
from portwright.core.line_up import Placement, by_two_points, turn_uncertainty
from portwright.core.outline import Outline
from portwright.core.trace.measure import COVERAGE_FACTOR
from portwright.errors import Finding, InputError, Severity, Where

_DOUBTED = 3.0  # standard uncertainties from which a difference is more than the photos explain
_TURNED_FAR = math.radians(20.0)


class LineUp(StrEnum):
    """What is laid on what."""

    MIDDLES = "middles"  # of the openings; the offsets and the turn come on top
    HOLES = "holes"  # two dowel or bolt holes marked on each photo


LAID = "way to lay them on one another"


@dataclass(frozen=True, slots=True, eq=False)
class TracedOpening:
    """An opening traced on a photo, seen from outside the head.

    Parameters
    ----------
    outline : Outline
        About its own middle. [m]
    holes : ndarray, shape (k, 2)
        Marked holes in the same system; two or none. [m]
    hole_error : float
        Standard uncertainty of a hole, in each direction. [m]
    scale_error : float
        Relative standard uncertainty of a length. [-]
    """

    outline: Outline
    holes: Array
    hole_error: float
    scale_error: float


@dataclass(frozen=True, slots=True)
class Laid:
    """A part laid on the head by its holes.

    Parameters
    ----------
    placement : Placement
    turn_interval : float
        Half the 95 % interval of the turn. [rad]
    apart, apart_head : float
        Distance between its holes, and between those of the head. [m]
    explained : float
        Difference of both that the photos explain. [m]
    """

    placement: Placement
    turn_interval: float
    apart: float
    apart_head: float
    explained: float


def laid_by_holes(parts: Mapping[str, TracedOpening]) -> dict[str, Laid]:
    """Lay runner and gasket on the head by the holes marked on their photos.

    Parameters
    ----------
    parts : mapping of str to TracedOpening
        Traced parts by name.  A gasket without holes lies by its middle.

    Raises
    ------
    InputError
        Head or runner are not traced, or have no holes.
    GeometryError
        Both holes on one spot.
    """
    for part in ("head", "runner"):
        if part not in parts or len(parts[part].holes) != 2:
            raise InputError(
                f"No two holes are marked on the photo of the {part}.",
                "Mark two dowel or bolt holes with the outline, or lay the middles on one another.",
            )
    head = parts["head"]
    return {
        part: _lay(traced, head)
        for part, traced in parts.items()
        if part != "head" and len(traced.holes) == 2
    }


def _lay(part: TracedOpening, head: TracedOpening) -> Laid:
    found = by_two_points(part.holes, head.holes)
    marked = math.sqrt(2.0) * math.hypot(part.hole_error, head.hole_error)
    scaled = math.hypot(part.scale_error * found.apart, head.scale_error * found.apart_there)
    turn = turn_uncertainty(part.hole_error, head.hole_error, found.apart)
    return Laid(
        found.placement,
        COVERAGE_FACTOR * turn,
        found.apart,
        found.apart_there,
        _DOUBTED * math.hypot(marked, scaled),
    )


def line_up_findings(laid: Mapping[str, Laid], port: str) -> list[Finding]:
    """What to ask about parts laid by their holes."""
    said = []
    for part, one in laid.items():
        apart = abs(one.apart - one.apart_head)
        if apart > one.explained:
            said.append(
                Finding(
                    "holes-apart",
                    Severity.WARNING,
                    f"The holes are {1e3 * one.apart_head:.1f} mm apart on the head and "
                    f"{1e3 * one.apart:.1f} mm on the {part}; the photos explain "
                    f"{1e3 * one.explained:.1f} mm.",
                    "Are they the same two holes? Check the scale of both photos.",
                    Where(port=port),
                    apart,
                )
            )
        if abs(one.placement.turn) > _TURNED_FAR:
            said.append(
                Finding(
                    "turned-far",
                    Severity.WARNING,
                    f"By its holes the {part} is turned by "
                    f"{abs(math.degrees(one.placement.turn)):.0f} degrees.",
                    "Was the same hole marked first on both photos, and is each one upright?",
                    Where(port=port),
                    abs(one.placement.turn),
                )
            )
    return said
