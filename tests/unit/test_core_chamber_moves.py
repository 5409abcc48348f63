"""Signs and sizes of what else moves, worked by hand."""

from __future__ import annotations

import math

import pytest

from portwright.core.chamber.compression import ring_land_volume
from portwright.core.chamber.moves import (
    cam_retard,
    height_split,
    pushrod_change,
    stem_rise,
    valve_to_piston_change,
)
from portwright.errors import RangeError

MM = 1e-3


def test_pushrod_gets_shorter_by_cut_and_tip() -> None:
    # 1.0 less a gasket of 0.3 along a pushrod at 60 degrees: 0.35; tip 0.3 over ratio 1.5: 0.2
    found = pushrod_change(1.0 * MM, 0.3 * MM, math.radians(60), 0.3 * MM, 1.5)
    assert found / MM == pytest.approx(-0.55, rel=1e-12)


def test_valve_comes_nearer_by_the_cut_and_away_by_the_sink() -> None:
    assert valve_to_piston_change(1.0 * MM, 0.2 * MM, 0.3 * MM) / MM == pytest.approx(-0.5)
    leaning = valve_to_piston_change(1.0 * MM, valve_lean=math.radians(60))
    assert leaning / MM == pytest.approx(-0.5)


def test_a_thicker_gasket_advances_what_a_cut_retards() -> None:
    assert cam_retard(0.5 * MM, 50 * MM, 0.0, 0.5 * MM) == 0.0
    assert cam_retard(0.0, 50 * MM, 0.0, 0.5 * MM) == pytest.approx(-0.01)
    assert cam_retard(1.0 * MM, 50 * MM, math.radians(60)) == pytest.approx(0.01)


def test_heights() -> None:
    split = height_split(30 * MM, 28.5 * MM, 1.0 * MM)
    assert (split.milled / MM, split.ground / MM) == pytest.approx((1.0, 0.5))
    assert height_split(30 * MM, 29.5 * MM, 1.0 * MM).ground / MM == pytest.approx(-0.5)
    assert stem_rise(0.2 * MM, 0.1 * MM) / MM == pytest.approx(0.3)


def test_ring_land() -> None:
    # pi/4 (90^2 - 89.4^2) 6 mm3
    assert ring_land_volume(90 * MM, 89.4 * MM, 6 * MM) / 1e-9 == pytest.approx(507.241, abs=1e-3)
    with pytest.raises(RangeError):
        ring_land_volume(89 * MM, 90 * MM, 6 * MM)
