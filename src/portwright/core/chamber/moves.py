"""What else moves with the deck and the seats: heights, pushrods, cam timing, valve to piston."""

from __future__ import annotations

import math
from dataclasses import dataclass

from portwright.core.chamber.checks import need_number, need_size
from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class HeightSplit:
    """Loss of short-side-to-deck height, told apart.

    Parameters
    ----------
    milled : float
        Part that milling took. [m]
    ground : float
        Part that grinding the short side took; negative where the apex stands higher than milling
        explains, which only weld or a wrong reading can do. [m]
    """

    milled: float
    ground: float


def height_split(before: float, after: float, milled: float) -> HeightSplit:
    """Tell milling and grinding apart in a short-side-to-deck height.

    Parameters
    ----------
    before, after : float
        Apex to deck, square to the deck. [m]
    milled : float
        Depth milled off the deck between the two readings. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    ``before - after = milled + ground``.
    """
    need_size(before, "short side to deck before")
    need_size(after, "short side to deck after")
    depth = _cut(milled)
    return HeightSplit(depth, before - after - depth)


def stem_rise(seat_sink: float, seat_to_margin: float = 0.0) -> float:
    """Rise of stem tip and installed height, milling plays no part in it. [m]

    Parameters
    ----------
    seat_sink : float
        Deeper seat, along the stem; negative where a new insert raised it. [m]
    seat_to_margin : float
        Taken off the valve face, as it lets the valve sit deeper, along the stem. [m]

    Notes
    -----
    Their sum.
    """
    return need_number(seat_sink, "seat sink") + need_number(seat_to_margin, "valve regrind")


def pushrod_change(
    milled: float,
    head_gasket_change: float = 0.0,
    inclination: float = 0.0,
    tip_rise: float = 0.0,
    rocker_ratio: float = 1.0,
) -> float:
    """Change of pushrod length that keeps the rocker where it was; negative is shorter. [m]

    Parameters
    ----------
    milled : float
        Depth milled off the deck. [m]
    head_gasket_change : float
        New thickness less the old. [m]
    inclination : float
        Between pushrod and bore axis. [rad]
    tip_rise : float
        Rise of the stem tip in the head. [m]
    rocker_ratio : float
        Valve lift over pushrod lift. [-]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    ``-(milled - gasket) cos q - rise / ratio`` for a rocker on a fixed pivot that is to keep its
    reach with the valve shut; small angles.  A guide only: the length is measured with the parts.
    """
    if abs(need_number(inclination, "pushrod inclination")) >= 0.5 * math.pi:
        raise RangeError("A pushrod does not lie across the bore.", "Give the angle to its axis.")
    down = _cut(milled) - need_number(head_gasket_change, "head gasket change")
    rise = need_number(tip_rise, "stem-tip rise") / need_size(rocker_ratio, "rocker ratio")
    return need_number(-down * math.cos(inclination) - rise, "pushrod change")


def cam_retard(
    milled: float, sprocket_radius: float, run_angle: float = 0.0, head_gasket_change: float = 0.0
) -> float:
    """Retard of an overhead cam by a deck cut, in cam angle. [rad]

    Parameters
    ----------
    milled : float
        Depth milled off the deck. [m]
    sprocket_radius : float
        Pitch radius of the cam's sprocket or pulley. [m]
    run_angle : float
        Between the pulled run of chain or belt and the bore axis. [rad]
    head_gasket_change : float
        New thickness less the old. [m]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    ``(milled - gasket) cos(phi) / r``: the pulled run gets shorter, its slack goes to the
    tensioner.  Twice as much in crank degrees.  Not for a cam driven by gears.
    """
    if abs(need_number(run_angle, "angle of the pulled run")) >= 0.5 * math.pi:
        raise RangeError("The pulled run does not lie across the bore.", "Give its angle.")
    down = _cut(milled) - need_number(head_gasket_change, "head gasket change")
    turn = down * math.cos(run_angle) / need_size(sprocket_radius, "sprocket radius")
    if abs(turn) > 0.5 * math.pi:
        raise RangeError(
            f"A cut of {milled * 1e3:.4g} mm on a sprocket of radius {sprocket_radius * 1e3:.4g} "
            "mm would turn the cam by more than a quarter.",
            "Check both sizes and their units.",
        )
    return turn


def valve_to_piston_change(
    milled: float, head_gasket_change: float = 0.0, seat_sink: float = 0.0, valve_lean: float = 0.0
) -> float:
    """Change of the space between valve and piston along the valve stem; negative is less. [m]

    Parameters
    ----------
    milled : float
        Depth milled off the deck. [m]
    head_gasket_change : float
        New thickness less the old. [m]
    seat_sink : float
        Deeper seat along the stem. [m]
    valve_lean : float
        Between stem and bore axis, the pocket lying square to the stem. [rad]

    Raises
    ------
    RangeError
        Numbers that cannot be.

    Notes
    -----
    ``-(milled - gasket) cos t + sink``.  An estimate that never replaces the check with clay or
    dial: timing, lift and pocket depth are not in it.
    """
    if abs(need_number(valve_lean, "valve lean")) >= 0.5 * math.pi:
        raise RangeError("A valve does not lie across the bore.", "Give the angle to its axis.")
    down = _cut(milled) - need_number(head_gasket_change, "head gasket change")
    return need_number(seat_sink, "seat sink") - down * math.cos(valve_lean)


def _cut(milled: float) -> float:
    if need_number(milled, "cut") < 0.0:
        raise RangeError("Milling cannot add metal.", "Give the depth taken off, zero or more.")
    return milled
