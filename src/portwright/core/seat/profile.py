"""Half sections of a seat with any number of cuts and of a valve with back-cuts.

Radius grows outwards, height along the stem towards the chamber; the valve opens upwards.  The
height of a seat counts from the outer edge of its seat face, that of a valve from the outer edge
of its face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.chamber.checks import need_number, need_size
from portwright.core.constants import Array
from portwright.errors import RangeError

_STEEPEST = math.radians(89.0)
_STEM_REACH = 10.0  # the stem is drawn down to this many head diameters: past any lift
_FILLET_STEPS = 24  # chord error of a 15 mm fillet: 0.006 mm
_CHAMBER_REACH = 2.0  # the chamber is drawn flat to this many seat radii


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut of a seat or a valve.

    Parameters
    ----------
    angle : float
        From the plane of the valve head; 0 is flat. [rad]
    width : float
        Along the cut, as seen square to it. [m]
    """

    angle: float
    width: float

    def __post_init__(self) -> None:
        if not 0.0 <= need_number(self.angle, "angle of a cut") <= _STEEPEST:
            raise RangeError(
                f"A cut of {math.degrees(self.angle):.4g} degrees cannot be.",
                "It is measured from the plane of the valve head, 0 to 89 degrees.",
            )
        need_size(self.width, "width of a cut")

    @property
    def radial(self) -> float:
        """Width as seen along the stem. [m]"""
        return self.width * math.cos(self.angle)

    @property
    def depth(self) -> float:
        """Width along the stem. [m]"""
        return self.width * math.sin(self.angle)


@dataclass(frozen=True, slots=True, eq=False)
class HalfSection:
    """A half section as a line of points, and the name of each piece between them.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Radius and height, from the port towards the chamber. [m]
    names : tuple of str, length n - 1
    """

    points: Array
    names: tuple[str, ...]

    def raised(self, height: float) -> HalfSection:
        """The same, higher. [m]"""
        return HalfSection(self.points + np.array([0.0, height]), self.names)


@dataclass(frozen=True, slots=True)
class SeatProfile:
    """A seat with any number of cuts.

    Parameters
    ----------
    outer_diameter : float
        Outside of the seat face. [m]
    face : Cut
        The seat face itself.
    throat_diameter : float
        [m]
    below : tuple of Cut
        Cuts between seat face and throat, from the face inwards.
    above : tuple of Cut
        Cuts between seat face and chamber, from the face outwards.
    blend_angle : float
        Angle of the wall from the lowest cut to the throat where the cuts do not reach it. [rad]

    Raises
    ------
    RangeError
        Cuts that reach past the throat, or sizes that cannot be.
    """

    outer_diameter: float
    face: Cut
    throat_diameter: float
    below: tuple[Cut, ...] = ()
    above: tuple[Cut, ...] = ()
    blend_angle: float = math.radians(75.0)

    def __post_init__(self) -> None:
        need_size(self.outer_diameter, "outside diameter of the seat")
        need_size(self.throat_diameter, "throat")
        if not 0.0 <= need_number(self.blend_angle, "blend angle") <= _STEEPEST:
            raise RangeError("The wall down to the throat must lean 0 to 89 degrees.")
        if self.left_to_throat < -1e-9:
            end = self.throat_diameter + 2.0 * self.left_to_throat
            raise RangeError(
                f"The cuts reach in to {end * 1e3:.2f} mm, past the throat of "
                f"{self.throat_diameter * 1e3:.2f} mm.",
                "Make the throat that large, or the seat face or a cut below it narrower.",
            )

    @property
    def inner_diameter(self) -> float:
        """Inside of the seat face. [m]"""
        return self.outer_diameter - 2.0 * self.face.radial

    @property
    def left_to_throat(self) -> float:
        """From the end of the lowest cut to the throat wall, across the stem. [m]"""
        taken = self.face.radial + sum(cut.radial for cut in self.below)
        return 0.5 * (self.outer_diameter - self.throat_diameter) - taken

    @property
    def cut_diameter(self) -> float:
        """Outside of the outermost cut. [m]"""
        return self.outer_diameter + 2.0 * sum(cut.radial for cut in self.above)

    def outline(self) -> HalfSection:
        """Line from the throat over the cuts into a flat chamber roof."""
        inner = [(0.5 * self.outer_diameter, 0.0)]
        names = []
        for name, cut in (
            ("seat face", self.face),
            *((f"cut below {i}", c) for i, c in enumerate(self.below, 1)),
        ):
            r, z = inner[-1]
            inner.append((r - cut.radial, z - cut.depth))
            names.append(name)
        throat = 0.5 * self.throat_diameter
        r, z = inner[-1]
        if r - throat > 1e-9:
            inner.append((throat, z - (r - throat) * math.tan(self.blend_angle)))
            names.append("blend to the throat")
        inner.append((throat, inner[-1][1] - throat))
        names.append("throat")
        points, names = inner[::-1], names[::-1]
        for i, cut in enumerate(self.above, 1):
            r, z = points[-1]
            points.append((r + cut.radial, z + cut.depth))
            names.append(f"cut above {i}")
        points.append((_CHAMBER_REACH * points[-1][0], points[-1][1]))
        names.append("chamber")
        return HalfSection(np.array(points), tuple(names))


