"""Entering a sweep: on disk before acknowledged, questioned before stored, never doubled."""

from __future__ import annotations

import contextlib
import json
import math
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from portwright import units
from portwright.errors import ConflictError, Finding, InputError, NumberError
from portwright.model.bench import Metering
from portwright.model.job import Measurement, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Run
from portwright.services import benches, capture, carried, earlier, jobs, plausible, shop_file
from portwright.services.capture import Entry, OpenSweep
from portwright.services.display import Display
from portwright.services.lift_lists import fixed_steps
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

JOB = "T-1"
LIFTS = fixed_steps("1", "1", "12", "mm")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[ShopFile]:
    with shop_file.create_shop(tmp_path / "bench.shop") as made:
        jobs.new_job(made, jobs.NewJob(JOB, ports_per_side=2))
        made.add_stage(JOB, Stage("S1", "throat opened", "2026-01-02"))
        benches.add_bench(
            made, benches.NewBench("B1", bore_adapter="90 mm", inlet_aid="radius plate")
        )
        benches.add_bench(
            made,
            benches.NewBench(
                "B2", metering=Metering.PERCENT_OF_RANGE, ranges="30 cfm; 60 cfm; 120 cfm; 240 cfm"
            ),
        )
        yield made


def flow_at(lift_mm: float, gain: float = 1.0) -> float:
    """A port in cfm: proportional at the seat, level at the top, like any other."""
    return gain * 136.0 * math.tanh(lift_mm / 7.0)


def begin(shop: ShopFile, port: str = "I1", stage: str = "S0", bench: str = "B1") -> OpenSweep:
    set_up = carried.set_up(shop, shop.job(JOB), port, bench)
    run = capture.begin(shop, JOB, port, stage, set_up, LIFTS)
    return OpenSweep.open(shop, run.code)


def enter(sweep: OpenSweep, text: str, lift: AsTyped | None = None, unit: str = "cfm") -> None:
    at = lift or sweep.next_lift()
    assert at is not None
    sweep.commit(sweep.reading(Entry(text, unit, at)))


def typed_on_disk(shop: ShopFile) -> list[dict[str, list[str]]]:
    """What stands in the file, seen by a program of its own."""
    address = f"file:{shop.path.as_posix()}?mode=ro"
    with contextlib.closing(sqlite3.connect(address, uri=True)) as other:
        rows = other.execute("SELECT typed FROM reading ORDER BY id").fetchall()
    return [json.loads(text) for (text,) in rows]


def mm(value: float) -> AsTyped:
    return units.typed(value, "mm", Kind.LENGTH)


def fill(shop: ShopFile, port: str = "I1", stage: str = "S0", *, seed: int = 1) -> Run:
    """A whole sweep with the scatter of a good bench."""
    noise = np.random.default_rng(seed).normal(0.0, 0.002, len(LIFTS.lifts))
    set_up = carried.set_up(shop, shop.job(JOB), port, "B1")
    readings = tuple(
        replace(
            set_up.air,
            lift=lift,
            flow=units.read(f"{flow_at(lift.si * 1e3) * math.exp(e):.1f}", Kind.FLOW, "cfm"),
        )
        for lift, e in zip(LIFTS.lifts, noise, strict=True)
    )
    code = shop.next_run_code("R")
    when, conditions = jobs.today(), set_up.conditions
    run = Run(code, JOB, port, stage, "B1", date=when, conditions=conditions, readings=readings)
    shop.add_run(run)
    return run


def test_a_reading_is_on_disk_when_commit_returns(shop: ShopFile) -> None:
    sweep = begin(shop)
    enter(sweep, "19,2")
    (typed,) = typed_on_disk(shop)
    assert (typed["lift"], typed["flow"]) == (["1", "mm"], ["19,2", "cfm"])
    again = OpenSweep.open(shop, sweep.run.code)
    assert [s.reading.flow for s in again.stored] == [units.read("19,2", Kind.FLOW, "cfm")]


def test_the_next_lift_is_the_first_one_open(shop: ShopFile) -> None:
    sweep = begin(shop)
    enter(sweep, "19.2")
    enter(sweep, "57.0", LIFTS.lifts[2])
    nexts = [sweep.next_lift(after) for after in (0.0, 3e-3, 12e-3)]
    assert [t.text for t in nexts if t] == ["2", "4", "2"]
    reopened = OpenSweep.open(shop, sweep.run.code)
    assert reopened.next_lift() == sweep.next_lift()
    for lift in LIFTS.lifts:
        if sweep.at(lift.si) is None:
            enter(sweep, "60.0", lift)
    assert sweep.next_lift() is None


