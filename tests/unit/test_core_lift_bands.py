"""Lift bands by L/D and the weights of tested lifts in them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright.core.lift_bands import band_weights, lift_bands
from portwright.errors import RangeError


def test_usual_bands_say_what_they_mean() -> None:
    bands = lift_bands()
    assert [b.name for b in bands] == [
        "L/D below 0.10",
        "L/D 0.10 to 0.20",
        "L/D 0.20 to 0.30",
        "L/D above 0.30",
    ]
    assert "seat" in bands[0].meaning
    assert "pinch" in bands[3].meaning
    assert lift_bands((0.15,))[1].meaning == ""
    assert math.isinf(lift_bands((0.15,))[1].high)


@pytest.mark.parametrize("edges", [(0.2, 0.1), (0.0, 0.1), (0.1, 0.1), (-0.1,), (math.nan,)])
def test_limits_must_increase_from_above_zero(edges: tuple[float, ...]) -> None:
    with pytest.raises(RangeError, match="increase"):
        lift_bands(edges)


def test_mean_is_that_of_the_curve_between_the_limits() -> None:
    lift = np.array([1.0, 2.5, 4.0, 7.0, 9.0]) * 1e-3
    area = 0.07 * lift  # on a straight line the mean lies at the middle of the band
    for band in band_weights(lift, 25e-3, lift_bands()):
        assert np.dot(band.weight, area) == pytest.approx(
            0.07 * (band.low + band.high) / 2, rel=1e-12
        )
        assert band.weight.sum() == pytest.approx(1.0, rel=1e-12)


def test_a_lift_counts_by_its_spacing_not_by_how_often_it_was_tested() -> None:
    lift = np.array([2.0, 3.0, 4.0, 5.0]) * 1e-3
    crowded = np.sort(np.append(lift, [4.8e-3, 4.9e-3, 4.95e-3]))
    band = lift_bands((0.10, 0.25))[1]
    means = [
        np.dot(band_weights(x, 20e-3, [band])[0].weight, np.interp(x, lift, [1.0, 2.0, 4.0, 3.0]))
        for x in (lift, crowded)
    ]
    assert means[0] == pytest.approx(means[1], rel=1e-12)
    assert means[0] == pytest.approx((1.5 + 3.0 + 3.5) / 3)


def test_bands_the_sweep_does_not_reach_are_absent() -> None:
    lift = np.array([5.0, 6.0, 8.0]) * 1e-3
    found = band_weights(lift, 40e-3, lift_bands())
    assert [b.band.low for b in found] == [0.10]
    assert (found[0].low, found[0].high) == (5e-3, 8e-3)
    with pytest.raises(RangeError, match="valve diameter"):
        band_weights(lift, 0.0, lift_bands())
