"""Converging-diverging nozzle, with and without a shock.

Case: A = 1 + 2.2 (x - 1.5)^2 on 0 <= x <= 3, exit pressure 0.6784 of the total pressure (Anderson,
Computational Fluid Dynamics, chapter 7; case FROM MEMORY). Figures COMPUTED from the
isentropic and normal-shock relations, gamma 1.4. Table values: "Compressible flow tables k = 1.4"
(SEEN, textbook appendix) and Aeronautical Engineer's Data Book, table A4.2 (SEEN).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from portwright.core.gas1d import ends as en
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, Network, Tube, build_network, fill_tube, march
from portwright.core.gas1d.vessels import surroundings

Array = NDArray[np.float64]
GAMMA = 1.4
GAS = perfect_gas(GAMMA)
P0, T0 = 1e5, 300.0
SHOCK_X = 2.0993306
MACH_BEFORE, MACH_AFTER, EXIT_MACH, TOTAL_RATIO = 2.0700058, 0.5658895, 0.1430758, 0.6881710
# M, p/pt, A/A* as printed (SEEN)
PRINTED = [(0.10, 0.9930, 5.8218), (0.50, 0.8430, 1.3398), (0.60, 0.7840, 1.1882)]


def _area(x: Array) -> Array:
    return 1.0 + 2.2 * (x - 1.5) ** 2


def _area_ratio(mach: float) -> float:
    k = (GAMMA - 1.0) / 2.0
    power = (GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))
    return float(((1.0 + k * mach * mach) / (1.0 + k)) ** power / mach)


def _choked_flow(area: float) -> float:
    return float(area * P0 * np.sqrt(GAMMA / (287.05 * T0)) * (2.0 / (GAMMA + 1.0)) ** 3.0)


def _steady(cells: int, exit_pressure: float, time: float, half_length: float = 1.5) -> Network:
    x = np.linspace(1.5 - half_length, 1.5 + half_length, cells + 1)
    tube = Tube("nozzle", 2.0 * half_length, _area(x), np.zeros(cells))
    network = build_network(GAS, (tube,), ((End(en.OPEN, 0), End(en.OPEN, 1)),), vessels=2)
    surroundings(network, 0, pressure=P0, temperature=T0)
    surroundings(network, 1, pressure=exit_pressure, temperature=T0)
    p = np.linspace(P0, exit_pressure, cells)
    fill_tube(network, 0, p / (287.05 * T0), np.zeros(1), p, 0.0)
    march(network, time, 0.9)
    return network


def _inflow(network: Network) -> float:
    return float(network.faces[0, 0] * network.work[r.AREA + network.starts[0]])


@pytest.mark.published
@pytest.mark.parametrize(("mach", "pressure", "ratio"), PRINTED)
def test_isentropic_relations_of_this_file(mach: float, pressure: float, ratio: float) -> None:
    # Half a unit of the last printed digit.
    assert _area_ratio(mach) == pytest.approx(ratio, abs=5e-5)
    assert (1.0 + 0.2 * mach**2) ** -3.5 == pytest.approx(pressure, abs=5e-5)


@pytest.mark.published
def test_nozzle_with_shock() -> None:
    cells = 120
    network = _steady(cells, 0.6784 * P0, 0.4)
    u, p = network.part(r.VELOCITY, 0), network.part(r.PRESSURE, 0)
    rho = network.part(r.DENSITY, 0)
    x = network.tubes[0].centres
    mach = u * np.sqrt(rho / (GAMMA * p))
    # Asked for: 0.04 % at 80 cells was reached in development; second order.
    assert _inflow(network) == pytest.approx(_choked_flow(1.0), rel=3e-4)
    assert _inflow(_steady(60, 0.6784 * P0, 0.4)) == pytest.approx(_choked_flow(1.0), rel=1.2e-3)
    middle = float(np.interp(-1.0, -mach[x > 1.8], x[x > 1.8]))
    # The shock is captured within a cell; it trembles a little at a fixed exit pressure.
    assert middle == pytest.approx(SHOCK_X, abs=1.5 * 3.0 / cells)
    assert 0.97 * MACH_BEFORE < float(mach.max()) < 1.01 * MACH_BEFORE
    # Trembling of the shock moves the gas behind it by up to 1 % of its speed.
    assert float(mach[-1]) == pytest.approx(EXIT_MACH, rel=0.015)
    total = float(p[-1] * (1.0 + 0.2 * mach[-1] ** 2) ** 3.5 / P0)
    assert total == pytest.approx(TOTAL_RATIO, rel=2e-3)
    behind = (x > SHOCK_X + 0.08) & (x < SHOCK_X + 0.12)
    assert np.all(mach[behind] < MACH_AFTER)


@pytest.mark.published
@pytest.mark.parametrize(("throat", "ratio"), [(0.5, 1.33984375), (0.9, 1.00886287)])
def test_subsonic_nozzle(throat: float, ratio: float) -> None:
    """Throat Mach numbers of the printed table; 0.9 is nearly choked and the hard one."""
    end_area = float(_area(np.array([0.9]))[0])
    exit_mach = float(brentq(lambda m: _area_ratio(m) - ratio * end_area, 1e-3, 0.99 * throat))
    exit_pressure = P0 * (1.0 + 0.2 * exit_mach**2) ** -3.5
    exact = _choked_flow(1.0) / ratio
    errors = [
        abs(_inflow(_steady(cells, exit_pressure, 0.5, 0.6)) / exact - 1.0) for cells in (20, 40)
    ]
    # 20 and 40 cells are coarse; 0.01 % at 40 leaves five times what development showed.
    assert errors[1] < 1e-4
    assert errors[1] < errors[0] / 3.5
