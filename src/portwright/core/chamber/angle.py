"""Angle milling: the deck cut deeper on one side, so that the head also turns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from portwright.core.chamber.checks import need_number, need_size
from portwright.core.chamber.vface import LineUp, VFace, line_up_of_shift
from portwright.errors import RangeError

_ROUNDINGS = 4.0  # by so many a depth may change on its way through a volume [ulp]
_MOST = math.radians(15.0)  # far beyond any head; larger is a typing error


class DeepSide(StrEnum):
    """Side of the deck that loses more metal."""

    INTAKE = "intake side"
    EXHAUST = "exhaust side"


@dataclass(frozen=True, slots=True)
class AngleCut:
    """A plane cut that slopes across the head.

    Parameters
    ----------
    angle : float
        Between the old deck and the new. [rad]
    deep_side : DeepSide
        Side that loses more.
    width : float
        Across the head, from the edge that loses least to the other. [m]
    edge_depth : float
        Depth at the edge that loses least. [m]

    Raises
    ------
    RangeError
        Sizes that cannot be.
    """

    angle: float
    deep_side: DeepSide
    width: float
    edge_depth: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 <= need_number(self.angle, "angle") <= _MOST:
            raise RangeError(
                f"An angle cut of {math.degrees(self.angle):.4g} degrees cannot be.",
                "Give 0 to 15 degrees and say which side is cut deeper.",
            )
        need_size(self.width, "width of the head")
        if need_number(self.edge_depth, "depth at the edge") < 0.0:
            raise RangeError("Milling cannot add metal.", "The shallow edge loses zero or more.")

    def depth_at(self, distance: float) -> float:
        """Depth at a distance from the shallow edge, square to the old deck. [m]

        Raises
        ------
        RangeError
            Beside the head.
        """
        if not 0.0 <= need_number(distance, "distance from the edge") <= self.width:
            raise RangeError(
                f"{distance * 1e3:.4g} mm from the shallow edge lies beside the head.",
                f"The head is {self.width * 1e3:.4g} mm wide.",
            )
        return self.edge_depth + distance * math.tan(self.angle)

    @property
    def extra_depth(self) -> float:
        """Depth at the deep edge beyond that of the shallow one, ``W tan t``. [m]"""
        return self.width * math.tan(self.angle)

    def volume(self, open_area: float, centroid: float) -> float:
        """Volume taken from a chamber, ``A`` times the depth at its centroid. [m3]

        Parameters
        ----------
        open_area : float
            Outline on the deck. [m2]
        centroid : float
            Distance of the outline's centroid from the shallow edge. [m]

        Notes
        -----
        Exact for walls square to the old deck; walls that slope need the solid.
        """
        return need_size(open_area, "open area") * self.depth_at(centroid)

    def moved(self, across: float, height: float) -> tuple[float, float]:
        """Where a point of the head goes once it sits on its new deck.

        Parameters
        ----------
        across : float
            From the shallow edge towards the deep one, along the old deck. [m]
        height : float
            Above the old deck. [m]

        Returns
        -------
        across, height : float
            From the same edge, along and above the deck of the block. [m]

        Notes
        -----
        A turn about the shallow edge of the new deck, then down by its depth.  The place of that
        edge along the block is taken as kept; dowels decide it in the shop.
        """
        sine, cosine = math.sin(self.angle), math.cos(self.angle)
        x, z = need_number(across, "place across"), need_number(height, "height") - self.edge_depth
        return x * cosine + z * sine, z * cosine - x * sine


def angle_for_volume(
    open_area: float, centroid: float, volume: float, edge_depth: float = 0.0
) -> float:
    """Angle that takes a volume from a chamber. [rad]

    Parameters
    ----------
    open_area : float
        Outline on the deck. [m2]
    centroid : float
        Distance of its centroid from the shallow edge. [m]
    volume : float
        Volume to take. [m3]
    edge_depth : float
        Depth at the shallow edge. [m]

    Raises
    ------
    RangeError
        The flat part of the cut alone takes more already, or the angle would be beyond reason.

    Notes
    -----
    ``tan t = (V / A - edge) / centroid``.
    """
    depth = need_number(volume, "volume") / need_size(open_area, "open area")
    more = depth - need_number(edge_depth, "depth at the edge")
    # a volume worked out from this very depth may miss it by the rounding of product and quotient
    if -_ROUNDINGS * math.ulp(edge_depth) <= more < 0.0:
        more = 0.0
    if more < 0.0:
        raise RangeError(
            f"A cut of {edge_depth * 1e3:.4g} mm at the edge takes more than "
            f"{volume * 1e6:.4g} cc already.",
            "Cut less at the shallow edge.",
        )
    angle = math.atan2(more, need_size(centroid, "distance of the chamber"))
    if angle > _MOST:
        raise RangeError(
            f"That would need an angle of {math.degrees(angle):.3g} degrees.",
            "Mill part of it flat, or aim for a larger chamber.",
        )
    return angle


@dataclass(frozen=True, slots=True)
class AngleLineUp:
    """What an angle cut does to the intake face.

    Parameters
    ----------
    line_up : LineUp
        At the middle of the port.
    face_turn : float
        Turn of the face against the manifold: positive leans it further outwards at its top. [rad]
    valve_turn : float
        Turn of the valves against the bore axis, tops towards the deep side. [rad]
    """

    line_up: LineUp
    face_turn: float
    valve_turn: float


def angle_line_up(
    face: VFace, cut: AngleCut, port_across: float, port_height: float
) -> AngleLineUp:
    """What angle milling does to the intake face of a V engine.

    Parameters
    ----------
    face : VFace
        Angles of the bank before the cut.
    cut : AngleCut
        The cut.
    port_across : float
        Middle of the port on the intake face, from the intake edge of the deck towards the exhaust
        side; usually near zero. [m]
    port_height : float
        The same above the old deck. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    The head turns about the shallow edge of the new deck.  The face then needs a wedge of
    ``face_turn`` as well as the cut at the middle of the port.
    """
    from_edge = port_across if cut.deep_side is DeepSide.EXHAUST else cut.width - port_across
    across, height = cut.moved(from_edge, port_height)
    towards_deep, up = across - from_edge, height - port_height
    outwards = towards_deep if cut.deep_side is DeepSide.EXHAUST else -towards_deep
    a = face.half_angle
    shift = (
        outwards * math.cos(a) + up * math.sin(a),
        up * math.cos(a) - outwards * math.sin(a),
    )
    turn = cut.angle if cut.deep_side is DeepSide.EXHAUST else -cut.angle
    return AngleLineUp(line_up_of_shift(shift, face.face_tilt), turn, cut.angle)
