"""A reading kept although it was questioned does not make the next ones look wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from portwright import units
from portwright.model.bench import Conditions
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run
from portwright.services import benches, capture, carried, earlier, jobs, plausible, shop_file
from portwright.services.capture import Entry, OpenSweep
from portwright.services.display import Display
from portwright.services.lift_lists import fixed_steps
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

JOB = "T-2"
LIFTS = fixed_steps("1", "1", "12", "mm").lifts


def flow_at(lift_mm: float) -> float:
    return 136.0 * math.tanh(lift_mm / 7.0)


def typed(value: float) -> AsTyped:
    return units.read(f"{value:.1f}", Kind.FLOW, "cfm")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[ShopFile]:
    with shop_file.create_shop(tmp_path / "kept.shop") as made:
        jobs.new_job(made, jobs.NewJob(JOB, ports_per_side=1))
        benches.add_bench(made, benches.NewBench("B1"))
        pressure = units.read("28", Kind.PRESSURE, "inH2O")
        for n, shift in enumerate((0.997, 1.0, 1.003)):
            rng = np.random.default_rng(n)
            made.add_run(
                Run(
                    f"R{n + 1}",
                    JOB,
                    "I1",
                    "S0",
                    "B1",
                    date=f"2026-01-0{n + 1}",
                    conditions=Conditions(exhaust_stub="none"),
                    readings=tuple(
                        Reading(
                            lift,
                            typed(flow_at(lift.si * 1e3) * shift * (1 + rng.normal(0, 0.002))),
                            test_pressure=pressure,
                        )
                        for lift in LIFTS
                    ),
                )
            )
        yield made


def sweep_on(shop: ShopFile, stage: str = "S0") -> tuple[OpenSweep, earlier.Earlier]:
    set_up = carried.set_up(shop, shop.job(JOB), "I1", "B1")
    lifts = fixed_steps("1", "1", "12", "mm")
    run = capture.begin(shop, JOB, "I1", stage, set_up, lifts)
    return OpenSweep.open(shop, run.code), earlier.Bookshelf(shop).earlier(run)


def asked_at(shop: ShopFile, values: list[float]) -> list[int]:
    """Enter everything, keeping what is questioned; lifts in mm at which it was."""
    sweep, seen = sweep_on(shop)
    found = []
    for lift, value in zip(LIFTS, values, strict=False):
        reading = sweep.reading(Entry(f"{value:.1f}", "cfm", lift))
        if plausible.question(sweep, reading, seen, Display()) is not None:
            found.append(round(lift.si * 1e3))
        sweep.commit(reading)
    return found


def test_one_odd_reading_is_asked_about_once(shop: ShopFile) -> None:
    values = [flow_at(n + 1.0) for n in range(12)]
    values[6] *= 1.08
    assert asked_at(shop, values) == [7]


def test_a_wrong_lift_zero_is_asked_about_at_the_seat_and_then_let_be(shop: ShopFile) -> None:
    assert asked_at(shop, [flow_at(n + 0.75) for n in range(12)]) == [1]


def test_a_bench_that_shifts_between_days_raises_no_question(shop: ShopFile) -> None:
    assert asked_at(shop, [flow_at(n + 1.0) * 1.006 for n in range(12)]) == []


def test_the_band_is_wider_over_days_than_within_one(shop: ShopFile) -> None:
    _, seen = sweep_on(shop)
    across = seen.reference(previous_stage=False)
    assert across is not None
    same_day = earlier.Earlier(seen.pressure, seen.repeatability, same=seen.same[:1])
    inside = earlier.Earlier(
        seen.pressure, seen.repeatability, same=seen.same[:1], session="2026-01-01"
    )
    one, other = same_day.reference(previous_stage=False), inside.reference(previous_stage=False)
    assert one is not None
    assert other is not None
    assert np.all(one.half > other.half)
    assert across.sweeps == 3
