"""What a port's own curve tells: separated flow, falling flow, late rise."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.curve import Array, make_curve
from portwright.core.detection import SweepRecord, find
from portwright.core.repeatability import Repeatability
from portwright.errors import Finding, Severity, Where

KNOWN = Repeatability(0.003, 12e-6, 0.002, 60.0, "a repeatability study")
LIFT: Array = np.linspace(1e-3, 13e-3, 13)
STEADY: Array = ((0.64 * np.pi * 0.042 * LIFT) ** -4 + 760e-6**-4) ** -0.25


def check(area: Array, scatter: Array | float = 0.004, repeats: int = 2) -> tuple[Finding, ...]:
    return find(
        [
            SweepRecord(
                curve=make_curve(LIFT, area, resolution=0.0005, scatter=scatter),
                where=Where(run=f"R{r}", port="I1", stage="S2", repeat=r),
                side="intake",
                port="I1",
                stage="S2",
                bench="B",
            )
            for r in range(repeats)
        ],
        KNOWN,
    )


def test_a_steady_curve_raises_nothing() -> None:
    assert check(STEADY) == ()


def test_unsteady_flow_names_the_stretch() -> None:
    (finding,) = check(STEADY, np.where(LIFT > 9.5e-3, 0.016, 0.005))
    assert (finding.code, finding.severity) == ("unsteady-flow", Severity.NOTE)
    assert finding.where.lift == pytest.approx(10e-3)
    assert (finding.where.port, finding.where.run) == ("I1", "")
    assert "10.0 mm" in finding.message
    assert "13.0 mm" in finding.message
    assert finding.size == pytest.approx(0.016)


def test_one_jumpy_reading_is_not_unsteady_flow() -> None:
    assert check(STEADY, np.where(np.arange(13) == 6, 0.016, 0.005)) == ()


def test_a_port_swept_once_names_the_run() -> None:
    (finding,) = check(STEADY, np.where(LIFT > 9.5e-3, 0.016, 0.005), repeats=1)
    assert finding.where.run == "R0"


def test_falling_flow() -> None:
    area = STEADY * (1.0 - 0.10 / (1.0 + np.exp((10.5e-3 - LIFT) / 0.3e-3)))
    (finding,) = check(area)
    assert (finding.code, finding.severity) == ("falling-flow", Severity.NOTE)
    assert finding.where.lift is not None
    assert finding.where.lift >= 11e-3
    assert finding.size is not None
    # 10 % lost, more than half of it made up by the port still rising
    assert -0.05 < finding.size < -0.03


def test_a_fall_within_repeatability_raises_nothing() -> None:
    area = STEADY.copy()
    area[-1] = area[-2] * 0.996
    assert check(area) == ()


def test_late_rise_after_a_flat_part() -> None:
    flat = STEADY.copy()
    flat[7:10] = flat[7]
    flat[10:] = flat[7] * np.array([1.04, 1.07, 1.09])
    codes = {f.code: f for f in check(flat)}
    assert "late-rise" in codes
    assert codes["late-rise"].severity is Severity.NOTE
    assert codes["late-rise"].where.lift == pytest.approx(11e-3)


def test_a_flat_top_is_not_a_late_rise() -> None:
    flat = STEADY.copy()
    flat[9:] = flat[9] * np.array([1.0, 1.001, 1.002, 1.003])
    assert check(flat) == ()
