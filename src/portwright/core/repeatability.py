"""How well a shop's bench repeats itself, and how that is learned from repeated sweeps."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Standard deviations of one sweep when the head is refitted and swept again.

    The error of one sweep is taken as ``common + lift_setting * dlnA/dL + reading``: one shift of
    the whole curve per refit, one lift-zero error per refit, one independent error per reading.

    Parameters
    ----------
    common : float
        Shift of a whole sweep, relative standard deviation. [-]
    lift_setting : float
        Lift-zero error of a whole sweep, standard deviation. [m]
    reading : float
        Independent error of each reading, relative standard deviation. [-]
    degrees_of_freedom : float
        How much data stands behind the three figures; small for a guess. [-]
    source : str
        Where the figures come from, shown to the user.
    """

    common: float
    lift_setting: float
    reading: float
    degrees_of_freedom: float
    source: str


# Common practice (from memory): 0.3-0.6 % for a new sweep, 0.5-1.0 % for a
# refit, 1-2 % at the lowest lift, where a lift error of 0.015 mm is 1.5 % of the flow.
SHOP_DEFAULT = Repeatability(
    common=0.005,
    lift_setting=15e-6,
    reading=0.003,
    degrees_of_freedom=6.0,
    source="common practice for a well-run shop (from memory); run a repeatability study",
)
