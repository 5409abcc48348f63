"""Small changes to an engine, to see what each of them is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from portwright.core.curve import Array
from portwright.core.engine.case import Doubt, EngineCase, Head, build, filled_duct
from portwright.core.gas1d.ducts import Duct, join
from portwright.core.gas1d.engine import Engine
from portwright.core.gas1d.valves import ANGLES
from portwright.errors import RangeError

_THROAT_REACH = 0.14  # share of the port at its valve end that a wider throat reaches into


@dataclass(frozen=True, slots=True)
class Change:
    """What is different; the default changes nothing.

    Parameters
    ----------
    lift : float
        Added to full intake lift, the whole lobe in proportion. [m]
    throat : float
        Factor on the diameter of the intake throat. [-]
    section : float
        Factor on the area of the smallest intake section, fading to either side. [-]
    runner, primary : float
        Added to the length of runner or primary. [m]
    compression : float
        Added to the compression ratio. [-]
    advance : float
        Intake cam advanced by so many crank degrees. [deg]
    valve : float
        Factor on the diameter of the intake valve, the throat left as it is.  The valve keeps its
        coefficients at the same lift over diameter. [-]
    duration, exhaust_duration : float
        Added to the whole opening period of intake or exhaust, half on either side. [deg]
    exhaust_advance : float
        Exhaust cam advanced by so many crank degrees. [deg]
    """

    lift: float = 0.0
    throat: float = 1.0
    section: float = 1.0
    runner: float = 0.0
    primary: float = 0.0
    compression: float = 0.0
    advance: float = 0.0
    valve: float = 1.0
    duration: float = 0.0
    exhaust_duration: float = 0.0
    exhaust_advance: float = 0.0


def _longer(duct: Duct, by: float) -> Duct:
    """Same ends, further apart."""
    stretch = (duct.length + by) / duct.length
    return replace(duct, position=duct.position * stretch)


def _moved(lift: Array, added: float, duration: float, advance: float) -> Array:
    """Lift curve with more lift, held open longer, earlier."""
    most = float(lift.max())
    scaled = lift * ((most + added) / most)
    if duration != 0.0:
        use = ANGLES[scaled > 0.0]
        middle, open_for = 0.5 * (use[0] + use[-1]), use[-1] - use[0]
        if not 0.0 < open_for + duration < 500.0:
            raise RangeError(
                f"A cam open for {open_for:.0f} degrees cannot change by {duration:+z.0f}.",
                "Change the duration by less.",
            )
        stretch = (open_for + duration) / open_for
        scaled = np.interp(middle + (ANGLES - middle) / stretch, ANGLES, scaled)
    steps = round(advance / float(ANGLES[1] - ANGLES[0]))
    # the last entry repeats the first, a whole cycle later
    turned = np.roll(scaled[:-1], -steps)
    return np.append(turned, turned[0])


def _smooth(share: Array) -> Array:
    inside = np.clip(share, 0.0, 1.0)
    eased: Array = inside * inside * (3.0 - 2.0 * inside)
    return eased


def _opened(duct: Duct, change: Change) -> Duct:
    """Port with its throat or smallest section opened."""
    x, area = duct.position, duct.area
    start = (1.0 - _THROAT_REACH) * duct.length
    at_throat = _smooth((x - start) / (duct.length - start))
    k = int(np.argmin(area))
    reach = np.where(x < x[k], max(x[k], 1e-9), max(duct.length - x[k], 1e-9)) * 0.5
    at_smallest = _smooth(1.0 - np.abs(x - x[k]) / reach)
    grown = area * (1.0 + (change.throat**2 - 1.0) * at_throat)
    return replace(duct, area=grown * (1.0 + (change.section - 1.0) * at_smallest))


def build_changed(
    case: EngineCase, head: Head, change: Change, doubt: Doubt | None = None
) -> Engine:
    """Put a head on the engine with a change to either.

    The valve-only area stays what the bench curve of the unchanged port says: a wider section
    changes the duct, not the valve.

    Parameters
    ----------
    case : EngineCase
    head : Head
    change : Change
    doubt : Doubt, optional

    Returns
    -------
    Engine

    Raises
    ------
    RangeError
        A cam that would be open too long or not at all.
    """
    doubt = doubt or Doubt()
    m = case.mechanics
    changed = replace(
        case,
        mechanics=replace(m, compression=m.compression + change.compression),
        # the same lift over diameter: a valve s times as large stands s times as high
        intake_lift=_moved(case.intake_lift, change.lift, change.duration, change.advance)
        / change.valve,
        exhaust_lift=_moved(
            case.exhaust_lift, 0.0, change.exhaust_duration, change.exhaust_advance
        ),
        runner=_longer(case.runner, change.runner),
        primary=_longer(case.primary, change.primary),
    )
    engine = build(changed, head, doubt)
    if change.valve != 1.0:
        engine = replace(engine, intake_area=engine.intake_area * change.valve**2)
    if change.throat == 1.0 and change.section == 1.0:
        return engine
    port = _opened(filled_duct(head.intake, doubt), change)
    runner = replace(changed.runner, roughness=changed.runner.roughness * doubt.roughness)
    return replace(engine, intake=(join("intake", runner, port),))
