"""A 7.1 L eight with two smallest sections (common practice: direction only).

2.33 in2 must choke earlier than 2.62 in2, gain low down and lose on top. One cylinder stands for
eight with their own runners.
"""

from __future__ import annotations

import numpy as np

from portwright.core.gas1d.ducts import Duct, plain_pipe
from portwright.core.gas1d.engine import Engine, Mechanics
from portwright.core.gas1d.simulate import OperatingPoint, Settings, simulate
from portwright.core.gas1d.valves import area_against_crank, lift_from_events

SQUARE_INCH = 0.0254**2
LIFT = np.array([2.5, 5.0, 7.5, 10.0, 12.5, 15.0, 17.5]) * 1e-3
FLOW = np.array([270.0, 540.0, 780.0, 970.0, 1100.0, 1180.0, 1220.0]) * 1e-6


def _eight(section: float) -> Engine:
    """Runner and port whose narrow stretch has the given area; the valve is the same."""
    x = np.array([0.0, 0.10, 0.16, 0.24, 0.28, 0.31])
    area = np.array([1.22, 1.10, 1.0, 1.0, 1.06, 1.12]) * section
    intake_lift = lift_from_events(322.0, 602.0, 1.27e-3, 17.5e-3)
    exhaust_lift = lift_from_events(108.0, 392.0, 1.27e-3, 16.5e-3)
    return Engine(
        Mechanics(0.1054, 0.1017, 0.157, 13.0),
        (Duct("intake", x, area, area_factor=0.9),),
        (plain_pipe("exhaust", 0.85, 0.045, end_diameter=0.051, wall_temperature=600.0),),
        area_against_crank(intake_lift, LIFT, FLOW),
        area_against_crank(exhaust_lift, LIFT, 0.72 * FLOW),
    )


def _run(section: float, speed: float) -> OperatingPoint:
    settings = Settings(cell=12e-3, record_step=4.0)
    return simulate(_eight(section * SQUARE_INCH), speed, settings)


def test_smaller_section_gains_low_down_and_loses_on_top() -> None:
    low = [np.mean([_run(a, n).torque for n in (3000.0, 3500.0, 4000.0)]) for a in (2.33, 2.62)]
    high = [_run(a, 8500.0).torque for a in (2.33, 2.62)]
    assert low[0] > low[1]
    assert high[0] < 0.985 * high[1]


def test_smaller_section_chokes_earlier() -> None:
    """Faster gas in the narrow stretch at each speed, and a steeper fall of the charge."""
    speeds = (5500.0, 6500.0, 8500.0)
    points = {a: [_run(a, n) for n in speeds] for a in (2.33, 2.62)}
    mach = {a: np.array([p.most_mach["intake 1"].max() for p in points[a]]) for a in points}
    assert np.all(mach[2.33] > mach[2.62] + 0.05)
    assert mach[2.33][-1] > 1.0
    fall = {
        a: points[a][2].volumetric_efficiency / points[a][1].volumetric_efficiency for a in points
    }
    assert fall[2.33] < fall[2.62] - 0.02
