"""Area along a port against shapes whose answers are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.port.profile import (
    Profile,
    included_taper,
    narrow_places,
    profile_volume,
    smallest_section,
)
from portwright.errors import RangeError, ShapeError


def cone(count: int = 17) -> Profile:
    """Cone from 40 to 30 mm diameter over 120 mm."""
    distance = np.linspace(0.0, 0.12, count)
    diameter = np.interp(distance, [0.0, 0.12], [0.040, 0.030])
    area = 0.25 * np.pi * diameter**2
    return Profile(distance, area, 0.01 * area)


def test_volume_of_a_cone() -> None:
    # frustum: pi h/12 (D^2 + D d + d^2); 16 slices leave 0.002 % between cubic and quadratic
    exact = math.pi * 0.12 / 12.0 * (0.04**2 + 0.04 * 0.03 + 0.03**2)
    assert profile_volume(cone()).value == pytest.approx(exact, rel=5e-5)


def test_volume_uncertainty_covers_what_was_drawn() -> None:
    true = profile_volume(cone())
    dice = np.random.default_rng(3)
    found = [
        profile_volume(Profile(p.distance, p.area + p.uncertainty * n, p.uncertainty)).value
        for p, n in ((cone(), dice.standard_normal(17)) for _ in range(400))
    ]
    # 400 draws know a standard deviation to 3.5 %; the rule between sections adds a little
    assert np.std(found) == pytest.approx(true.uncertainty, rel=0.15)


def test_a_shared_error_does_not_average_out() -> None:
    alone, shared = profile_volume(cone()), profile_volume(cone(), common=0.02)
    assert shared.uncertainty > 0.02 * shared.value > 3.0 * alone.uncertainty


def test_taper_of_a_cone() -> None:
    # 10 mm of diameter over 120 mm
    assert included_taper(cone(), 16) == pytest.approx(2.0 * math.atan(5.0 / 120.0), rel=1e-12)
    assert math.isnan(included_taper(cone(), 0))


def test_narrow_places_are_smaller_than_their_neighbours() -> None:
    assert narrow_places(np.array([5.0, 3.0, 4.0, 2.0, 2.0, 6.0, 1.0])) == (1, 3, 6)
    assert narrow_places(np.array([1.0, 2.0])) == (0,)


def test_a_rival_within_the_measuring_error_is_named() -> None:
    area = np.array([1160.0, 995.0, 1050.0, 999.0, 1048.0])
    assert smallest_section(area, 0.01 * area).rivals == (3,)
    assert smallest_section(area, 0.001 * area).rivals == ()


@pytest.mark.parametrize("distance", [[0.0, 0.0], [0.0, -1.0]])
def test_distances_must_increase(distance: list[float]) -> None:
    with pytest.raises(RangeError, match="increase"):
        Profile(np.array(distance), np.ones(2), np.ones(2))


def test_one_section_is_no_profile() -> None:
    with pytest.raises(ShapeError):
        Profile(np.zeros(1), np.ones(1), np.ones(1))
