"""First-principles answers against arithmetic by hand and the trade's own examples."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.curve import Array
from portwright.core.engine.breathing import (
    mach_index,
    mean_inlet_mach,
    open_period,
    speed_at_mach,
)
from portwright.core.engine.lift_use import lift_use
from portwright.core.engine.ram import inertance_length, ram_frequency, tuned_speed
from portwright.core.engine.section_share import least_filled_share, series_fit
from portwright.core.engine.velocities import (
    mean_velocity,
    peak_over_mean,
    smallest_section,
    speed_at_velocity,
)
from portwright.core.gas1d.ducts import Duct, end_correction, plain_pipe
from portwright.core.gas1d.valves import ANGLES, lift_from_table
from portwright.errors import RangeError

SOUND = 343.34


def box_lobe(lift: float = 0.01, start: float = 360.0, end: float = 600.0) -> Array:
    """A valve that is fully open between two angles, so that integrals are plain products."""
    return np.where((start <= ANGLES) & (end > ANGLES), lift, 0.0)


def test_mean_velocity_of_the_demo_engine_at_7000() -> None:
    # trade example: 90 x 75 mm at 7000 rpm through 995 mm2 is 112 m/s
    assert float(mean_velocity(995e-6, 0.09, 0.075, 7000.0)) == pytest.approx(112.0, abs=0.5)


def test_section_and_speed_for_a_limit_undo_each_other() -> None:
    area = float(smallest_section(0.09, 0.075, 7000.0, 112.0))
    assert float(mean_velocity(area, 0.09, 0.075, 7000.0)) == pytest.approx(112.0, rel=1e-12)
    assert speed_at_velocity(area, 0.09, 0.075, 112.0) == pytest.approx(7000.0, rel=1e-12)
    with pytest.raises(RangeError):
        smallest_section(0.09, 0.075, 7000.0, 0.0)


def test_peak_over_mean_piston_speed() -> None:
    # bore and stroke 86, rod 145.5 mm: 1.63839173 (computed independently)
    assert peak_over_mean(0.086, 0.1455) == pytest.approx(1.63839173, abs=1e-7)


def test_mach_number_and_index_by_hand() -> None:
    lift, area = np.array([0.005, 0.01, 0.012]), np.array([2e-4, 4e-4, 4e-4])
    period = open_period(box_lobe(), lift, area)
    # open for 240 degrees at 400 mm2; quarter-degree steps, so exact
    assert period.angle == pytest.approx(np.radians(240.0), rel=1e-12)
    assert period.mean_area == pytest.approx(4e-4, rel=1e-12)
    seconds = 240.0 / 360.0 / (6000.0 / 60.0)
    swept = 500e-6
    by_hand = swept / (SOUND * 4e-4 * seconds)
    assert float(mean_inlet_mach(period, swept, SOUND, 6000.0)) == pytest.approx(by_hand, rel=1e-12)
    half = mean_inlet_mach(period, swept, SOUND, 6000.0, 0.5)
    assert float(half) == pytest.approx(0.5 * by_hand, rel=1e-12)
    assert speed_at_mach(period, swept, SOUND, by_hand) == pytest.approx(6000.0, rel=1e-12)


def test_mach_index_of_the_textbook_engine() -> None:
    # bore 101.6, valve 50.8, stroke 88.9 mm, 6000 rpm, C 0.35: Z = 0.591833 (computed)
    disc = 0.25 * np.pi * 0.0508**2
    period = open_period(box_lobe(), np.array([0.005, 0.01, 0.012]), np.full(3, 0.35 * disc))
    z = float(mach_index(period, 0.1016, 0.0889, SOUND, 6000.0))
    assert z == pytest.approx(0.591833, abs=5e-7)


def test_ram_of_the_trade_example() -> None:
    # 1000 mm2, 330 mm, 477 cc, CR 11.2: 178 Hz; 5340 rpm at K 2.0 to 4270 at 2.5
    tone = ram_frequency(1000e-6, 0.330, 477e-6, 11.2, SOUND)
    assert tone == pytest.approx(178.0, abs=0.5)
    assert tuned_speed(tone, 2.0) == pytest.approx(5340.0, abs=10.0)
    assert tuned_speed(tone, 2.5) == pytest.approx(4270.0, abs=10.0)
    with pytest.raises(RangeError):
        tuned_speed(tone, 0.0)


def test_inertance_of_an_even_and_of_a_tight_runner() -> None:
    even = plain_pipe("runner", 0.3, 0.04)
    area = float(even.area[0])
    free = end_correction(0.02, flanged=False)
    assert inertance_length(even, area) == pytest.approx(0.3 + free, rel=1e-6)
    x = np.array([0.0, 0.15, 0.3])
    tight = Duct("tight", x, area * np.array([1.0, 0.5, 1.0]))
    assert inertance_length(tight, area) > 0.38 + free


def test_lift_use_of_a_curve_that_is_flat_above_eight_millimetres() -> None:
    offset = np.linspace(-140.0, 140.0, 281)
    lobe = lift_from_table(offset, 0.012 * (1.0 - (offset / 140.0) ** 2) ** 2, 466.0)
    lift = np.linspace(1e-3, 14e-3, 14)
    area = np.minimum(lift, 8e-3) * 0.05
    use = lift_use(lobe, lift, area)
    assert use.most_lift == pytest.approx(0.012, rel=1e-9)
    # a little below 8 mm: the cut top of the linear part may lose 1 % as well
    assert 7.4e-3 < use.enough < 8e-3
    # scaling the lobe opens faster, so more lift still pays a little on a flat curve
    assert 0.01 < use.gain_of_more < 0.06
    assert use.held == 0.0
    assert lift_use(lobe, lift[:10], area[:10]).held > 0.2


def test_more_lift_stops_paying_where_flow_falls() -> None:
    offset = np.linspace(-140.0, 140.0, 281)
    lobe = lift_from_table(offset, 0.010 * (1.0 - (offset / 140.0) ** 2) ** 2, 466.0)
    lift = np.linspace(1e-3, 14e-3, 14)
    falls = np.where(lift <= 9e-3, lift, 9e-3 - 0.6 * (lift - 9e-3)) * 0.05
    stops = lift_use(lobe, lift, falls).pays_up_to
    assert stops is not None
    assert 9e-3 < stops < 13e-3
    assert lift_use(lobe, lift, lift * 0.05).pays_up_to is None


def test_series_fit_finds_the_coefficients_it_was_made_with() -> None:
    valve = np.linspace(1e-4, 9e-4, 9)
    area = (1.0 / (0.9 * valve) ** 2 + 1.0 / (0.84 * 8e-4) ** 2) ** -0.5
    fit = series_fit(area, valve, 8e-4)
    # round-off of a linear solve
    assert (fit.valve, fit.port) == pytest.approx((0.9, 0.84), rel=1e-9)
    assert fit.misfit < 1e-9
    assert least_filled_share(fit) == pytest.approx(0.84, rel=1e-9)
    free = series_fit(0.9 * valve, valve, 8e-4)
    assert free.port > 1e3  # does not show
    assert least_filled_share(free) == 1.0
