"""Time at lift from a cam table."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.cam import LiftTable, PistonDemand, Valve, time_at_lift
from portwright.errors import RangeError, ShapeError

ANGLE = np.radians(np.arange(-150.0, 151.0, 5.0))
# One side of the invented demo cam, 300 degrees and 11.5 mm, from the top down. [mm]
HALF = [
    *(11.500, 11.472, 11.390, 11.253, 11.064, 10.823, 10.533, 10.197, 9.817, 9.397, 8.941),
    *(8.452, 7.936, 7.397, 6.840, 6.270, 5.693, 5.114, 4.538, 3.971, 3.419, 2.888, 2.382),
    *(1.909, 1.473, 1.080, 0.736, 0.447, 0.221, 0.066, 0.000),
]
CAM = LiftTable(ANGLE, np.array([*HALF[:0:-1], *HALF]) * 1e-3)
LIFTS = np.arange(1.0, 12.0) * 1e-3


def test_shares_add_up() -> None:
    weights = time_at_lift(CAM, LIFTS)
    assert weights.weight.sum() + weights.seat == pytest.approx(1.0, rel=1e-12)
    # by hand: a flank passes 11 mm between its entries at 20 and 25 degrees; it is open for 300
    top = 20.0 + 5.0 * (11.064 - 11.0) / (11.064 - 10.823)
    assert weights.held == pytest.approx(2.0 * top / 300.0, rel=1e-12)


@pytest.mark.parametrize("demand", [None, PistonDemand(Valve.INTAKE, math.radians(108), 3.5)])
def test_mean_is_the_mean_over_time(demand: PistonDemand | None) -> None:
    area = 600e-6 * np.tanh(LIFTS / 6e-3)
    fine = np.linspace(ANGLE[0], ANGLE[-1], 300_001)
    height = np.interp(fine, CAM.crank_angle, CAM.lift)
    flow = np.interp(height, np.append(0.0, LIFTS), np.append(0.0, area))
    pace = np.ones(fine.size) if demand is None else demand.speed(fine)
    # Piston speed is taken as straight between entries 5 degrees apart or less: its curvature
    # over such a step is (5 deg)^2 / 8 = 0.1 %, and the end of the stroke falls inside one.
    limit = 1e-5 if demand is None else 1e-3
    expected = np.sum(pace * flow) / np.sum(pace)
    assert time_at_lift(CAM, LIFTS, demand).mean(area) == pytest.approx(expected, rel=limit)


def test_triangle_cam_spends_equal_time_everywhere() -> None:
    cam = LiftTable(np.array([0.0, 1.0, 3.0]), np.array([0.0, 4e-3, 0.0]))
    weights = time_at_lift(cam, np.array([1.0, 2.0, 3.0, 4.0]) * 1e-3)
    np.testing.assert_allclose(weights.weight, [0.25, 0.25, 0.25, 0.125], rtol=1e-12)
    assert weights.seat == pytest.approx(0.125)
    assert weights.held == 0.0


def test_time_on_the_seat_does_not_count() -> None:
    closed = LiftTable(np.array([-5.0, 0.0, 1.0, 3.0, 9.0]), np.array([0.0, 0.0, 4e-3, 0.0, 0.0]))
    weights = time_at_lift(closed, np.array([2e-3, 4e-3]))
    np.testing.assert_allclose([weights.seat, *weights.weight], [0.25, 0.5, 0.25], rtol=1e-12)


def test_piston_speed() -> None:
    demand = PistonDemand(Valve.INTAKE, 0.0, 3.5)
    angle = np.linspace(0.0, math.pi, 10001)
    speed = demand.speed(angle)
    # A full stroke is two crank radii; the trapezium rule on 10 000 steps is good to 1e-7.
    assert np.sum((speed[1:] + speed[:-1]) / 2) * (angle[1] - angle[0]) == pytest.approx(2.0)
    # Fastest at 70 to 80 degrees after top dead centre (common practice).
    assert 70.0 < math.degrees(angle[np.argmax(speed)]) < 80.0
    assert np.all(PistonDemand(Valve.EXHAUST, 0.0, 3.5).speed(angle[1:-1]) == 0.0)
    assert np.all(PistonDemand(Valve.EXHAUST, math.pi, 3.5).speed(angle[1:-1]) > 0.0)
    with pytest.raises(RangeError, match="longer than the crank"):
        PistonDemand(Valve.INTAKE, 0.0, 0.9).speed(angle)


def test_bad_tables_are_refused() -> None:
    three = np.array([0.0, 1.0, 2.0])
    with pytest.raises(ShapeError, match="equal length"):
        LiftTable(three, three[:2])
    with pytest.raises(RangeError, match="increase"):
        LiftTable(three[::-1], three)
    with pytest.raises(RangeError, match="zero or above"):
        LiftTable(three, np.array([0.0, -1e-3, 0.0]))
    with pytest.raises(RangeError, match="never opens"):
        LiftTable(three, np.zeros(3))
    with pytest.raises(RangeError, match="above zero and increase"):
        time_at_lift(CAM, np.array([0.0, 1e-3]))
    with pytest.raises(RangeError, match="right way"):
        # Exhaust motion far from where this valve opens.
        time_at_lift(
            LiftTable(np.array([0.5, 1.0, 1.5]), np.array([0.0, 1e-3, 0.0])),
            np.array([1e-3]),
            PistonDemand(Valve.EXHAUST, 0.0, 3.5),
        )
