"""Every lift of the demo's bench curves comes back from the duct and valve that are simulated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.core.engine.case import BenchedPort, Doubt, filled_duct, valve_area
from portwright.core.gas1d import ends as en
from portwright.core.gas1d.bench import BenchCondition, bench_mass_flow
from portwright.core.gas1d.ducts import Duct, join, to_tube
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, build_network, fill_tube, march
from portwright.core.gas1d.vessels import surroundings
from portwright.services.compare import archive_pressure
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_case import TwoHeads, two_heads
from portwright.services.findings import check_job


@pytest.fixture(scope="module")
def heads(demo_archive: Archive) -> TwoHeads:
    checked = check_job(demo_archive, DEMO_JOB)
    return two_heads(checked, archive_pressure(demo_archive), "I1", "S0", "S7")


def steady_flow(duct: Duct, valve: float, condition: BenchCondition, *, outward: bool) -> float:
    """Mass flow of the engine's solver at bench conditions once it has settled. [kg/s]"""
    # walls as warm as the air: the bench has no hot metal
    tube = to_tube(replace(duct, heat_factor=0.0), 5e-3)
    high, low = condition.pressure, condition.pressure - condition.drop
    if outward:
        pair = (End(en.VALVE, 0, opening=valve), End(en.OPEN, 1))
    else:
        pair = (End(en.OPEN, 0), End(en.VALVE, 1, opening=valve))
    network = build_network(perfect_gas(1.4), (tube,), (pair,), vessels=2)
    surroundings(network, 0, pressure=high, temperature=condition.temperature)
    surroundings(network, 1, pressure=low, temperature=condition.temperature)
    start = np.full(tube.cells, low if outward else high)
    ratio = 287.05 * condition.temperature
    fill_tube(network, 0, start / ratio, np.zeros(1), start, 0.0)
    march(network, 0.1, 0.9)
    flow = network.faces[:, 0] * (1.0, -1.0) * (tube.area[0], tube.area[-1])
    assert flow[0] == pytest.approx(flow[1], rel=1e-3), "not settled"
    return float(flow[0])


@pytest.mark.parametrize("stage", ["before", "after"])
@pytest.mark.parametrize("side", ["intake", "exhaust"])
def test_the_bench_curve_comes_back_within_half_a_percent(
    heads: TwoHeads, stage: str, side: str
) -> None:
    port: BenchedPort = getattr(getattr(heads, stage).head, side)
    condition, outward = heads.case.condition, side == "exhaust"
    duct = filled_duct(port, Doubt())
    valves = valve_area(port, duct, 1.0, condition, outward=outward)
    tested = duct if port.stub is None else join("port and stub", duct, port.stub)
    assert (port.stub is not None) == outward
    for valve, area in zip(valves, port.area, strict=True):
        wanted = bench_mass_flow(float(area), condition)
        got = steady_flow(tested, float(valve), condition, outward=outward)
        # asked for: half a percent at every lift
        assert got == pytest.approx(wanted, rel=5e-3)
