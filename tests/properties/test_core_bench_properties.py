from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.core.bench import (
    LeakTreatment,
    PressureLaw,
    effective_area,
    flow_from_area,
    isentropic_area,
    leak_corrected,
    square_root_error,
)
from portwright.core.gasflow import (
    area_ratio,
    expansion_ratio,
    incompressible_mass_flux,
    isentropic_mass_flux,
)
from portwright.core.orifice import (
    Taps,
    discharge_coefficient,
    expansibility,
    permanent_pressure_loss,
    pipe_orifice_mass_flow,
)

drops = st.floats(100.0, 15e3)
areas = st.floats(1e-6, 5e-3)
densities = st.floats(0.9, 1.4)
laws = st.sampled_from(PressureLaw)


@given(areas, drops, drops, densities, laws)
def test_flow_to_another_pressure_and_back(
    area: float, drop: float, other: float, density: float, law: PressureLaw
) -> None:
    away = flow_from_area(area, drop, other, density, law=law)
    back = flow_from_area(effective_area(away, other, density), other, drop, density, law=law)
    # round-off of a dozen operations
    assert effective_area(back, drop, density) == pytest.approx(area, rel=1e-12)


@given(areas, drops, drops)
def test_laws_differ_by_the_stated_error(area: float, drop: float, other: float) -> None:
    plain = flow_from_area(area, drop, other, law=PressureLaw.SQUARE_ROOT)
    gas = flow_from_area(area, drop, other, law=PressureLaw.COMPRESSIBLE)
    assert plain / gas - 1.0 == pytest.approx(square_root_error(drop, other), abs=1e-12)


@given(drops, drops)
def test_square_root_overstates_upwards_and_understates_downwards(
    drop: float, other: float
) -> None:
    error = square_root_error(drop, other)
    assert error >= 0.0 if other >= drop else error <= 0.0


@given(areas, drops, st.floats(1.001, 3.0))
def test_more_pressure_more_flow(area: float, drop: float, factor: float) -> None:
    for law in PressureLaw:
        low = flow_from_area(area, drop, drop, law=law)
        assert flow_from_area(area, drop, drop * factor, law=law) > low


@given(st.floats(1e-3, 0.3), drops, densities, st.floats(0.1, 10.0))
def test_effective_area_has_the_dimension_of_an_area(
    flow: float, drop: float, density: float, scale: float
) -> None:
    # lengths in another unit: flow by scale cubed, pressure by 1/scale, density by 1/scale cubed
    here = effective_area(flow, drop, density)
    there = effective_area(flow * scale**3, drop / scale, density / scale**3)
    assert there == pytest.approx(here * scale**2, rel=1e-12)


@given(st.floats(0.0, 1.0), st.floats(80e3, 120e3), st.floats(1.2, 1.67))
def test_expansion_ratio_is_between_zero_and_one_and_falls(
    fraction: float, upstream: float, gamma: float
) -> None:
    ratio = expansion_ratio(fraction * upstream, upstream, gamma)
    assert 0.0 < ratio <= 1.0
    assert expansion_ratio(0.99 * fraction * upstream, upstream, gamma) >= ratio


@given(st.floats(1e-7, 0.99), st.floats(80e3, 120e3), st.floats(1.2, 1.67))
def test_expansion_ratio_is_what_its_definition_says(
    fraction: float, upstream: float, gamma: float
) -> None:
    gas, temperature = 287.0, 293.15
    drop = fraction * upstream
    flux = isentropic_mass_flux(upstream, temperature, upstream - drop, gamma, gas)
    plain = incompressible_mass_flux(upstream / (gas * temperature), drop)
    # p0 - dp loses digits for a small drop: one bit of p0 is 1e-16 / fraction of it
    assert expansion_ratio(drop, upstream, gamma) == pytest.approx(
        flux / plain, rel=1e-12 + 1e-15 / fraction
    )


def test_expansion_ratio_is_continuous_where_its_series_ends_and_where_it_chokes() -> None:
    for edge in (1e-6, 1.0 - (2 / 2.4) ** 3.5):
        below, above = expansion_ratio(np.array([edge * (1 - 1e-9), edge * (1 + 1e-9)]), 1.0)
        # slope there is at most 1, times a step of 2e-9
        assert abs(above - below) < 3e-9


@given(st.floats(0.05, 0.999))
def test_area_ratio_has_its_smallest_value_at_mach_one(mach: float) -> None:
    assert area_ratio(mach) > 1.0
    assert area_ratio(1.0 / mach) > 1.0


@given(areas, drops)
def test_compressible_nozzle_is_larger_than_the_stored_area(area: float, drop: float) -> None:
    assert isentropic_area(area, drop) > area


@given(areas, st.floats(0.0, 1e-4))
def test_leak_taken_off_and_put_back(area: float, leak: float) -> None:
    left = leak_corrected(area + leak, leak, LeakTreatment.SUBTRACT)
    # one subtraction: a bit of the larger number
    assert left == pytest.approx(area, abs=1e-15 * (area + leak) * 4)


pipes = st.floats(0.05, 0.5)
betas = st.floats(0.1, 0.75)
taps = st.sampled_from(Taps)


@given(pipes, betas, st.floats(1e4, 1e7), taps)
def test_orifice_coefficient_stays_near_six_tenths(
    pipe: float, beta: float, reynolds: float, tap: Taps
) -> None:
    # whole range of the standard: known to lie between 0.57 and 0.68
    assert 0.57 < discharge_coefficient(pipe, beta * pipe, reynolds, tap) < 0.68


def test_orifice_coefficient_is_continuous_at_the_small_pipe_limit() -> None:
    below, above = discharge_coefficient(
        np.array([0.07112 * (1 - 1e-12), 0.07112]), 0.03, 1e5, Taps.CORNER
    )
    assert abs(above - below) < 1e-10


@given(pipes, betas, drops, st.floats(1.01, 2.0), taps)
def test_orifice_flow_grows_with_drop(
    pipe: float, beta: float, drop: float, factor: float, tap: Taps
) -> None:
    low, high = pipe_orifice_mass_flow(
        pipe,
        beta * pipe,
        np.array([drop, drop * factor]),
        upstream_pressure=101325.0,
        upstream_density=1.2,
        viscosity=1.82e-5,
        taps=tap,
    )
    assert 0.0 < low < high


@given(betas, st.floats(0.57, 0.68), drops)
def test_permanent_loss_is_part_of_the_drop(beta: float, coefficient: float, drop: float) -> None:
    assert 0.0 < permanent_pressure_loss(beta, coefficient, drop) < drop


@given(st.floats(0.0, 0.75), drops)
def test_expansibility_is_at_most_one(beta: float, drop: float) -> None:
    assert 0.9 < expansibility(beta, drop, 101325.0) < 1.0
