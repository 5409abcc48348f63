"""A valve spring between its pad and its retainer."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.core.chamber.checks import need_number, need_size
from portwright.errors import RangeError

_STIFFEST = 1e8  # no valve spring is stiffer [N/m]
_STRONGEST = 1e6  # [N]


@dataclass(frozen=True, slots=True)
class Spring:
    """A spring by two loads, or one load and its rate.

    Parameters
    ----------
    height : float
        Installed height its seat load belongs to. [m]
    load : float
        Force there. [N]
    rate : float
        Force over travel. [N/m]
    """

    height: float
    load: float
    rate: float

    def __post_init__(self) -> None:
        need_size(self.height, "installed height")
        if not 0.0 <= self.load <= _STRONGEST:
            raise RangeError("A spring load is zero or more.", "Check number and unit.")
        if not 0.0 < self.rate <= _STIFFEST:
            raise RangeError(
                "A spring gets stronger as it is pressed.",
                "The load at full lift must be above the seat load.",
            )

    @classmethod
    def from_loads(cls, height: float, seat_load: float, lift: float, open_load: float) -> Spring:
        """Spring from the loads at two heights.

        Parameters
        ----------
        height : float
            Height of the seat load. [m]
        seat_load, open_load : float
            [N]
        lift : float
            Travel between them. [m]

        Notes
        -----
        Definition: a straight line between the two.
        """
        need_size(lift, "lift of the open load")
        return cls(height, seat_load, (open_load - seat_load) / lift)

    def at(self, height: float) -> float:
        """Force at a height. [N]"""
        need_size(height, "spring height")
        return self.load + self.rate * (self.height - height)


def shim_for(measured: float, wanted: float) -> float:
    """Shims that bring an installed height to the one wanted; negative: the pad must be cut. [m]

    Parameters
    ----------
    measured : float
        Without shims. [m]
    wanted : float
        [m]

    Notes
    -----
    Their difference.
    """
    return need_size(measured, "installed height") - need_size(wanted, "installed height wanted")


def coil_bind_margin(height: float, lift: float, bind_height: float) -> float:
    """Travel left at full lift before the coils touch; negative: they touch. [m]

    Parameters
    ----------
    height : float
        Installed height. [m]
    lift : float
        Full lift. [m]
    bind_height : float
        Height with the coils touching. [m]

    Notes
    -----
    ``height - lift - bind height``.  An estimate: heights stack up, so it is measured as well.
    """
    need_size(height, "installed height")
    need_size(bind_height, "coil bind height")
    if need_number(lift, "lift") < 0.0:
        raise RangeError("Lift is zero or more.")
    return height - lift - bind_height
