"""Checks on conditions and coefficients of single sweeps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from portwright.core.curve import Array, make_curve
from portwright.core.detection import (
    CFM28_PER_AREA,
    Limits,
    SweepRecord,
    find,
    from_cfm28,
    to_cfm28,
)
from portwright.core.detection.sweeps import first_of_session, label
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.errors import Finding, Severity, ShapeError, Where

LIFT: Array = np.linspace(1e-3, 12e-3, 12)
AREA: Array = ((0.64 * np.pi * 0.042 * LIFT) ** -4 + 760e-6**-4) ** -0.25


def sweep(run: str = "R1", **changes: Any) -> SweepRecord:
    base = SweepRecord(
        curve=make_curve(LIFT, AREA, resolution=0.001),
        where=Where(run=run, port="I1", stage="S0"),
        side="intake",
        port="I1",
        stage="S0",
        bench="B",
    )
    return replace(base, **changes)


def check(*sweeps: SweepRecord, limits: Limits | None = None) -> tuple[Finding, ...]:
    return find(sweeps, SHOP_DEFAULT, limits or Limits())


def test_jet_flow_per_area_is_147_cfm_per_square_inch() -> None:
    # reference: 147 cfm/in2 at 28 inH2O (derived); last printed digit
    per_square_inch = CFM28_PER_AREA * 0.0254**2
    assert per_square_inch == pytest.approx(147.0, abs=0.5)
    assert to_cfm28(from_cfm28(3.3)) == pytest.approx(3.3, rel=1e-14)


def test_missing_condition_of_one_run_names_the_run() -> None:
    (finding,) = check(sweep("R1"), sweep("R2", missing=("air temperature",)))
    assert (finding.code, finding.where.run) == ("missing-condition", "R2")
    assert finding.severity is Severity.NOTE
    assert "air temperature" in finding.message


def test_missing_essential_condition_is_a_warning_once_per_port() -> None:
    lacking = [sweep(r, missing=("test pressure", "plug")) for r in ("R1", "R2")]
    findings = check(*lacking)
    assert [(f.severity, f.where.run) for f in findings] == [
        (Severity.WARNING, ""),
        (Severity.NOTE, ""),
    ]


def test_pressure_that_wanders_inside_a_sweep() -> None:
    pressure = np.full(LIFT.size, 6975.0)
    pressure[9] *= 0.95
    (finding,) = check(sweep(test_pressure=pressure))
    assert finding.code == "wrong-pressure"
    assert finding.where.lift == pytest.approx(LIFT[9])
    assert finding.size == pytest.approx(-0.05)


def test_pressure_that_differs_between_repeats() -> None:
    usual = np.array(6975.0)
    sweeps = [sweep(r, test_pressure=usual) for r in ("R1", "R2", "R3")]
    sweeps[1] = sweep("R2", test_pressure=usual * 0.9)
    (finding,) = check(*sweeps)
    assert (finding.code, finding.where.run) == ("wrong-pressure", "R2")


def test_pressure_held_as_benches_do_raises_nothing() -> None:
    # 0.3 in of 28 is the larger of the usual hunting
    held = 6975.0 * (1.0 + 0.3 / 28.0 * np.cos(np.arange(LIFT.size)))
    assert check(sweep("R1", test_pressure=held), sweep("R2", test_pressure=held)) == ()


def test_recorded_leak_above_a_tight_set_up() -> None:
    curve = make_curve(LIFT, AREA, resolution=0.001, leak=from_cfm28(1.6))
    (finding,) = check(sweep(curve=curve))
    assert finding.code == "leak"
    assert finding.size == pytest.approx(from_cfm28(1.6))
    assert "1.6 cfm" in finding.message


@pytest.mark.parametrize(
    ("name", "ratio", "severity"),
    [
        ("curtain_area", 0.85, Severity.WARNING),
        ("net_throat_area", 0.97, Severity.WARNING),
        ("minimum_area", 1.2, Severity.FAULT),
    ],
)
def test_coefficient_too_high(name: str, ratio: float, severity: Severity) -> None:
    reference = AREA / 0.6
    reference[4] = AREA[4] / ratio
    (finding,) = check(sweep("R1", **{name: reference}))
    assert (finding.code, finding.severity) == ("coefficient-too-high", severity)
    assert finding.where.lift == pytest.approx(LIFT[4])
    assert finding.size == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("name", "ratio"), [("curtain_area", 0.79), ("net_throat_area", 0.94), ("minimum_area", 1.1)]
)
def test_high_but_possible_coefficient_raises_nothing(name: str, ratio: float) -> None:
    assert check(sweep("R1", **{name: AREA / ratio})) == ()


def test_limits_are_editable() -> None:
    tight = Limits(curtain_coefficient=0.5)
    assert check(sweep(curtain_area=AREA / 0.6)) == ()
    (finding,) = check(sweep(curtain_area=AREA / 0.6), limits=tight)
    assert "0.50" in finding.message


def test_condition_column_of_wrong_length_is_refused() -> None:
    with pytest.raises(ShapeError, match="test_pressure"):
        sweep(test_pressure=np.ones(3))


def test_first_sweep_of_each_session() -> None:
    sweeps = [
        sweep("R1", day="Monday", order=2.0),
        sweep("R2", day="Monday", order=1.0),
        sweep("R3", day="Tuesday", order=7.0),
        sweep("R4", day="", order=0.0),
        sweep("R5", day="Tuesday"),
    ]
    assert first_of_session(sweeps) == {1, 2}


def test_a_sweep_without_run_is_named_by_its_place() -> None:
    named = sweep(where=Where(port="I1", stage="S0", repeat=2))
    assert label(named) == "I1 S0 repeat 2"