@dataclass(frozen=True, slots=True)
class ValveProfile:
    """A poppet valve.

    Parameters
    ----------
    head_diameter : float
        [m]
    face : Cut
        Valve face; its outside is the edge of the head.
    stem_diameter : float
        [m]
    margin : float
        Height of the edge above the face. [m]
    back_cuts : tuple of Cut
        From the face inwards.
    under_angle : float
        Underside of the head from its plane. [rad]
    fillet_radius : float
        Between underside and stem. [m]
    length : float
        Overall, edge of the face to tip; 0 where it plays no part. [m]

    Raises
    ------
    RangeError
        A fillet or cuts that do not fit on the head.
    """

    head_diameter: float
    face: Cut
    stem_diameter: float
    margin: float
    back_cuts: tuple[Cut, ...] = ()
    under_angle: float = math.radians(15.0)
    fillet_radius: float = 0.0
    length: float = 0.0

    def __post_init__(self) -> None:
        need_size(self.head_diameter, "valve head diameter")
        need_size(self.stem_diameter, "stem diameter")
        need_size(self.margin, "margin")
        if need_number(self.fillet_radius, "fillet radius") < 0.0:
            raise RangeError("A fillet radius is zero or more.")
        if need_number(self.length, "valve length") < 0.0:
            raise RangeError("A valve length is zero or more.")
        if not 0.0 <= need_number(self.under_angle, "angle under the head") <= _STEEPEST:
            raise RangeError("The underside of the head must lean 0 to 89 degrees.")
        room = self.underside_radius - 0.5 * self.stem_diameter
        if room <= 0.0:
            raise RangeError(
                f"Face and back-cuts of the {self.head_diameter * 1e3:.4g} mm valve leave no head "
                f"round its {self.stem_diameter * 1e3:.4g} mm stem.",
                "Check widths, head and stem.",
            )
        if self.fillet_radius * (1.0 - math.sin(self.under_angle)) > room:
            largest = room / (1.0 - math.sin(self.under_angle))
            raise RangeError(
                f"A fillet of {self.fillet_radius * 1e3:.4g} mm does not fit under the head.",
                f"At most {largest * 1e3:.4g} mm fits behind face and back-cuts.",
            )

    @property
    def underside_radius(self) -> float:
        """Where face and back-cuts end. [m]"""
        taken = self.face.radial + sum(cut.radial for cut in self.back_cuts)
        return 0.5 * self.head_diameter - taken

    def outline(self) -> HalfSection:
        """Line up the stem, under the head, over the face and the margin."""
        line = [(0.5 * self.head_diameter, 0.0)]
        names = []
        for name, cut in (
            ("valve face", self.face),
            *((f"back-cut {i}", c) for i, c in enumerate(self.back_cuts, 1)),
        ):
            r, z = line[-1]
            line.append((r - cut.radial, z - cut.depth))
            names.append(name)
        line, names = self._down_the_stem(line, names)
        points, names = line[::-1], names[::-1]
        points.append((0.5 * self.head_diameter, self.margin))
        return HalfSection(np.array(points), (*names, "margin"))

    def _down_the_stem(
        self, line: list[tuple[float, float]], names: list[str]
    ) -> tuple[list[tuple[float, float]], list[str]]:
        stem, u, radius = 0.5 * self.stem_diameter, self.under_angle, self.fillet_radius
        r, z = line[-1]
        centre = stem + radius, z - (r - stem - radius) * math.tan(u) - radius / math.cos(u)
        turns = np.linspace(0.5 * math.pi + u, math.pi, _FILLET_STEPS + 1 if radius > 0.0 else 1)
        for i, turn in enumerate(turns):
            point = (
                centre[0] + radius * math.cos(turn),
                centre[1] + radius * math.sin(turn),
            )
            if math.dist(point, line[-1]) > 1e-12:
                names.append("under the head" if i == 0 else "fillet")
                line.append(point)
        line[-1] = (stem, line[-1][1])
        bottom = min(-self.length, line[-1][1] - _STEM_REACH * self.head_diameter)
        line.append((stem, bottom))
        names.append("stem")
        return line, names