def test_sending_again_stores_nothing_new(shop: ShopFile) -> None:
    sweep = begin(shop)
    reading = sweep.reading(Entry("19.2", "cfm", LIFTS.lifts[0]))
    first = sweep.commit(reading)
    warmer = replace(reading, air_temperature=units.typed(25.0, "degC", Kind.TEMPERATURE))
    assert sweep.commit(reading) == first
    assert sweep.commit(warmer) == first  # the air was noted in between, the number is the same
    assert len(sweep.stored) == 1
    assert sweep.contested == []


def test_two_tablets_on_one_lift_keep_both_values(shop: ShopFile) -> None:
    sweep = begin(shop)
    other = OpenSweep.open(shop, sweep.run.code)
    enter(sweep, "19.2")
    with pytest.raises(ConflictError):
        enter(other, "19.9")
    (contested,) = other.contested
    assert contested.counting is not None
    shown = [other.shown(s.reading) for s in (contested.counting, contested.aside)]
    assert [str(s) for s in shown] == ["19.2 cfm", "19.9 cfm"]
    other.settle(contested.aside.id, keep=True)
    sweep.refresh()
    assert [str(sweep.shown(s.reading)) for s in sweep.stored] == ["19.9 cfm"]
    assert sweep.contested == []


def test_undo_keeps_the_row_and_opens_the_lift(shop: ShopFile) -> None:
    sweep = begin(shop)
    enter(sweep, "19.2")
    enter(sweep, "37.0")
    assert sweep.last is not None
    sweep.withdraw(sweep.last.id, "taken back at the bench")
    assert [s.reading.lift.text for s in sweep.stored] == ["1"]
    lift = sweep.next_lift()
    assert lift is not None
    assert lift.text == "2"
    enter(sweep, "37.4")
    flows = [typed["flow"][0] for typed in typed_on_disk(shop) if "flow" in typed]
    assert flows == ["19.2", "37.0", "37.4"]


@pytest.mark.parametrize("text", ["", "abc", "0", "-3", "1,250"])
def test_what_is_no_reading_is_refused(shop: ShopFile, text: str) -> None:
    sweep = begin(shop)
    with pytest.raises(InputError):
        sweep.reading(Entry(text, "cfm", LIFTS.lifts[0]))


def test_the_typed_unit_is_kept(shop: ShopFile) -> None:
    sweep = begin(shop)
    enter(sweep, "9.06", unit="L/s")
    (stored,) = sweep.stored
    assert str(stored.reading.flow) == "9.06 L/s"
    assert earlier.flows_of(sweep.run, sweep.calibration, 6974.49)[0] == pytest.approx(
        9.06e-3, rel=1e-6
    )  # 28 inH2O is 6974.49 Pa, so nothing moves


def test_codes_count_up_and_repeats_too(shop: ShopFile) -> None:
    runs = [begin(shop).run, begin(shop).run, begin(shop, "I2").run]
    assert [r.code for r in runs] == ["R1", "R2", "R3"]
    assert [r.repeat for r in runs] == [1, 2, 1]
    assert {r.code for r in capture.under_way(shop.job(JOB), "I1", "S0")} == {"R1", "R2"}


# --- set-up ----------------------------------------------------------------------------------


def test_the_first_set_up_is_the_usual_one_of_the_bench(shop: ShopFile) -> None:
    intake = carried.set_up(shop, shop.job(JOB), "I1", "B1")
    exhaust = carried.set_up(shop, shop.job(JOB), "E1", "B1")
    assert (intake.conditions.inlet_aid, intake.conditions.exhaust_stub) == ("radius plate", "none")
    assert exhaust.conditions.inlet_aid == "none"
    assert intake.conditions.bore_adapter == "90 mm"
    assert str(intake.air.test_pressure) == "28 inH2O"


