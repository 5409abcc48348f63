"""A head on an engine: valve-only areas, doubts, peaks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from portwright.core.engine.case import BenchedPort, Doubt, EngineCase, Head, build, filled_duct
from portwright.core.engine.doubts import Unknowns, draw, half_width
from portwright.core.engine.peaks import peak
from portwright.core.engine.sweep import Piece, run_piece
from portwright.core.gas1d.bench import BenchCondition, valve_only_area
from portwright.core.gas1d.ducts import Duct, join, plain_pipe
from portwright.core.gas1d.engine import Collector, Mechanics
from portwright.core.gas1d.operating import OperatingPoint
from portwright.core.gas1d.simulate import Settings
from portwright.core.gas1d.valves import lift_from_events
from portwright.errors import RangeError

LIFT = np.linspace(1e-3, 12e-3, 12)


@pytest.fixture(scope="module")
def head() -> Head:
    x = np.array([0.0, 0.05, 0.1, 0.12])
    port = Duct("port", x, np.array([1.1e-3, 0.9e-3, 0.8e-3, 0.97e-3]))
    out = plain_pipe("exhaust port", 0.085, 0.030, wall_temperature=550.0)
    shape = np.tanh(LIFT / 5e-3)
    return Head(
        BenchedPort(port, LIFT, 560e-6 * shape, 0.85),
        BenchedPort(out, LIFT, 440e-6 * shape, 0.9, plain_pipe("stub", 0.25, 0.038)),
    )


@pytest.fixture(scope="module")
def case() -> EngineCase:
    return EngineCase(
        Mechanics(0.09, 0.075, 0.145, 11.2),
        6,
        lift_from_events(330.0, 600.0, 1.27e-3, 11e-3),
        lift_from_events(115.0, 385.0, 1.27e-3, 10.5e-3),
        plain_pipe("runner", 0.22, 0.0415, end_diameter=0.0374),
        plain_pipe("primary", 0.6, 0.038, wall_temperature=650.0),
    )


def test_valve_area_between_the_solved_lifts(head: Head, case: EngineCase) -> None:
    # build() solves two lifts only; everywhere else within 0.1 %, as it promises
    condition = BenchCondition()
    wide = lift_from_events(330.0, 600.0, 1.27e-3, 12e-3)
    engine = build(replace(case, intake_lift=wide, exhaust_lift=wide), head)
    for port, table, outward in (
        (head.intake, engine.intake_area, False),
        (head.exhaust, engine.exhaust_area, True),
    ):
        duct = filled_duct(port, Doubt())
        tested = duct if port.stub is None else join("both", duct, port.stub)
        middle = port.area[[4, 7]]
        full = valve_only_area(tested, middle, condition, outward=outward)
        rising = np.arange(1320, 1861)
        got = np.interp(port.lift[[4, 7]], wide[rising], table[rising])
        # 0.1 % promised, plus 0.1 % for reading off quarter degrees
        assert got == pytest.approx(full, rel=2e-3)
        assert np.any(np.abs(full / middle - 1.0) > 0.005), "the port loss must matter here"


def test_the_filled_share_narrows_the_smallest_section(head: Head) -> None:
    whole = filled_duct(head.intake, Doubt(filled=1.0))
    least = filled_duct(head.intake, Doubt(filled=0.0))
    assert whole.smallest() == pytest.approx(0.8e-3, rel=1e-3)
    assert least.smallest() == pytest.approx(0.85 * 0.8e-3, rel=1e-3)
    assert least.area[-1] == pytest.approx(whole.area[-1], rel=1e-9)


def test_doubts_reach_the_engine(head: Head, case: EngineCase) -> None:
    plain = build(case, head)
    doubted = build(
        case,
        head,
        Doubt(flow=1.02, half_burned=2.0, burn_length=5.0, heat=1.2, rubbing=0.8, evaporated=0.1),
    )
    assert doubted.intake_area.max() > 1.019 * plain.intake_area.max()
    assert doubted.burning.half_burned == plain.burning.half_burned + 2.0
    assert doubted.burning.length == plain.burning.length + 5.0
    assert doubted.walls.heat_factor == pytest.approx(1.2)
    ratio = doubted.rubbing.mean_pressure(7e6, 15.0) / plain.rubbing.mean_pressure(7e6, 15.0)
    assert ratio == pytest.approx(0.8, rel=1e-12)
    assert doubted.fuel.evaporated == pytest.approx(0.4)


def test_doubted_lengths_stretch_runner_primary_and_tail_but_not_the_port(
    head: Head, case: EngineCase
) -> None:
    tail = plain_pipe("tail", 1.0, 0.057, wall_temperature=650.0)
    collected = replace(case, collectors=(Collector((0,), 5e-4, tail),))
    plain = build(collected, head)
    doubted = build(collected, head, Doubt(runner=1.1, primary=0.8, tail=1.2))
    longer = doubted.intake[0].length - plain.intake[0].length
    assert longer == pytest.approx(0.1 * 0.22, rel=1e-9)
    shorter = plain.exhaust[0].length - doubted.exhaust[0].length
    assert shorter == pytest.approx(0.2 * 0.6, rel=1e-9)
    assert doubted.collectors[0].tail.length == pytest.approx(1.2, rel=1e-12)
    # the port is measured: its last 120 mm stay what they are
    ends = [
        e.intake[0].area_at(e.intake[0].length - np.array([0.1, 0.02])) for e in (plain, doubted)
    ]
    assert ends[1] == pytest.approx(ends[0], rel=1e-3)


def test_pairs_share_what_belongs_to_the_engine() -> None:
    pairs = draw(Unknowns(), 40, 1)
    before, after = (
        np.array([[d.flow, d.heat, d.half_burned, d.rubbing] for d, _ in pairs]),
        np.array([[d.flow, d.heat, d.half_burned, d.rubbing] for _, d in pairs]),
    )
    assert np.array_equal(before, after)
    assert all(first.own_intake == 1.0 != second.own_intake for first, second in pairs)
    filled = np.array([[a.filled, b.filled] for a, b in pairs])
    # evenly spread by construction: every fortieth of the range holds one
    assert sorted(np.floor(40 * filled[:, 0]).astype(int)) == list(range(40))
    assert abs(np.corrcoef(filled.T)[0, 1]) < 0.5
    spread = np.std(np.log([d.heat for d, _ in pairs]), ddof=1)
    # evenly spread normal values have the wanted deviation, but for the luck of the outermost two
    assert spread == pytest.approx(Unknowns().heat, rel=0.1)
    assert draw(Unknowns(), 40, 1) == pairs
    assert draw(Unknowns(), 40, 2) != pairs
    with pytest.raises(RangeError):
        draw(Unknowns(), 3, 1)


def test_half_width_counts_a_one_sided_best_guess() -> None:
    values = np.array([[1.0], [2.0], [3.0], [2.0]])
    centred = half_width(values, np.array([2.0]))[0]
    # sqrt(2/3) times Student's 3.182 for three degrees of freedom
    assert centred == pytest.approx(3.182446 * np.sqrt(2.0 / 3.0), rel=1e-6)
    assert half_width(values, np.array([0.0]))[0] > 2.0 * centred
    assert np.isnan(half_width(np.array([[1.0], [np.nan], [2.0], [3.0]]), np.array([2.0]))[0])


def test_peak_of_a_parabola_and_at_an_edge() -> None:
    speed = np.array([4000.0, 5000.0, 6000.0, 7000.0])
    found = peak(speed, 100.0 - ((speed - 5700.0) / 1000.0) ** 2)
    assert found is not None
    assert (found.speed, found.value) == pytest.approx((5700.0, 100.0), rel=1e-9)
    assert found.inside
    edge = peak(speed, speed)
    assert edge is not None
    assert not edge.inside
    assert peak(speed, np.full(4, np.nan)) is None
    gap = peak(speed, np.array([1.0, np.nan, 3.0, 2.0]))
    assert gap is not None
    assert gap.inside


def test_a_piece_answers_for_the_whole_engine_and_keeps_failures_as_words(
    head: Head, case: EngineCase
) -> None:
    quick = Settings(cell=15e-3, tolerance=2e-3)
    done = run_piece(Piece(("x", 3), case, head, (5000.0, 50.0), quick))
    assert done.key == ("x", 3)
    point, words = done.points
    assert isinstance(point, OperatingPoint)
    assert isinstance(words, str)
    assert "between 100" in words
    # six cylinders at about 10 bar of mean pressure on 2.86 litres: 150 to 300 N m
    assert 150.0 < point.torque < 300.0
    one = point.brake * case.mechanics.swept / (4.0 * np.pi)
    assert point.torque == pytest.approx(6.0 * one, rel=1e-9)
    tight = replace(head, intake=replace(head.intake, area=3.0 * head.intake.area))
    (reason,) = run_piece(Piece(("x", 0), case, tight, (5000.0,), quick)).points
    assert isinstance(reason, str)
    assert "section" in reason.lower()


@pytest.mark.parametrize("length", [0.1197686474, 0.12, 0.115, 0.09 + 1e-17, 0.1234567])
@pytest.mark.parametrize("places", [5, 6, 11, 16])
def test_sections_at_even_places_join_with_any_runner(length: float, places: int) -> None:
    # stations that differ in the last bit used to become one place twice
    x = np.linspace(0.0, length, places)
    port = Duct("port", x, np.linspace(1.1e-3, 0.9e-3, places))
    for doubt in (Doubt(), Doubt(filled=0.1)):
        made = filled_duct(BenchedPort(port, LIFT, 1e-6 * LIFT, 0.85), doubt)
        for runner in (0.21, 0.22, 1.0 / 3.0):
            whole = join("intake", plain_pipe("runner", runner, 0.0415), made)
            # the step between runner and port takes two millimetres
            assert whole.length == pytest.approx(runner + length + 2e-3, abs=1e-9)
