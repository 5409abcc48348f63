"""Line-up of head and manifold on a V engine when the head comes down.

Seen along the crank, on the bank to the right: ``x`` points away from the valley, ``y`` up.  The
bore axis leans outwards by the half V angle ``a``.  The intake face leans outwards at its top by
the tilt ``p``, so that it looks up into the valley; a negative tilt leans inwards.

::

    bore axis, up          n = ( sin a, cos a)
    along the face, up     u = ( sin p, cos p)
    out of the face        f = (-cos p, sin p)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from portwright.core.chamber.checks import need_number
from portwright.errors import RangeError

_STEEPEST = math.radians(85.0)  # beyond it the face is a roof, and the drop grows without limit


@dataclass(frozen=True, slots=True)
class VFace:
    """Angles of one bank.

    Parameters
    ----------
    half_angle : float
        Half the V angle, the lean of the bore axis from vertical. [rad]
    face_tilt : float
        Tilt of the intake face from vertical, positive where it looks up. [rad]

    Raises
    ------
    RangeError
        Angles that cannot be.
    """

    half_angle: float
    face_tilt: float

    def __post_init__(self) -> None:
        if not 0.0 <= need_number(self.half_angle, "half V angle") <= 0.5 * math.pi:
            raise RangeError(
                f"A half V angle of {math.degrees(self.half_angle):.4g} degrees cannot be.",
                "Give half the angle between the banks, 0 to 90 degrees.",
            )
        if abs(need_number(self.face_tilt, "face tilt")) > _STEEPEST:
            raise RangeError(
                f"A face tilt of {math.degrees(self.face_tilt):.4g} degrees from vertical cannot "
                "be corrected by dropping the manifold.",
                "Measure from vertical with the engine upright: within 85 degrees either way.",
            )

    @classmethod
    def from_deck(cls, half_angle: float, face_to_deck: float) -> VFace:
        """Angles where the face was measured against the deck, ``p = a + 90 deg - face``.

        Parameters
        ----------
        half_angle : float
            Half the V angle. [rad]
        face_to_deck : float
            Angle between intake face and deck, inside the metal of the head. [rad]
        """
        return cls(half_angle, half_angle + 0.5 * math.pi - face_to_deck)

    @property
    def face_to_deck(self) -> float:
        """Angle between intake face and deck. [rad]"""
        return self.half_angle + 0.5 * math.pi - self.face_tilt


@dataclass(frozen=True, slots=True)
class LineUp:
    """Where the intake face went, and what puts it right.

    Parameters
    ----------
    closing : float
        The gap to the manifold closes by this where nothing is done; negative opens it. [m]
    port_drop : float
        The head's ports sit lower than the manifold's by this along the face, where nothing is
        done; negative higher. [m]
    face_cut : float
        To take off the intake face, square to it; negative is metal missing. [m]
    manifold_drop : float
        How far the manifold must come down, the cut of its end rails; negative rises. [m]
    face_tilt : float
        Tilt of the manifold's face. [rad]
    """

    closing: float
    port_drop: float
    face_cut: float
    manifold_drop: float
    face_tilt: float

    def left_over(self, face_cut: float, manifold_drop: float) -> tuple[float, float]:
        """Gap and step left by a correction other than the full one. [m]

        Parameters
        ----------
        face_cut : float
            Taken off the face of the head, or of the manifold. [m]
        manifold_drop : float
            How far the manifold comes down. [m]

        Returns
        -------
        gap, step : float
            Gap left between the faces, negative where they meet too early; how much lower the
            head's ports sit along the face. [m]
        """
        cut, drop = need_number(face_cut, "face cut"), need_number(manifold_drop, "manifold drop")
        gap = cut - self.closing - drop * math.sin(self.face_tilt)
        return gap, self.port_drop - drop * math.cos(self.face_tilt)

    @property
    def riding_step(self) -> float | None:
        """Step where nothing is cut and the manifold settles on both faces; None where it cannot.

        A manifold between faces that look up rides up or settles until it touches them.  On
        vertical faces, or faces that look down, it cannot. [m]
        """
        if self.face_tilt <= math.radians(1.0):  # flatter than this nothing would slide
            return None
        rise = self.closing / math.sin(self.face_tilt)
        return self.port_drop + rise * math.cos(self.face_tilt)


def line_up_of_shift(
    shift: tuple[float, float], face_tilt: float, intake_gasket_change: float = 0.0
) -> LineUp:
    """Correction for any shift of the intake face seen along the crank.

    Parameters
    ----------
    shift : tuple of float
        Shift of the middle of the port on the face, outwards and up. [m]
    face_tilt : float
        Tilt of the manifold's face from vertical. [rad]
    intake_gasket_change : float
        New intake gasket thickness less the old. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    The manifold moves by ``(0, -Y)``.  Along the face ``Y cos p = -s.u``; across it ``s.f - C =
    -Y sin p - h``.
    """
    VFace(0.0, face_tilt)
    x, y = (need_number(v, "shift of the face") for v in shift)
    thicker = need_number(intake_gasket_change, "intake gasket change")
    sine, cosine = math.sin(face_tilt), math.cos(face_tilt)
    port_drop = -(x * sine + y * cosine)
    closing = y * sine - x * cosine + thicker
    drop = port_drop / cosine
    return LineUp(closing, port_drop, closing + drop * sine, drop, face_tilt)


def line_up(
    face: VFace,
    milled: float,
    head_gasket_change: float = 0.0,
    intake_gasket_change: float = 0.0,
) -> LineUp:
    """What milling the deck does to the intake face of a V engine.

    Parameters
    ----------
    face : VFace
        Angles of the bank.
    milled : float
        Depth milled off the deck. [m]
    head_gasket_change : float
        New head gasket thickness less the old; a thicker one is a cut of opposite sign. [m]
    intake_gasket_change : float
        New intake gasket thickness less the old. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be, or a negative depth.

    Notes
    -----
    With ``d = milled - head gasket change`` and ``h`` the intake gasket change::

        closing   = d sin(a - p) + h
        port drop = d cos(a - p)
        C         = d sin(a) / cos(p) + h
        Y         = d cos(a - p) / cos(p)

    Derived here; checked against a solid in the tests.
    """
    if need_number(milled, "cut") < 0.0:
        raise RangeError(
            "Milling cannot add metal.", "Give a thicker head gasket as a gasket change instead."
        )
    down = milled - need_number(head_gasket_change, "head gasket change")
    a = face.half_angle
    shift = (-down * math.sin(a), -down * math.cos(a))
    return line_up_of_shift(shift, face.face_tilt, intake_gasket_change)