def test_conditions_are_carried_over_by_side_and_air_within_the_day(shop: ShopFile) -> None:
    fresh = carried.set_up(shop, shop.job(JOB), "I1", "B1")
    air = carried.with_air(
        {
            "test_pressure": units.read("25", Kind.PRESSURE, "inH2O"),
            "air_temperature": units.read("21,5", Kind.TEMPERATURE, "degC"),
            "leak": units.read("0.4", Kind.FLOW, "cfm"),
        }
    )
    changed = replace(fresh, conditions=replace(fresh.conditions, plug="fitted"), air=air)
    run = capture.begin(shop, JOB, "I1", "S0", changed, LIFTS)
    sweep = OpenSweep.open(shop, run.code)
    enter(sweep, "19.2")
    assert str(sweep.stored[0].reading.leak) == "0.4 cfm"
    carried_over = carried.set_up(shop, shop.job(JOB), "I2", "B1")
    assert carried_over.conditions.plug == "fitted"
    assert str(carried_over.air.test_pressure) == "25 inH2O"
    assert str(carried_over.air.air_temperature) == "21,5 degC"
    assert carried_over.air.leak is None  # a leak check belongs to one mounting
    assert run.code in carried_over.source
    assert carried.set_up(shop, shop.job(JOB), "E1", "B1").conditions.plug == ""


# --- does it fit -------------------------------------------------------------------------------


def ask(shop: ShopFile, sweep: OpenSweep, text: str, lift: AsTyped | None = None) -> Finding | None:
    at = lift or sweep.next_lift()
    assert at is not None
    seen = earlier.Bookshelf(shop).earlier(sweep.run)
    return plausible.question(sweep, sweep.reading(Entry(text, "cfm", at)), seen, Display())


def partly(shop: ShopFile, count: int, stage: str = "S0", gain: float = 1.0) -> OpenSweep:
    sweep = begin(shop, "I1", stage)
    for lift in LIFTS.lifts[:count]:
        enter(sweep, f"{flow_at(lift.si * 1e3, gain):.1f}")
    return sweep


def test_sound_repeats_are_not_questioned(shop: ShopFile) -> None:
    for seed in (1, 2):
        fill(shop, seed=seed)
    sweep = begin(shop)
    noise = np.random.default_rng(7).normal(0.0, 0.002, len(LIFTS.lifts))
    asked = []
    for lift, error in zip(LIFTS.lifts, noise, strict=True):
        text = f"{flow_at(lift.si * 1e3) * math.exp(error + 0.003):.1f}"
        asked.append(ask(shop, sweep, text))
        enter(sweep, text)
    assert [a for a in asked if a] == []


def test_a_gain_of_a_new_stage_is_not_questioned(shop: ShopFile) -> None:
    fill(shop)
    sweep = begin(shop, "I1", "S1")
    asked = []
    for lift in LIFTS.lifts:
        text = f"{flow_at(lift.si * 1e3, 1.0 + 0.006 * lift.si * 1e3):.1f}"  # 7 % at the top
        asked.append(ask(shop, sweep, text))
        enter(sweep, text)
    assert [a for a in asked if a] == []


@pytest.mark.parametrize(
    ("count", "text", "code", "said"),
    [
        (9, "126.7", "reading-out-of-line", "test pressure"),  # 121.2 expected
        (7, "121.0", "reading-typing-slip", "112.0 cfm would fit"),  # 110.9 with digits swapped
        (4, "8.36", "reading-typing-slip", "83.6 cfm would fit"),  # 83.5 expected
        (4, "836", "reading-typing-slip", "83.6 cfm would fit"),
        (5, "83.4", "reading-wrong-lift", "5.00 mm"),  # what 5 mm gave
        (4, "94.4", "reading-wrong-lift", "6.00 mm"),  # what 6 mm will give
        (0, "24.0", "reading-lift-slip", "0.25 mm further open"),  # 1.25 mm instead of 1
    ],
)
def test_a_wrong_reading_is_questioned_with_its_cause(
    shop: ShopFile, count: int, text: str, code: str, said: str
) -> None:
    for seed in (1, 2):
        fill(shop, seed=seed)
    found = ask(shop, partly(shop, count), text)
    assert found is not None
    assert found.code == code
    assert said in f"{found.message} {found.hint}"
    assert found.where.lift == pytest.approx((count + 1) * 1e-3)


def test_nothing_is_stored_by_asking(shop: ShopFile) -> None:
    fill(shop)
    sweep = partly(shop, 4)
    assert ask(shop, sweep, "8.36") is not None
    assert len(OpenSweep.open(shop, sweep.run.code).stored) == 4


