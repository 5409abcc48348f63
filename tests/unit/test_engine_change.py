"""Small changes reach the engine where they should, and nowhere else."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.engine.case import BenchedPort, EngineCase, Head, build
from portwright.core.engine.change import Change, build_changed
from portwright.core.gas1d.ducts import Duct, plain_pipe
from portwright.core.gas1d.engine import Engine, Mechanics
from portwright.core.gas1d.valves import lift_from_events
from portwright.errors import RangeError

LIFT = np.linspace(1e-3, 12e-3, 12)


@pytest.fixture(scope="module")
def case() -> EngineCase:
    return EngineCase(
        Mechanics(0.09, 0.075, 0.145, 11.2),
        6,
        lift_from_events(330.0, 600.0, 1.27e-3, 9e-3),
        lift_from_events(115.0, 385.0, 1.27e-3, 9e-3),
        plain_pipe("runner", 0.22, 0.0415),
        plain_pipe("primary", 0.6, 0.038),
    )


@pytest.fixture(scope="module")
def head() -> Head:
    x = np.array([0.0, 0.05, 0.1, 0.12])
    port = Duct("port", x, np.array([1.1e-3, 0.8e-3, 0.9e-3, 0.97e-3]))
    shape = np.tanh(LIFT / 5e-3)
    return Head(
        BenchedPort(port, LIFT, 560e-6 * shape),
        BenchedPort(plain_pipe("out", 0.085, 0.030), LIFT, 440e-6 * shape),
    )


@pytest.fixture(scope="module")
def plain(case: EngineCase, head: Head) -> Engine:
    return build(case, head)


def same_valves(one: Engine, other: Engine) -> bool:
    return np.array_equal(one.intake_area, other.intake_area) and np.array_equal(
        one.exhaust_area, other.exhaust_area
    )


def test_no_change_is_no_change(case: EngineCase, head: Head, plain: Engine) -> None:
    again = build_changed(case, head, Change())
    assert same_valves(again, plain)
    assert np.array_equal(again.intake[0].area, plain.intake[0].area)
    assert again.intake[0].length == plain.intake[0].length


def test_lengths(case: EngineCase, head: Head, plain: Engine) -> None:
    longer = build_changed(case, head, Change(runner=5e-3, primary=50e-3))
    assert longer.intake[0].length - plain.intake[0].length == pytest.approx(5e-3, abs=1e-12)
    assert longer.exhaust[0].length - plain.exhaust[0].length == pytest.approx(50e-3, abs=1e-12)
    assert same_valves(longer, plain)


def test_sections_change_the_duct_and_not_the_valve(
    case: EngineCase, head: Head, plain: Engine
) -> None:
    wide = build_changed(case, head, Change(throat=1.01))
    assert wide.intake[0].area[-1] == pytest.approx(1.0201 * plain.intake[0].area[-1], rel=1e-9)
    assert wide.intake[0].smallest() == pytest.approx(plain.intake[0].smallest(), rel=1e-6)
    assert same_valves(wide, plain)
    open_ = build_changed(case, head, Change(section=1.01))
    # the port's own half-way share of the smallest section does not change
    assert open_.intake[0].smallest() == pytest.approx(1.01 * plain.intake[0].smallest(), rel=1e-3)
    assert open_.intake[0].area[-1] == pytest.approx(plain.intake[0].area[-1], rel=1e-12)
    assert same_valves(open_, plain)


def test_cam_and_compression(case: EngineCase, head: Head, plain: Engine) -> None:
    more = build_changed(case, head, Change(lift=1e-3, compression=0.5))
    assert more.mechanics.compression == pytest.approx(11.7)
    assert more.intake_area.max() > plain.intake_area.max()
    assert np.array_equal(more.exhaust_area, plain.exhaust_area)
    # the lobe grows, its timing stays
    assert np.array_equal(more.intake_area > 0.0, plain.intake_area > 0.0)
    early = build_changed(case, head, Change(advance=2.0))
    shift = np.argmax(plain.intake_area > 0.0) - np.argmax(early.intake_area > 0.0)
    assert shift == 8, "two degrees are eight quarters"
    assert early.intake_area[0] == early.intake_area[-1]


def test_a_larger_valve_keeps_its_coefficients_at_the_same_lift_over_diameter(
    case: EngineCase, head: Head, plain: Engine
) -> None:
    larger = build_changed(case, head, Change(valve=1.05))
    full = int(np.argmax(case.intake_lift))
    # at low lift the flow goes with the curtain, so with the diameter; at high lift with its square
    low = int(np.flatnonzero(case.intake_lift > 0.2e-3)[0])
    ratio = larger.intake_area / np.maximum(plain.intake_area, 1e-12)
    assert ratio[low] == pytest.approx(1.05, abs=2e-3)
    assert 1.05 < ratio[full] < 1.05**2
    assert np.array_equal(larger.exhaust_area, plain.exhaust_area)


def test_duration_opens_longer_and_exhaust_moves_alone(
    case: EngineCase, head: Head, plain: Engine
) -> None:
    longer = build_changed(case, head, Change(duration=20.0))
    open_for = [0.25 * np.count_nonzero(e.intake_area > 0.0) for e in (plain, longer)]
    assert open_for[1] - open_for[0] == pytest.approx(20.0, abs=0.5)  # two entries of the table
    assert longer.intake_area.max() == pytest.approx(plain.intake_area.max(), rel=1e-3)
    moved = build_changed(case, head, Change(exhaust_advance=4.0))
    assert int(np.argmax(plain.exhaust_area) - np.argmax(moved.exhaust_area)) == 16
    assert np.array_equal(moved.intake_area, plain.intake_area)
    with pytest.raises(RangeError, match="cannot change"):
        build_changed(case, head, Change(exhaust_duration=300.0))
