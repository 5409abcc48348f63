"""Opening and finding jobs, and what a job's stages tell."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from portwright.errors import ConflictError, InputError
from portwright.model.bench import Metering
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement, Stage
from portwright.services import benches, jobs, shop_file
from portwright.services.shop_file import ShopFile
from portwright.services.timeline import timeline
from portwright.units import Kind, read


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[ShopFile]:
    with shop_file.create_shop(tmp_path / "test.shop") as opened:
        yield opened


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        ([], "26-001"),
        ([("TH-26-041", "2026-02-03")], "TH-26-042"),
        ([("TH-25-041", "2025-12-20")], "TH-26-001"),
        ([("A9", "2026-01-01"), ("A10", "2026-01-02")], "A11"),
        ([("no digits", "2026-01-01")], "26-001"),
    ],
)
def test_the_next_number_follows_the_newest(
    shop: ShopFile, numbers: list[tuple[str, str]], expected: str
) -> None:
    for number, opened in numbers:
        shop.add_job(Job(number, opened=opened))
    assert jobs.suggest_number(shop, "2026-05-01") == expected


def test_a_new_job_comes_with_ports_and_first_stage(shop: ShopFile) -> None:
    made = jobs.new_job(shop, jobs.NewJob(" J-1 ", heads=2, ports_per_side=6, valves_per_port=2))
    contents = shop.job(made)
    assert made == "J-1"
    assert [(p.code, p.head, p.cylinder, p.valve_count) for p in contents.ports][:4] == [
        ("I1", "L", 1, 2),
        ("I2", "L", 2, 2),
        ("I3", "L", 3, 2),
        ("I4", "R", 4, 2),
    ]
    assert contents.ports[6].side is Side.EXHAUST
    assert [(s.code, s.note) for s in contents.stages] == [("S0", "as received")]
    with pytest.raises(ConflictError):
        jobs.new_job(shop, jobs.NewJob("J-1"))


@pytest.mark.parametrize(
    "new",
    [jobs.NewJob("  "), jobs.NewJob("1", heads=0), jobs.NewJob("1", heads=4, ports_per_side=6)],
)
def test_an_impossible_job_is_refused(shop: ShopFile, new: jobs.NewJob) -> None:
    with pytest.raises(InputError):
        jobs.new_job(shop, new)
    assert shop.jobs() == []


def test_search_narrows_field_by_field(shop: ShopFile) -> None:
    for number, opened, casting, customer, goal in (
        ("1", "2008-04-01", "XY-1", "Ames", ""),
        ("2", "2009", "XY 1", "Berg", "open the pocket"),
        ("3", "2015-01-01", "ZZ-9", "Ames", ""),
        ("4", "", "XY-1", "Ames", ""),
    ):
        shop.add_job(Job(number, opened, casting=casting, customer=customer, goal=goal))

    def found(**wanted: str) -> list[str]:
        return [line.job.number for line in jobs.search(shop, jobs.Wanted(**wanted))]

    assert found() == ["3", "2", "1", "4"]
    assert found(casting="xy1") == ["2", "1", "4"]
    assert found(casting="xy1", since="2009") == ["2"]
    assert found(until="2010") == ["2", "1"]
    assert found(customer="ames", casting="zz") == ["3"]
    assert found(words="bowl") == ["2"]  # pocket is another word for bowl


def test_a_stage_tells_what_changed_on_each_side() -> None:
    def throat(port: str, stage: str, text: str) -> Measurement:
        return Measurement(port, "throat diameter", read(text, Kind.LENGTH, "mm"), stage=stage)

    contents = JobContents(
        Job("1"),
        ports=(Port("I1", Side.INTAKE), Port("I2", Side.INTAKE), Port("E1", Side.EXHAUST)),
        stages=(Stage("S0"), Stage("S1"), Stage("S2")),
        measurements=(
            throat("I1", "S0", "36.0"),
            throat("I2", "S0", "36.1"),
            throat("E1", "S0", "30.0"),
            throat("I1", "S2", "37.4"),
            throat("E1", "S2", "31.0"),
        ),
    )
    first, second, third = timeline(contents)
    assert [c.before for c in first.changes] == [(), ()]
    assert second.changes == ()
    intake, exhaust = third.changes
    assert [m.value.text for m in intake.before] == ["36.0"]
    assert [m.value.text for m in intake.after] == ["37.4"]
    assert exhaust.subjects == ("E1",)


def test_a_bench_is_described_in_the_shops_words(shop: ShopFile) -> None:
    benches.add_bench(
        shop,
        benches.NewBench(
            "B1",
            metering=Metering.PERCENT_OF_RANGE,
            test_pressure="10 inH2O",
            ranges="50 cfm; 80 cfm",
        ),
    )
    (calibration,) = shop.calibrations()
    assert [(r.number, str(r.full_scale)) for r in calibration.ranges] == [
        (1, "50 cfm"),
        (2, "80 cfm"),
    ]
    assert str(calibration.reads_at) == "10 inH2O"
    with pytest.raises(ConflictError):
        benches.add_bench(shop, benches.NewBench("B1"))
    with pytest.raises(InputError, match="needs its ranges"):
        benches.add_bench(shop, benches.NewBench("B2", metering=Metering.PERCENT_OF_RANGE))
    with pytest.raises(InputError, match="no unit"):
        benches.add_bench(shop, benches.NewBench("B2", test_pressure="28"))