def test_without_earlier_sweeps_its_own_curve_judges(shop: ShopFile) -> None:
    sweep = partly(shop, 6)
    assert ask(shop, sweep, f"{flow_at(7.0):.1f}") is None
    found = ask(shop, sweep, "10.37")
    assert found is not None
    assert found.code == "reading-typing-slip"
    assert "the readings so far" in found.message


def test_the_very_first_reading_is_judged_by_the_valve(shop: ShopFile) -> None:
    sweep = begin(shop)
    assert ask(shop, sweep, "192") is None  # nothing known, nothing said
    valve = Measurement("I1", "valve head diameter", mm(42.0), stage="S0")
    shop.add_measurements(JOB, [valve])
    sweep = OpenSweep.open(shop, sweep.run.code)
    assert ask(shop, sweep, "19.2") is None
    found = ask(shop, sweep, "192")
    assert found is not None
    assert found.code == "reading-typing-slip"


def test_a_wrong_range_is_named(shop: ShopFile) -> None:
    set_up = carried.set_up(shop, shop.job(JOB), "I1", "B2")

    def entry(lift: AsTyped, flow: float, number: int) -> Entry:
        full = {1: 30.0, 2: 60.0, 3: 120.0, 4: 240.0}[number]
        return Entry(f"{100.0 * flow / full:.1f}", "%", lift, number)

    for _ in range(2):
        sweep = OpenSweep.open(shop, capture.begin(shop, JOB, "I1", "S0", set_up, LIFTS).code)
        for lift in LIFTS.lifts:
            flow = flow_at(lift.si * 1e3)
            sweep.commit(sweep.reading(entry(lift, flow, 2 if flow < 55.0 else 3)))
    sweep = OpenSweep.open(shop, capture.begin(shop, JOB, "I1", "S0", set_up, LIFTS).code)
    for lift in LIFTS.lifts[:2]:
        sweep.commit(sweep.reading(entry(lift, flow_at(lift.si * 1e3), 2)))
    lift = LIFTS.lifts[2]
    right = entry(lift, flow_at(3.0), 3)
    with pytest.raises(InputError, match="range is missing"):
        sweep.reading(replace(right, range_number=None))
    seen = earlier.Bookshelf(shop).earlier(sweep.run)
    fits = plausible.question(sweep, sweep.reading(right), seen, Display())
    assert fits is None
    found = plausible.question(
        sweep, sweep.reading(replace(right, range_number=2)), seen, Display()
    )
    assert found is not None
    assert (found.code, "Range 3 instead of 2" in found.hint) == ("reading-wrong-range", True)


# --- what it is seen against -------------------------------------------------------------------


def test_the_stage_before_is_shown_at_any_lift(shop: ShopFile) -> None:
    for seed in (1, 2):
        fill(shop, seed=seed)
    sweep = begin(shop, "I1", "S1")
    seen = earlier.Bookshelf(shop).earlier(sweep.run)
    reference = seen.reference(previous_stage=True)
    assert reference is not None
    assert (reference.stage, reference.sweeps) == ("S0", 2)
    flow, half = (v[0] for v in reference.at(np.array([4.5e-3])))
    # noise of two sweeps of 0.2 % each, three deviations
    assert units.from_si(flow, "cfm", Kind.FLOW) == pytest.approx(flow_at(4.5), rel=0.005)
    assert 0.003 < half < 0.05
    assert math.isnan(reference.at(np.array([13e-3]))[0][0])
    assert seen.reference(previous_stage=False) is None


def test_checked_sweeps_are_kept_until_something_changes(shop: ShopFile) -> None:
    fill(shop)
    shelf = earlier.Bookshelf(shop)
    sweep = begin(shop, "I1", "S1")
    first = shelf.earlier(sweep.run)
    enter(sweep, "20.0")
    enter(sweep, "39.0")
    assert shelf.earlier(sweep.run).contents is first.contents
    fill(shop, seed=3)
    second = shelf.earlier(sweep.run)
    assert second.contents is not first.contents
    assert len(second.before) == 2


def test_a_grouped_number_is_refused_by_name(shop: ShopFile) -> None:
    with pytest.raises(NumberError, match="could mean"):
        begin(shop).reading(Entry("1,250", "cfm", LIFTS.lifts[0]))
