from __future__ import annotations

import numpy as np
import pytest

from portwright.core import gasflow
from portwright.errors import RangeError


def test_choked_flow_does_not_feel_the_back_pressure() -> None:
    critical = 1e5 * float(gasflow.critical_pressure_ratio())
    pressures = np.array([0.0, 0.3 * critical, critical])
    flow = gasflow.isentropic_mass_flux(1e5, 300.0, pressures, 1.4, 287.0)
    # round-off of one power
    np.testing.assert_allclose(flow, flow[-1], rtol=1e-14)


def test_reversed_flow_is_refused() -> None:
    with pytest.raises(RangeError, match="between zero and the upstream"):
        gasflow.isentropic_mass_flux(1e5, 300.0, 1.01e5, 1.4, 287.0)
    with pytest.raises(RangeError, match="between zero and the upstream"):
        gasflow.mass_flow(1e-3, 1e5, 300.0, -1.0, gamma=1.4, gas_constant=287.0)


@pytest.mark.parametrize("drop", [-1.0, 101326.0])
def test_expansion_ratio_refuses_an_impossible_drop(drop: float) -> None:
    with pytest.raises(RangeError, match="absolute upstream pressure"):
        gasflow.expansion_ratio(drop, 101325.0)


def test_expansion_ratio_of_nothing_and_of_everything() -> None:
    assert gasflow.expansion_ratio(0.0, 1e5) == 1.0
    # into vacuum: choked flux p0 sqrt(gamma) (2/(gamma+1))^3 over sqrt(2) p0
    expected = np.sqrt(1.4 / 2) * (2 / 2.4) ** 3
    assert gasflow.expansion_ratio(1e5, 1e5) == pytest.approx(expected, rel=1e-14)


def test_no_expansion_ratio_without_a_drop() -> None:
    ratio = gasflow.expansion_ratio(np.array([np.nan, 1000.0]), 1e5)
    assert np.isnan(ratio[0])
    assert np.isfinite(ratio[1])


def test_no_drop_no_flow() -> None:
    assert gasflow.isentropic_mass_flux(1e5, 300.0, 1e5, 1.4, 287.0) == 0.0
    assert gasflow.jet_velocity(1.2, 0.0) == 0.0


def test_still_air_and_a_weak_shock_change_nothing() -> None:
    assert gasflow.pressure_ratio(0.0) == 1.0
    assert gasflow.shock_mach(1.0) == pytest.approx(1.0, rel=1e-15)
    assert gasflow.shock_pressure_ratio(1.0) == 1.0
    assert gasflow.shock_total_pressure_ratio(1.0) == pytest.approx(1.0, rel=1e-14)
