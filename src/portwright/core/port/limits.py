"""What a port is held against: editable shop figures, each with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

_FOOT = 0.3048


@dataclass(frozen=True, slots=True)
class PortLimits:
    """Shop figures for ports.

    Velocities hold at ``test_pressure`` and go with its square root elsewhere.

    Parameters
    ----------
    test_pressure : float
        Test pressure the velocities below belong to. [Pa]
    metering_velocity : float
        Mean velocity above which the section does the metering. [m/s]
    local_velocity : float
        Local velocity that should not be passed, above all at the short side. [m/s]
    crowded, lazy : float
        Local over mean velocity. [-]
    map_agreement : float
        Difference of map and bench flow that is still usual. [-]
    section_error : float
        Relative standard uncertainty of a section from a mould slice or tracing. [-]
    mould_error : float
        Relative standard uncertainty all sections of one mould share. [-]
    opening_error, pinch_error, short_error, throat_error : float
        Standard uncertainty of a width or diameter there. [m]
    caliper_error : float
        Standard uncertainty of a size measured anywhere else in the port, guide and boss too. [m]
    corner_error : float
        Standard uncertainty of a corner radius. [m]
    volume_error : float
        Standard uncertainty of a burette volume. [m3]
    wall_limit : float
        Wall that must stay, where the sheet names none. [m]
    wall_error : float
        Standard uncertainty of an ultrasonic reading. [m]
    stop_after : int
        Cuts in a row within repeatability after which to stop. [-]
    """

    test_pressure: float = 28.0 * 249.08891
    metering_velocity: float = 320.0 * _FOOT
    local_velocity: float = 320.0 * _FOOT
    crowded: float = 1.25
    lazy: float = 0.6
    map_agreement: float = 0.08
    section_error: float = 0.01
    mould_error: float = 0.005
    opening_error: float = 0.2e-3
    pinch_error: float = 0.15e-3
    short_error: float = 0.3e-3
    throat_error: float = 0.04e-3
    caliper_error: float = 0.2e-3
    corner_error: float = 0.5e-3
    volume_error: float = 0.4e-6
    wall_limit: float = 2.5e-3
    wall_error: float = 0.2e-3
    stop_after: int = 3


LIMIT_TAGS = {
    "test_pressure": "common practice",
    "metering_velocity": "from memory: 320 ft/s at 28 inH2O",
    "local_velocity": "from memory: 320 to 350 ft/s at 28 inH2O",
    "crowded": "from memory",
    "lazy": "from memory",
    "map_agreement": "common practice: within 5 to 8 %",
    "section_error": "our own middle value",
    "mould_error": "from memory: stable moulding compounds shrink less than 0.5 %",
    "opening_error": "from memory",
    "pinch_error": "from memory",
    "short_error": "from memory: 0.2 to 0.4 mm",
    "throat_error": "from memory: 0.03 to 0.05 mm",
    "caliper_error": "from memory",
    "corner_error": "from memory",
    "volume_error": "from memory: 0.3 to 0.5 cc",
    "wall_limit": "from memory: 2.5 to 3 mm on wet walls",
    "wall_error": "from memory: 0.1 to 0.3 mm",
    "stop_after": "common practice",
}
"""Where each default comes from."""


@dataclass(frozen=True, slots=True)
class UsualRatio:
    """A ratio of sizes and its usual range on racing two-valve heads.

    Parameters
    ----------
    name : str
        What over what.
    low, high : float
        Usual range, from memory, a first question and no verdict. [-]
    """

    name: str
    low: float
    high: float


INTAKE_RATIOS = {
    "throat": UsualRatio("throat over valve diameter", 0.88, 0.91),
    "throat area": UsualRatio("net throat over valve area", 0.73, 0.80),
    "bowl": UsualRatio("bowl over throat area", 1.05, 1.15),
    "short side": UsualRatio("short side over net throat", 0.92, 1.02),
    "pinch": UsualRatio("pinch over net throat", 0.88, 1.00),
    "opening": UsualRatio("opening over smallest section", 1.05, 1.20),
}
"""Intake ports of racing two-valve heads, from memory."""

EXHAUST_RATIOS = {
    "throat": UsualRatio("throat over valve diameter", 0.86, 0.90),
    "bowl": UsualRatio("bowl over throat area", 1.05, 1.15),
    "opening": UsualRatio("opening over valve area", 1.00, 1.20),
}
"""Exhaust ports of racing two-valve heads, from memory."""
