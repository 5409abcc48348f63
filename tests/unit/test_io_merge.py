"""The same thing in two sheets becomes one thing, and nothing changes its meaning on the way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from portwright.errors import InputError
from portwright.io.merge import UNNAMED_CAM, merge_contents, merge_stages
from portwright.model.bench import Bench, Calibration, Metering
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Cam, Head, Port, Side
from portwright.model.job import Job, Stage
from portwright.model.run import Reading, Run
from portwright.units import Kind, read

AT_28 = Calibration("B1", 1, "2026-01-01", Metering.DIRECT, read("28 inH2O", Kind.PRESSURE))
AT_10 = replace(AT_28, reads_at=read("10 inH2O", Kind.PRESSURE))


def part(calibration: Calibration, code: str) -> ShopContents:
    lift = Reading(read("1 mm", Kind.LENGTH), flow=read("18 cfm", Kind.FLOW))
    run = Run(code, "J", "I1", "S0", "B1", calibration.version, readings=(lift,))
    return ShopContents(calibrations=(calibration,), jobs=(JobContents(Job("J"), runs=(run,)),))


def used(shop: ShopContents) -> dict[str, Calibration]:
    by_version = {c.version: c for c in shop.calibrations}
    return {run.code: by_version[run.calibration] for run in shop.jobs[0].runs}


def test_calibrations_that_differ_get_their_own_version_and_keep_their_runs() -> None:
    shop = merge_contents(part(AT_28, "R1"), part(AT_10, "R2"))
    assert [c.version for c in shop.calibrations] == [1, 2]
    assert {code: str(c.reads_at) for code, c in used(shop).items()} == {
        "R1": "28 inH2O",
        "R2": "10 inH2O",
    }


def test_calibrations_that_read_alike_become_one_whatever_their_number() -> None:
    shop = merge_contents(
        part(AT_10, "R1"), part(AT_28, "R2"), part(replace(AT_28, version=7), "R3")
    )
    assert [c.version for c in shop.calibrations] == [1, 2]
    assert {code: c.version for code, c in used(shop).items()} == {"R1": 1, "R2": 2, "R3": 2}


def test_a_shared_calibration_holds_from_the_earlier_date() -> None:
    earlier = replace(AT_28, valid_from="2019-05-01")
    assert merge_contents(part(AT_28, "R1"), part(earlier, "R2")).calibrations == (earlier,)
    assert merge_contents(part(earlier, "R1"), part(AT_28, "R2")).calibrations == (earlier,)


def stages(codes: str) -> tuple[Stage, ...]:
    return tuple(Stage(code) for code in codes.split())


@pytest.mark.parametrize(
    ("one", "two", "both"),
    [
        ("S0 S7", "S0 S1 S2 S7", "S0 S1 S2 S7"),
        ("S0 S1 S2 S7", "S0 S7", "S0 S1 S2 S7"),
        ("S0 S2", "S2 S3", "S0 S2 S3"),
        ("S0 S3", "S0 S1 S2", "S0 S1 S2 S3"),
        ("S0", "trial", "S0 trial"),
        ("", "S0 S1", "S0 S1"),
    ],
)
def test_stages_stay_in_order_of_work(one: str, two: str, both: str) -> None:
    assert merge_stages(stages(one), stages(two)) == stages(both)


def test_blanks_are_filled_and_what_is_written_stays() -> None:
    first = ShopContents(
        benches=(Bench("B1"),),
        jobs=(
            JobContents(
                Job("J", customer="A", facts={"fuel": "petrol"}),
                heads=(Head("L"),),
                ports=(Port("I1", Side.INTAKE),),
                stages=(Stage("S0"),),
            ),
        ),
    )
    second = ShopContents(
        benches=(Bench("B1", "Old bench"), Bench("B2")),
        jobs=(
            JobContents(
                Job("J", customer="B", vehicle="car", facts={"fuel": "methanol", "bore": "90"}),
                heads=(Head("L", serial="7"),),
                ports=(Port("I1", Side.INTAKE, "L", 1),),
                stages=(Stage("S0", "as received"),),
            ),
            JobContents(Job("K")),
        ),
    )
    shop = merge_contents(first, second)
    assert shop.benches == (Bench("B1", "Old bench"), Bench("B2"))
    job, other = shop.jobs
    assert other.job.number == "K"
    assert (job.job.customer, job.job.vehicle) == ("A", "car")
    assert job.job.facts == {"fuel": "petrol", "bore": "90"}
    assert job.heads == (Head("L", serial="7"),)
    assert job.ports == (Port("I1", Side.INTAKE, "L", 1),)
    assert job.stages == (Stage("S0", "as received"),)


def cams(*cards: str) -> ShopContents:
    lash = read("0.35 mm", Kind.LENGTH)
    found = tuple(Cam(card, lash=None if card == UNNAMED_CAM else lash) for card in cards)
    return ShopContents(jobs=(JobContents(Job("J"), cams=found),))


def test_a_table_without_card_joins_the_only_card() -> None:
    joined = merge_contents(cams(UNNAMED_CAM), cams("C-1")).jobs[0].cams
    assert [(c.card, str(c.lash)) for c in joined] == [("C-1", "0.35 mm")]
    apart = merge_contents(cams(UNNAMED_CAM), cams("C-1", "C-2")).jobs[0].cams
    assert [c.card for c in apart] == [UNNAMED_CAM, "C-1", "C-2"]


def test_one_run_number_for_two_runs_is_refused() -> None:
    assert len(merge_contents(part(AT_28, "R1"), part(AT_28, "R1")).jobs[0].runs) == 1
    with pytest.raises(InputError, match="R1 is there twice"):
        merge_contents(part(AT_28, "R1"), part(AT_10, "R1"))


def test_nothing_merges_to_nothing() -> None:
    assert merge_contents() == ShopContents()
