"""Metal left and what opening a section can bring."""

from __future__ import annotations

import math

import pytest

from portwright.core.port.candidates import Candidate, GainRange, Room, ranked, section_gain
from portwright.core.port.metal import WallLimits, WallState, held_back, metal_to_take, wall_state
from portwright.errors import RangeError

LIMITS = WallLimits(least=2.5e-3, reading_error=0.2e-3)


@pytest.mark.parametrize(
    ("wall", "state"),
    [
        (2.49e-3, WallState.BELOW),
        (2.5e-3, WallState.AT_LIMIT),
        (3.4e-3 - 0.9e-3, WallState.AT_LIMIT),  # arithmetic may not turn the limit into metal
        (2.55e-3, WallState.THIN),
        (2.7e-3, WallState.THIN),
        (2.71e-3, WallState.FREE),
    ],
)
def test_state_of_a_wall(wall: float, state: WallState) -> None:
    assert wall_state(wall, LIMITS) is state


def test_only_metal_beyond_the_reading_error_may_go() -> None:
    assert metal_to_take(3.5e-3, LIMITS) == pytest.approx(0.8e-3)
    assert metal_to_take(2.6e-3, LIMITS) == 0.0
    assert [s for s in WallState if s.allows_cutting] == [WallState.FREE]


def test_a_smaller_cut_than_the_sisters_is_held_back() -> None:
    assert held_back(0.35e-3, [0.9e-3, 0.9e-3, 0.8e-3], 0.2e-3)
    assert not held_back(0.75e-3, [0.9e-3, 0.9e-3], 0.2e-3)
    assert not held_back(0.35e-3, [], 0.2e-3)


def test_gain_of_a_section_is_that_of_losses_in_series() -> None:
    # independent form: resistances 1/A^2 add; the section costs all its dynamic pressure
    port, section, grown = 600e-6, 900e-6, 990e-6
    rest = 1.0 / port**2 - 1.0 / section**2
    after = 1.0 / math.sqrt(rest + 1.0 / grown**2)
    gain = section_gain(port, section, 0.1)
    assert gain.high == pytest.approx(after / port - 1.0, rel=1e-12)
    assert gain.low == 0.0


def test_a_large_section_hardly_matters() -> None:
    assert section_gain(600e-6, 3000e-6, 0.1).high < 0.005


def test_more_flow_than_the_section_can_pass_is_refused() -> None:
    with pytest.raises(RangeError, match="cannot pass"):
        section_gain(900e-6, 800e-6, 0.1)
    with pytest.raises(RangeError, match="smaller"):
        section_gain(600e-6, 800e-6, -0.1)


def test_places_without_metal_come_last() -> None:
    def place(name: str, room: Room, high: float) -> Candidate:
        return Candidate(name, "", (), room, None, GainRange(0.0, high))

    order = ranked(
        [
            place("thin", Room.NONE, 0.09),
            place("unknown", Room.UNKNOWN, 0.05),
            place("small", Room.THERE, 0.01),
            place("large", Room.THERE, 0.02),
        ]
    )
    assert [c.place for c in order] == ["large", "small", "unknown", "thin"]
