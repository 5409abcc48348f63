"""Each mistake put into one of three quiet repeats is named, sized and placed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from portwright.core.curve import Array, FlowCurve, make_curve
from portwright.core.detection import SweepRecord, find, from_cfm28
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.errors import Finding, Severity, Where

KNOWN = Repeatability(0.003, 12e-6, 0.002, 60.0, "a repeatability study")
LIFT: Array = np.linspace(1e-3, 12e-3, 12)
FACTOR = np.array([0.001, -0.002, 0.0015, -0.001])  # shifts of the sound repeats


def port_area(lift: Array, limit: float = 760e-6) -> Array:
    gap = 0.64 * np.pi * 0.042 * lift
    area: Array = (gap**-4 + limit**-4) ** -0.25
    return area


def record(
    repeat: int,
    area: Array,
    *,
    port: str = "I1",
    side: str = "intake",
    scatter: float = 0.005,
    leak: float = from_cfm28(0.4),
    ranges: Array | int = 0,
    first: bool = False,
) -> SweepRecord:
    rng = np.random.default_rng([repeat, sum(map(ord, port))])
    noise = 0.002 * rng.standard_normal(area.size) + FACTOR[repeat % FACTOR.size]
    curve = make_curve(
        LIFT,
        area * np.exp(noise),
        resolution=0.001,
        scatter=scatter,
        leak=leak,
        range_number=np.asarray(ranges, dtype=np.int64),
    )
    return SweepRecord(
        curve=curve,
        where=Where(run=f"{port}-{repeat}", port=port, stage="S0", repeat=repeat),
        side="exhaust" if side == "exhaust" else "intake",
        port=port,
        stage="S0",
        bench="B",
        day="Monday",
        order=0.0 if first else float("nan"),
    )


def sound(count: int = 3, port: str = "I1", limit: float = 760e-6) -> list[SweepRecord]:
    return [record(r, port_area(LIFT, limit), port=port) for r in range(1, count + 1)]


def with_area(sweep: SweepRecord, area: Array) -> SweepRecord:
    return replace(sweep, curve=replace(sweep.curve, area=area))


def warnings(findings: tuple[Finding, ...]) -> list[tuple[str, str]]:
    return [(f.code, f.where.run) for f in findings if f.severity is not Severity.NOTE]


def only(findings: tuple[Finding, ...]) -> Finding:
    named = [f for f in findings if f.severity is not Severity.NOTE]
    assert len(named) == 1, named
    return named[0]


def test_sound_repeats_raise_nothing() -> None:
    assert find(sound(), KNOWN) == ()


def test_nothing_to_check_raises_nothing() -> None:
    assert find([], KNOWN) == ()


@pytest.mark.parametrize("offset", [-0.25e-3, 0.15e-3])
@pytest.mark.parametrize("count", [2, 3])
def test_lift_zero_offset_is_named_even_with_one_sound_repeat(offset: float, count: int) -> None:
    sweeps = sound(count)
    sweeps[1] = record(2, port_area(LIFT + offset))
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("lift-zero-offset", "I1-2")
    # 4 standard deviations of the lift setting of this bench
    assert finding.size == pytest.approx(offset, abs=50e-6)
    assert f"{abs(offset) * 1e3:.1f}"[:3] in finding.message
    assert "thou" in finding.message
    assert ("less" if offset < 0 else "more") in finding.message


def test_leak_is_named_and_sized_in_flow() -> None:
    sweeps = sound()
    sweeps[2] = record(3, port_area(LIFT) + from_cfm28(2.5))
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("leak", "I1-3")
    # 0.5 cfm: what the shift of a sweep can hide in a leak
    assert finding.size == pytest.approx(from_cfm28(2.5), abs=from_cfm28(0.5))
    assert "cfm at 28 inH2O" in finding.message
    assert "mm²" in finding.message


def test_a_sweep_that_lacks_flow_is_never_called_leaking() -> None:
    sweeps = sound()
    sweeps[2] = record(3, port_area(LIFT) - from_cfm28(2.5))
    assert "leak" not in {f.code for f in find(sweeps, KNOWN)}


def test_sign_of_a_leak_tells_which_of_two_repeats_is_wrong() -> None:
    sweeps = sound(2)
    sweeps[0] = record(1, port_area(LIFT) + from_cfm28(3.0), leak=from_cfm28(3.4))
    assert ("leak", "I1-1") in warnings(find(sweeps, KNOWN))


def test_constant_factor_on_one_of_three() -> None:
    sweeps = sound()
    sweeps[0] = record(1, port_area(LIFT) * 1.03)
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("constant-factor", "I1-1")
    # two standard deviations of the difference of one sweep from the mean of two
    assert finding.size == pytest.approx(0.03, abs=0.0075)
    assert "first sweep" not in finding.hint


def test_constant_factor_on_the_first_sweep_asks_for_a_cold_bench() -> None:
    sweeps = sound()
    sweeps[0] = record(1, port_area(LIFT) * 1.03, first=True)
    finding = only(find(sweeps, KNOWN))
    assert finding.code == "constant-factor"
    assert "first sweep of the session" in finding.hint


def test_one_factor_between_two_repeats_cannot_be_placed() -> None:
    sweeps = sound(2)
    sweeps[0] = record(1, port_area(LIFT) * 1.04)
    finding = only(find(sweeps, KNOWN))
    assert finding.code == "repeats-disagree"
    assert finding.where.run == ""
    assert "I1-1" in finding.message
    assert "I1-2" in finding.message


def test_step_at_a_range_change() -> None:
    ranges = np.array([3] * 4 + [4] * 4 + [5] * 4)
    sweeps = [record(r, port_area(LIFT), ranges=ranges) for r in (1, 2, 3)]
    area = port_area(LIFT) * np.where(ranges >= 4, 1.03, 1.0)
    sweeps[1] = record(2, area, ranges=ranges)
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("range-step", "I1-2")
    assert finding.where.lift == pytest.approx(5e-3)
    assert "range change" in finding.message


def test_step_at_one_lift_without_ranges() -> None:
    sweeps = sound()
    sweeps[1] = record(2, port_area(LIFT) * np.where(LIFT > 6.5e-3, 0.97, 1.0))
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("range-step", "I1-2")
    assert finding.where.lift == pytest.approx(7e-3)
    assert finding.size == pytest.approx(-0.03, abs=0.006)  # 4 standard deviations of 6 readings


def test_odd_reading_names_the_lift() -> None:
    sweeps = sound()
    sweeps[0] = record(1, port_area(LIFT) * np.where(np.arange(12) == 7, 1.04, 1.0))
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("odd-reading", "I1-1")
    assert finding.where.lift == pytest.approx(8e-3)
    assert "8.0 mm" in finding.message


def test_two_mistakes_in_one_sweep_are_both_named() -> None:
    sweeps = sound(4)
    area = port_area(LIFT - 0.25e-3) * np.where(np.arange(12) == 8, 1.05, 1.0)
    sweeps[2] = record(3, area)
    assert sorted(warnings(find(sweeps, KNOWN))) == [
        ("lift-zero-offset", "I1-3"),
        ("odd-reading", "I1-3"),
    ]


def test_a_repeat_wrong_in_no_known_way_is_an_outlier() -> None:
    sweeps = sound()
    wavy = 0.03 * np.sin(np.arange(12) * 2.0)
    sweeps[1] = record(2, port_area(LIFT) * np.exp(wavy))
    assert warnings(find(sweeps, KNOWN)) == [("outlier-repeat", "I1-2")]


def test_a_really_different_port_is_not_faulty() -> None:
    sweeps = [s for p in ("I1", "I2", "I3", "I5") for s in sound(2, p)]
    sweeps += sound(2, "I4", limit=680e-6)  # 10 % less at the top
    assert warnings(find(sweeps, KNOWN)) == []


def test_a_really_different_port_swept_once_is_not_faulty() -> None:
    sweeps = [s for p in ("I1", "I2", "I3", "I5") for s in sound(1, p)]
    sweeps += sound(1, "I4", limit=700e-6)
    assert warnings(find(sweeps, KNOWN)) == []


def exhaust(port: str) -> list[SweepRecord]:
    return [record(r, port_area(LIFT, 560e-6) * 0.85, port=port, side="exhaust") for r in (1, 2)]


def test_swapped_side() -> None:
    sweeps = [*sound(2, "I1"), *sound(2, "I2"), *exhaust("E1"), *exhaust("E2")]
    wrong = sweeps[5]
    sweeps[5] = with_area(wrong, sound(2, "I2")[1].curve.area)
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("swapped-side", "E1-2")
    assert "intake" in finding.message


def test_a_whole_port_filed_under_the_other_side() -> None:
    sweeps = [s for p in ("I1", "I2", "I3") for s in sound(2, p)]
    sweeps += [s for p in ("E1", "E2", "E3") for s in exhaust(p)]
    sweeps += [replace(s, side="exhaust", port="E4") for s in sound(2, "I4")]
    findings = find(sweeps, KNOWN)
    assert [(f.code, f.where.port) for f in findings] == [("swapped-side", "E4")]


def test_swapped_port() -> None:
    sweeps = [*sound(3, "I1"), *sound(3, "I2", limit=690e-6)]
    sweeps[1] = with_area(sweeps[1], record(7, port_area(LIFT, 690e-6)).curve.area)
    finding = only(find(sweeps, KNOWN))
    assert (finding.code, finding.where.run) == ("swapped-port", "I1-2")
    assert "I2" in finding.message


def rough(curve: FlowCurve, seed: int) -> Array:
    jumps = 0.015 * np.random.default_rng(seed).standard_normal(LIFT.size)
    return curve.area * np.exp(np.where(LIFT > 8.5e-3, jumps, 0.0))


def test_scatter_nobody_noted_is_told_from_odd_readings() -> None:
    ports = [f"I{n}" for n in range(1, 7)]
    sweeps = [record(1, port_area(LIFT), port=p, scatter=float("nan")) for p in ports]
    sweeps = [with_area(s, rough(s.curve, n)) for n, s in enumerate(sweeps)]
    findings = find(sweeps, KNOWN)
    assert warnings(findings) == []
    assert "unsteady-flow" in {f.code for f in findings}


def test_yardstick_learned_from_the_faulty_sweep_itself_is_allowed_for() -> None:
    sweeps = sound()
    sweeps[0] = record(1, port_area(LIFT) * 1.017)
    learned = replace(KNOWN, degrees_of_freedom=12.0, common=0.0036)
    assert warnings(find(sweeps, learned)) == []
    assert warnings(find(sweeps, learned, learned_here=True)) == [("constant-factor", "I1-1")]


def test_a_guess_is_not_a_yardstick_learned_here() -> None:
    sweeps = sound()
    sweeps[0] = record(1, port_area(LIFT) * 1.017)
    assert warnings(find(sweeps, SHOP_DEFAULT, learned_here=True)) == []
