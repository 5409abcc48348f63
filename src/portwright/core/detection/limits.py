"""Shop limits of the checks: every one can be edited, every one says where it came from."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.core.discharge import (
    SUSPICIOUS_ON_CURTAIN,
    SUSPICIOUS_ON_MINIMUM_AREA,
    SUSPICIOUS_ON_NET_THROAT,
)

# Jet speed at 28 inH2O in air of 1.204 kg/m3: 147.1 cubic feet per minute through each square
# inch of effective area (derived; 28 inH2O = 6974 Pa).
CFM28_PER_AREA = 147.1 / 0.0254**2
"""Flow at 28 inH2O per effective area. [cfm/m2]"""


def from_cfm28(flow: float) -> float:
    """Effective area that passes a flow given in cfm at 28 inH2O. [m2]"""
    return flow / CFM28_PER_AREA


def to_cfm28(area: float) -> float:
    """Flow in cfm at 28 inH2O through an effective area. [cfm]"""
    return area * CFM28_PER_AREA


@dataclass(frozen=True, slots=True)
class Limits:
    """Shop defaults of the checks, all editable.

    Parameters
    ----------
    false_alarm : float
        Chance that a sound sweep is called faulty by the comparison with its siblings, all causes
        together. [-] (our choice)
    cold_false_alarm : float
        Chance that a sound first sweep of a session is called off by a factor: larger, because
        a bench that is not warm yet is the likeliest reason for one. [-] (our choice)
    lift_offset : float
        Lift-zero offset worth naming. [m] (derived: 2 % of the flow at 2 mm lift)
    leak : float
        Leak worth naming, as effective area. [m2] (common practice: below 0.5 cfm is fine)
    recorded_leak : float
        Leak check that is too high by itself, as effective area. [m2] (from memory: 1 cfm)
    constant_factor : float
        Shift of a whole sweep worth naming. [-] (derived: of the size of a worthwhile cut)
    step : float
        Step between ranges worth naming. [-] (derived, as constant_factor)
    reading : float
        Deviation of a single reading worth naming. [-] (derived, as constant_factor)
    leak_spread : float
        Change of leak from one refit to the next, standard deviation as effective area.
        [m2] (from memory: 0.07 cfm)
    curtain_coefficient : float
        Discharge coefficient on curtain area that asks for a check. [-] (from memory)
    throat_coefficient : float
        Discharge coefficient on net throat area that asks for a check. [-] (from memory)
    minimum_coefficient : float
        Discharge coefficient on the true minimum area that cannot be. [-] (derived: the best
        usual coefficients on curtain area already mean about 1.1 at low lift, because the jet
        leaves the seat faces wider than their shortest distance)
    pressure_change : float
        Change of test pressure inside a sweep or between repeats, relative. [-] (from memory:
        a held pressure hunts by 0.1 to 0.3 in of 28)
    unsteady_scatter : float
        Scatter (half width) while reading that marks separated flow. [-] (from memory)
    falling : float
        Fall of flow with more lift worth naming. [-] (derived: above any last digit)
    flat : float
        Rise of flow per rise of lift, both relative, below which a curve is flat.
        [-] (from memory)
    late_rise : float
        Rise after a flat part worth naming, relative. [-] (derived, as constant_factor)
    essential_conditions : tuple of str
        Conditions without which two results cannot be compared at all; others missing are only
        noted. (common practice)
    """

    false_alarm: float = 0.001
    cold_false_alarm: float = 0.004
    lift_offset: float = 40e-6
    leak: float = from_cfm28(0.5)
    recorded_leak: float = from_cfm28(1.0)
    constant_factor: float = 0.008
    step: float = 0.008
    reading: float = 0.012
    leak_spread: float = from_cfm28(0.07)
    curtain_coefficient: float = SUSPICIOUS_ON_CURTAIN
    throat_coefficient: float = SUSPICIOUS_ON_NET_THROAT
    minimum_coefficient: float = SUSPICIOUS_ON_MINIMUM_AREA
    pressure_change: float = 0.02
    unsteady_scatter: float = 0.010
    falling: float = 0.005
    flat: float = 0.15
    late_rise: float = 0.010
    essential_conditions: tuple[str, ...] = ("test pressure", "bench", "lift reference")


DEFAULT_LIMITS = Limits()
