"""From readings to effective areas: the zero of a gauge, the air of a laminar element."""

from __future__ import annotations

from dataclasses import replace

import pytest

from portwright import units
from portwright.model.bench import (
    Calibration,
    CalibrationPoint,
    Metering,
    MeterRange,
    OrificeMeter,
)
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.services.carried import asked_of
from portwright.services.reduce import reduce_runs
from portwright.units import Kind

PLATE = Calibration(
    "B3",
    1,
    "",
    Metering.ORIFICE_PLATE,
    None,
    orifice=OrificeMeter(units.read("30 mm", Kind.LENGTH), coefficient=0.6),
)
RANGES = Calibration(
    "B1",
    1,
    "",
    Metering.PERCENT_OF_RANGE,
    units.read("10 inH2O", Kind.PRESSURE),
    ranges=(MeterRange(3, units.read("120 cfm", Kind.FLOW)),),
)
STATED = Calibration("B2", 1, "", Metering.DIRECT, units.read("28 inH2O", Kind.PRESSURE))


def pressure(text: str) -> AsTyped:
    return units.read(f"{text} inH2O", Kind.PRESSURE)


def areas(calibration: Calibration, *readings: Reading, method: str = "standard-1") -> list[float]:
    run = Run("R1", "J", "I1", "S0", calibration.bench, readings=readings)
    (reduced,) = reduce_runs([run], [calibration], method)
    assert reduced.curve is not None
    return [float(a) for a in reduced.curve.area]


def sweep(**shown: AsTyped | int) -> tuple[Reading, ...]:
    return tuple(
        Reading(units.read(f"{lift} mm", Kind.LENGTH), **shown)  # type: ignore[arg-type]
        for lift in (2, 4)
    )


def test_a_plate_bench_with_both_gauges_off_reads_as_one_with_both_right() -> None:
    right = sweep(meter_pressure=pressure("4"), test_pressure=pressure("28"))
    off = sweep(
        meter_pressure=pressure("4.25"),
        meter_pressure_zero=pressure("0.25"),
        test_pressure=pressure("27.8"),
        test_pressure_zero=pressure("-0.2"),
    )
    assert areas(PLATE, *off) == pytest.approx(areas(PLATE, *right), rel=1e-12)
    without = [replace(r, meter_pressure_zero=None) for r in off]
    # flow goes with the root of the meter's pressure: 4.25 for 4 is 3.1 % high
    assert areas(PLATE, *without)[0] == pytest.approx(1.031 * areas(PLATE, *right)[0], rel=1e-3)


def test_the_pressure_of_a_range_is_put_right_and_the_scale_in_per_cent_is_not() -> None:
    share = units.read("60 %", Kind.RATIO)
    right = sweep(percent=share, range_number=3, test_pressure=pressure("10"))
    off = sweep(
        percent=share,
        range_number=3,
        test_pressure=pressure("10.3"),
        test_pressure_zero=pressure("0.3"),
    )
    assert areas(RANGES, *off) == pytest.approx(areas(RANGES, *right), rel=1e-12)


def test_a_zero_as_large_as_the_reading_leaves_nothing_to_work_out() -> None:
    first, second, third = (
        *sweep(meter_pressure=pressure("4"), test_pressure=pressure("28")),
        Reading(
            units.read("6 mm", Kind.LENGTH),
            meter_pressure=pressure("4"),
            meter_pressure_zero=pressure("4.5"),
            test_pressure=pressure("28"),
        ),
    )
    run = Run("R1", "J", "I1", "S0", "B3", readings=(first, second, third))
    (reduced,) = reduce_runs([run], [PLATE])
    assert [f.code for f in reduced.findings] == ["reading-not-usable"]
    assert "6 mm" in reduced.findings[0].message


@pytest.mark.parametrize(
    ("calibration", "asked"),
    [
        (PLATE, {"test_pressure_zero", "meter_pressure_zero"}),
        (RANGES, {"test_pressure_zero"}),
        (STATED, set()),
        (replace(STATED, reads_at=None), {"test_pressure_zero"}),
    ],
)
def test_only_a_zero_that_counts_is_asked_for(calibration: Calibration, asked: set[str]) -> None:
    assert {name for name in asked_of(calibration) if "zero" in name} == asked


ELEMENT = Calibration(
    "B4",
    1,
    "",
    Metering.FLOW_ELEMENT,
    None,
    table=tuple(
        CalibrationPoint(pressure(drop), units.read(f"{flow} cfm", Kind.FLOW))
        for drop, flow in (("1", 20), ("5", 100))
    ),
)


def test_a_laminar_element_is_put_right_for_its_air_when_that_is_chosen() -> None:
    shown = {"meter_pressure": pressure("4"), "test_pressure": pressure("28")}
    usual = sweep(**shown)
    warm = sweep(**shown, meter_temperature=units.read("30 degC", Kind.TEMPERATURE))
    laminar = "laminar-element-1"
    assert areas(ELEMENT, *usual, method=laminar) == areas(ELEMENT, *usual)
    assert areas(ELEMENT, *warm) == areas(ELEMENT, *usual)
    # Sutherland between 20 and 30 degC by hand: 1.8134e-5 over 1.8609e-5 Pa s
    ratio = areas(ELEMENT, *warm, method=laminar)[0] / areas(ELEMENT, *usual)[0]
    assert ratio == pytest.approx(1.8134 / 1.8609, rel=5e-5)
