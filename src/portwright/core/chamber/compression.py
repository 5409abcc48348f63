"""Compression ratio from every volume at top dead centre, both ways."""

from __future__ import annotations

import math
from dataclasses import dataclass

from portwright.core.chamber.checks import need_number, need_size
from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class Clearance:
    """Volumes above the piston at top dead centre.

    Parameters
    ----------
    chamber : float
        Chamber in the head, valves and plug in. [m3]
    gasket : float
        Hole of the head gasket at its compressed thickness. [m3]
    deck : float
        Between block deck and the flat of the piston; negative where the piston stands proud. [m3]
    crown : float
        What the crown adds: positive for a dish and valve pockets, negative for a dome. [m3]
    sink : float
        Valve sink since the chamber was measured; negative where valves were raised. [m3]
    ring_land : float
        Space round the piston above its top ring. [m3]

    Raises
    ------
    RangeError
        A number that cannot be, or a sum that leaves no space.
    """

    chamber: float
    gasket: float = 0.0
    deck: float = 0.0
    crown: float = 0.0
    sink: float = 0.0
    ring_land: float = 0.0

    def __post_init__(self) -> None:
        need_size(self.chamber, "chamber volume")
        for name in ("gasket", "deck", "crown", "sink", "ring_land"):
            need_number(getattr(self, name), f"{name.replace('_', ' ')} volume")
        if min(self.gasket, self.ring_land) < 0.0:
            raise RangeError(
                "Gasket and ring-land volume cannot be negative.", "Leave out what is not there."
            )
        if self.total <= 0.0:
            raise RangeError(
                f"The volumes add up to {self.total * 1e6:.4g} cc, which leaves no space.",
                "Check the signs: a dome is negative, a dish positive.",
            )

    @property
    def rest(self) -> float:
        """Everything but the chamber. [m3]"""
        return self.gasket + self.deck + self.crown + self.sink + self.ring_land

    @property
    def total(self) -> float:
        """Clearance volume. [m3]"""
        return self.chamber + self.rest


def cylinder_volume(diameter: float, height: float) -> float:
    """Volume of a round slice, ``pi/4 D^2 h``. [m3]

    Parameters
    ----------
    diameter : float
        Diameter of bore, gasket hole or valve head. [m]
    height : float
        Stroke, gasket thickness, deck clearance or valve sink; may be negative. [m]

    Raises
    ------
    RangeError
        A size that cannot be.

    Notes
    -----
    Definition.
    """
    size = need_size(diameter, "diameter")
    return 0.25 * math.pi * size**2 * need_number(height, "height")


def ring_land_volume(bore: float, piston_diameter: float, height: float) -> float:
    """Volume round the piston above the top ring, ``pi/4 (B^2 - Dp^2) h``. [m3]

    Parameters
    ----------
    bore : float
        Cylinder bore. [m]
    piston_diameter : float
        Diameter of the top land. [m]
    height : float
        Top of the piston to the top ring. [m]

    Raises
    ------
    RangeError
        A piston larger than the bore, or a size that cannot be.

    Notes
    -----
    Definition.
    """
    if need_size(piston_diameter, "piston diameter") > need_size(bore, "bore"):
        raise RangeError("The piston is larger than the bore.", "Check both diameters.")
    if need_number(height, "land height") < 0.0:
        raise RangeError("The land height cannot be negative.", "Measure from the crown down.")
    return 0.25 * math.pi * (bore - piston_diameter) * (bore + piston_diameter) * height


def compression_ratio(swept: float, clearance: float) -> float:
    """Compression ratio, ``(Vs + Vc) / Vc``. [-]

    Parameters
    ----------
    swept : float
        Swept volume of one cylinder. [m3]
    clearance : float
        Volume above the piston at top dead centre. [m3]

    Raises
    ------
    RangeError
        Volumes that cannot be.

    Notes
    -----
    Definition.
    """
    swept, clearance = need_size(swept, "swept volume"), need_size(clearance, "clearance volume")
    return need_number((swept + clearance) / clearance, "compression ratio")


def clearance_for(swept: float, ratio: float) -> float:
    """Clearance volume that gives a ratio, ``Vs / (CR - 1)``. [m3]

    Parameters
    ----------
    swept : float
        Swept volume of one cylinder. [m3]
    ratio : float
        Compression ratio wanted. [-]

    Raises
    ------
    RangeError
        A ratio of 1 or less.

    Notes
    -----
    Definition turned round.
    """
    if need_number(ratio, "compression ratio") <= 1.0:
        raise RangeError(
            f"A compression ratio of {ratio:.4g} cannot be.", "It is larger than 1; 8 to 14 usual."
        )
    return need_number(need_size(swept, "swept volume") / (ratio - 1.0), "clearance volume")


def chamber_for(swept: float, ratio: float, rest: float) -> float:
    """Chamber volume that gives a ratio with everything else as it is. [m3]

    Parameters
    ----------
    swept : float
        Swept volume of one cylinder. [m3]
    ratio : float
        Compression ratio wanted. [-]
    rest : float
        :attr:`Clearance.rest`. [m3]

    Raises
    ------
    RangeError
        The other volumes alone are already too large for that ratio.

    Notes
    -----
    ``Vch = Vs / (CR - 1) - rest``.
    """
    chamber = clearance_for(swept, ratio) - need_number(rest, "other volumes")
    if chamber <= 0.0:
        raise RangeError(
            f"A ratio of {ratio:.4g} leaves nothing for the chamber: gasket, deck and crown alone "
            f"are {rest * 1e6:.4g} cc.",
            "Aim lower, or take a thinner gasket, less deck clearance or a domed piston.",
        )
    return chamber


def ratio_change(swept: float, clearance: float, added: float) -> float:
    """Change of the ratio when volume is added, as deshrouding does; negative is a loss. [-]

    Parameters
    ----------
    swept : float
        Swept volume of one cylinder. [m3]
    clearance : float
        Clearance volume before. [m3]
    added : float
        Volume opened, or negative where it was taken away. [m3]

    Raises
    ------
    RangeError
        Volumes that cannot be.

    Notes
    -----
    Difference of two ratios, not the tangent: ``-Vs added / (Vc (Vc + added))``.
    """
    after = need_size(clearance, "clearance volume") + need_number(added, "volume added")
    need_size(after, "clearance volume")
    change = -need_size(swept, "swept volume") * added / clearance / after
    return need_number(change, "change of ratio")
