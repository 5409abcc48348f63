"""The bench curve comes out again when duct and valve are run at the bench's pressure."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from portwright.core.gas1d import ends as en
from portwright.core.gas1d.bench import (
    BenchCondition,
    bench_mass_flow,
    valve_only_area,
)
from portwright.core.gas1d.ducts import Duct, to_tube
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, build_network, fill_tube, march
from portwright.core.gas1d.vessels import surroundings
from portwright.errors import GeometryError

Array = NDArray[np.float64]
# Invented port of a 42 mm valve, smallest at the short side, and its curve (mm, mm2).
X = np.array([0.0, 25.0, 50.0, 80.0, 104.0, 120.0]) * 1e-3
AREA = np.array([1092.0, 975.0, 889.0, 960.0, 801.0, 968.0]) * 1e-6
PERIMETER = np.array([122.9, 116.2, 110.9, 115.3, 105.3, 115.7]) * 1e-3
LIFT = np.array([1.0, 3.0, 5.0, 7.0, 9.0, 11.0, 12.0]) * 1e-3
CURVE = np.array([79.0, 225.0, 347.0, 439.0, 510.0, 553.0, 556.0]) * 1e-6
CONDITION = BenchCondition()


def _port(name: str = "port") -> Duct:
    return Duct(name, X, AREA, PERIMETER, wall_temperature=293.15, heat_factor=0.0)


def _steady_flow(duct: Duct, valve: float, *, outward: bool) -> float:
    """Mass flow of the time-marching solver once it has settled."""
    gas = perfect_gas(1.4)
    tube = to_tube(duct, 5e-3)
    high, low = CONDITION.pressure, CONDITION.pressure - CONDITION.drop
    warm = CONDITION.temperature
    if outward:
        pair = (End(en.VALVE, 0, opening=valve), End(en.OPEN, 1))
    else:
        pair = (End(en.OPEN, 0), End(en.VALVE, 1, opening=valve))
    network = build_network(gas, (tube,), (pair,), vessels=2)
    surroundings(network, 0, pressure=high, temperature=warm)
    surroundings(network, 1, pressure=low, temperature=warm)
    p = np.full(tube.cells, low if outward else high)
    fill_tube(network, 0, p / (287.05 * warm), np.zeros(1), p, 0.0)
    march(network, 0.06, 0.9)
    flow = network.faces[:, 0] * (1.0, -1.0) * (tube.area[0], tube.area[-1])
    # Settled: what goes in comes out.
    assert flow[0] == pytest.approx(flow[1], rel=1e-4)
    return float(flow[0])


@pytest.mark.parametrize("outward", [False, True], ids=["intake", "exhaust"])
def test_bench_curve_is_reproduced_at_every_lift(outward: bool) -> None:
    duct = _port()
    valves = valve_only_area(duct, CURVE, CONDITION, outward=outward)
    for valve, area in zip(valves, CURVE, strict=True):
        wanted = bench_mass_flow(float(area), CONDITION)
        # Asked for: 0.5 % at every lift.
        assert _steady_flow(duct, float(valve), outward=outward) == pytest.approx(wanted, rel=5e-3)


def test_counting_the_port_twice_would_show() -> None:
    wanted = bench_mass_flow(float(CURVE[-1]), CONDITION)
    raw = _steady_flow(_port(), float(CURVE[-1]), outward=False)
    assert raw < 0.97 * wanted


def test_a_duct_too_small_for_its_flow_is_refused() -> None:
    small = Duct("port", X, AREA * 0.3)
    with pytest.raises(GeometryError, match=r"too small|more than the test drop"):
        valve_only_area(small, CURVE[-1:], CONDITION)
