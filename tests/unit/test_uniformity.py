"""Ports of a head against their mean: equal ports look equal, an odd one is found and explained."""

from __future__ import annotations

import math

import numpy as np
import pytest

from portwright import units
from portwright.core.comparison import Verdict
from portwright.core.repeatability import Repeatability
from portwright.errors import InputError
from portwright.model.bench import Calibration, Conditions, Metering
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement, Stage
from portwright.model.run import Reading, Run
from portwright.services.findings import CheckedJob
from portwright.services.reduce import reduce_runs
from portwright.services.uniformity import Uniformity, uniformity_of
from portwright.units import Kind

BENCH = Repeatability(0.004, 12e-6, 0.002, math.inf, "as simulated")
PORTS = tuple(f"I{n + 1}" for n in range(6))
LIFTS = tuple(float(n + 1) for n in range(12))
CALIBRATION = Calibration(
    "B1", 1, "2026-01-01", Metering.DIRECT, units.read("28", Kind.PRESSURE, "inH2O")
)


def area_shape(lift_mm: float) -> float:
    return 136.0 * math.tanh(lift_mm / 7.0)


def sweep(
    code: str,
    port: str,
    rng: np.random.Generator,
    *,
    gain: float = 1.0,
    day: str = "2026-01-02",
    adapter: str = "90 mm",
) -> Run:
    """One sweep with the errors of BENCH: shift, lift zero, readings."""
    shift, zero = rng.normal(0.0, BENCH.common), rng.normal(0.0, BENCH.lift_setting * 1e3)
    readings = tuple(
        Reading(
            units.typed(lift, "mm", Kind.LENGTH),
            units.typed(
                gain * area_shape(lift + zero) * math.exp(shift + rng.normal(0.0, BENCH.reading)),
                "cfm",
                Kind.FLOW,
            ),
        )
        for lift in LIFTS
    )
    conditions = Conditions(bore_adapter=adapter)
    return Run(code, "J", port, "S1", "B1", date=day, conditions=conditions, readings=readings)


def checked(*runs: Run, measurements: tuple[Measurement, ...] = ()) -> CheckedJob:
    contents = JobContents(
        Job("J"),
        ports=tuple(Port(p, Side.INTAKE, "L" if p < "I4" else "R") for p in PORTS),
        stages=(Stage("S1"),),
        measurements=measurements,
        runs=runs,
    )
    return CheckedJob(contents, tuple(reduce_runs(runs, [CALIBRATION])), {"B1": BENCH}, ())


def head(seed: int, odd: float = 1.0, repeats: int = 2) -> Uniformity:
    rng = np.random.default_rng(seed)
    runs = [
        sweep(f"{port}-{n}", port, rng, gain=odd if port == "I4" else 1.0)
        for port in PORTS
        for n in range(repeats)
    ]
    return uniformity_of(checked(*runs), Side.INTAKE, "S1")


def test_equal_ports_look_equal_as_often_as_promised() -> None:
    heads = [head(seed) for seed in range(80)]
    alarms = sum(any(p.bands[0].verdict is Verdict.REAL for p in u.ports) for u in heads)
    beyond = sum(u.bands[0].spread > u.bands[0].by_chance for u in heads)
    # binomial with 80 heads and 5 %: 4 expected, 12 or more once in 2000, none once in 60; the
    # intervals hold for six ports at once by Bonferroni, so somewhat fewer are right as well
    assert 1 <= alarms < 12
    assert 1 <= beyond < 12


def test_a_port_that_is_three_percent_down_is_found() -> None:
    found = [head(seed, odd=0.97) for seed in range(8)]
    for result in found:
        assert {p.port for p in result.ports if p.bands[0].value < 0 and p.differs} == {"I4"}
    mean = np.mean([next(p for p in u.ports if p.port == "I4").bands[0].value for u in found])
    # five sixths of 3 % against a mean that holds the port itself; 8 heads leave 0.1 %
    assert mean == pytest.approx(math.expm1(math.log(0.97) * 5 / 6), abs=0.003)


def test_more_repeats_tell_more() -> None:
    widths = [head(1, repeats=n).ports[0].bands[0].half for n in (1, 4)]
    assert widths[0] == pytest.approx(2.0 * widths[1], rel=1e-3)  # 1/sqrt(4); slopes vary


def test_the_odd_port_is_explained_by_what_was_measured_there() -> None:
    def pinch(port: str, value: str) -> Measurement:
        return Measurement(port, "pinch width", units.read(value, Kind.LENGTH, "mm"), stage="S1")

    measured = tuple(
        pinch(p, "25.9" if p == "I4" else text)
        for p, text in zip(PORTS, ("27.0", "26.9", "27.1", "", "27.0", "26.9"), strict=True)
    )
    rng = np.random.default_rng(3)
    runs = [sweep(p, p, rng, gain=0.96 if p == "I4" else 1.0) for p in PORTS]
    result = uniformity_of(checked(*runs, measurements=measured), Side.INTAKE, "S1")
    odd = next(p for p in result.ports if p.port == "I4")
    assert [o.quantity for o in odd.oddities] == ["pinch width"]
    assert [m.value.text for m in odd.oddities[0].others] == ["26.9", "27.1"]
    assert odd.oddities[0].difference == pytest.approx(25.9 / 26.98 - 1.0)
    assert next(p for p in result.ports if p.port == "I1").oddities == ()


def test_ports_are_compared_in_one_set_up() -> None:
    rng = np.random.default_rng(4)
    runs = [sweep(p, p, rng) for p in PORTS[:4]]
    runs += [sweep(f"{p}b", p, rng, gain=1.1, adapter="95 mm") for p in PORTS[3:]]
    result = uniformity_of(checked(*runs), Side.INTAKE, "S1")
    assert [p.port for p in result.ports] == ["I1", "I2", "I3", "I4"]
    assert result.missing == ("I5", "I6")
    assert "90 mm" in result.set_up
    only = uniformity_of(checked(*runs), Side.INTAKE, "S1", "L")
    assert [p.port for p in only.ports] == ["I1", "I2", "I3"]


def test_another_day_makes_the_interval_wider() -> None:
    days = ["2026-01-02", "2026-01-03"]
    moving = Repeatability(0.004, 12e-6, 0.002, math.inf, "as simulated", session=0.006)
    halves = []
    for spread_out in (False, True):
        rng = np.random.default_rng(5)
        runs = [
            sweep(p, p, rng, day=days[n % 2] if spread_out else days[0])
            for n, p in enumerate(PORTS)
        ]
        job = checked(*runs)
        known = CheckedJob(job.contents, job.reduced, {"B1": moving}, ())
        halves.append(uniformity_of(known, Side.INTAKE, "S1").ports[0].bands[0].half)
    assert halves[1] > 1.3 * halves[0]  # sqrt(0.4^2 + 0.6^2) / 0.4 less the readings' part


def test_one_port_alone_has_nothing_to_be_compared_with() -> None:
    with pytest.raises(InputError, match="Fewer than two intake ports"):
        uniformity_of(checked(sweep("a", "I1", np.random.default_rng(6))), Side.INTAKE, "S1")
