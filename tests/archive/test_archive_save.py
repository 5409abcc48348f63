"""Saving into a shop file that holds something already."""

from __future__ import annotations

import dataclasses

import pytest

from portwright.archive.archive import Archive
from portwright.errors import InputError, RangeError, UnknownNameError
from portwright.model.bench import Bench, Calibration, Metering
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Head, Port, Side
from portwright.model.job import Job, Measurement, Shop
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from tests.archive import archive_values as values

BOTH_ENGINES = True


def one_job(*contents: JobContents) -> ShopContents:
    return ShopContents(jobs=contents)


def test_a_sheet_read_twice_adds_nothing(archive: Archive) -> None:
    report = archive.save(values.shop())
    assert report.added == {}
    assert report.conflicts == []
    assert report.already_there["measurement"] == 6
    assert archive.contents() == values.shop()


def test_a_corrected_run_still_knows_the_sheet_it_came_from(archive: Archive) -> None:
    first = archive.readings("J-1", "R1")[0]
    archive.add_reading("J-1", "R1", values.reading("1", "22.5"), first.id, "misread")
    assert archive.save(values.shop()).conflicts == []
    assert archive.save(archive.contents()).conflicts == []
    assert str(archive.run("J-1/R1").readings[0].flow) == "22.5 cfm"


def test_a_corrected_measurement_is_not_put_back_by_its_sheet(archive: Archive) -> None:
    old = values.job().measurements[2]
    archive.replace_measurement("J-1", old, AsTyped("48.6", "cc", 48.6e-6), "meniscus")
    archive.save(values.shop())
    chambers = [m for m in archive.job("J-1").measurements if m.quantity == "chamber volume"]
    assert [m.value.text for m in chambers] == ["48.6"]


def test_a_third_equal_measurement_is_added_once(archive: Archive) -> None:
    sheet = values.job()
    thrice = dataclasses.replace(sheet, measurements=sheet.measurements[:1] * 3)
    assert archive.save(one_job(thrice)).added == {"measurement": 1}
    assert archive.save(one_job(thrice)).added == {}


def test_other_readings_under_a_known_run_code_are_refused_and_told(archive: Archive) -> None:
    other = values.job(runs=(values.run(readings=5),))
    report = archive.save(one_job(other))
    assert len(report.conflicts) == 1
    assert "run R1" in report.conflicts[0]
    assert "3 readings stored, 5 offered" in report.conflicts[0]
    assert archive.run("J-1/R1").readings == values.run().readings


def test_empty_fields_are_filled_and_different_ones_kept(archive: Archive) -> None:
    sheet = JobContents(
        job=Job("J-2", promised="2026-03-20", goal="9000 rpm", facts={"fuel": "E85", "oil": "0W"}),
        heads=(Head("R", serial="R-0907"),),
        ports=(Port("I1", Side.INTAKE, cylinder=2),),
    )
    before = archive.job("J-2").job
    report = archive.save(one_job(sheet))
    after = archive.job("J-2")
    assert after.job == dataclasses.replace(
        before, promised="2026-03-20", facts=before.facts | {"oil": "0W"}
    )
    assert after.heads[1] == Head("R", "C-6207", "R-0907")
    assert after.ports[0].cylinder == 1
    told = " ".join(report.conflicts)
    assert "goal '4000-7200 rpm', not '9000 rpm'" in told
    assert "fuel '98 RON', not 'E85'" in told
    assert "cylinder '1', not '2'" in told


def test_an_import_never_overwrites_the_shop_but_saving_it_does(archive: Archive) -> None:
    report = archive.save(ShopContents(shop=Shop("Another name", currency="GBP")))
    shop = archive.shop()
    assert shop is not None
    assert shop.name == "Workshop (invented)"
    assert shop.currency == "GBP"  # the default says nothing, so it was still open
    assert "name" in report.conflicts[0]
    archive.save_shop(Shop("Another name"))
    assert archive.shop() == Shop("Another name")


def test_a_bench_first_seen_on_a_flow_sheet_is_filled_in_later(empty: Archive) -> None:
    empty.save(one_job(values.job()))
    assert empty.benches() == [Bench("B2")]
    assert "not checked yet" in empty.calibrations()[0].reason
    shop = values.shop()
    report = empty.save(dataclasses.replace(shop, jobs=()))
    assert report.conflicts == []
    assert empty.calibrations() == list(shop.calibrations)
    assert empty.benches() == list(shop.benches)


def test_a_calibration_once_entered_is_only_followed_by_a_newer_version(archive: Archive) -> None:
    changed = Calibration("B2", 1, "2019-05-01", Metering.DIRECT, None, relative_uncertainty=0.02)
    report = archive.save(ShopContents(calibrations=(changed,)))
    assert "B2 calibration 1" in report.conflicts[0]
    assert archive.calibrations() == list(values.shop().calibrations)
    newer = dataclasses.replace(changed, version=2)
    assert archive.save(ShopContents(calibrations=(newer,))).conflicts == []
    assert archive.calibrations()[-1] == newer


def test_a_run_code_used_in_two_jobs_must_be_told_apart(archive: Archive) -> None:
    assert archive.run("J-2/R1").job == "J-2"
    assert archive.run("R2").job == "J-2"
    with pytest.raises(InputError, match="J-1/R1, J-2/R1"):
        archive.run("R1")
    with pytest.raises(UnknownNameError):
        archive.run("J-1/R2")


def test_codes_may_contain_slashes(empty: Archive) -> None:
    empty.save(one_job(values.job("26/041", runs=(values.run("R/1", "26/041"),))))
    assert empty.run("R/1").job == "26/041"
    assert empty.run("26/041/R/1").code == "R/1"


def test_a_run_on_an_unknown_port_stores_nothing(empty: Archive) -> None:
    broken = dataclasses.replace(values.job(), ports=())
    with pytest.raises(InputError, match="port 'I1'"):
        empty.save(one_job(broken))
    assert empty.contents() == ShopContents()


def test_a_run_brings_the_stage_it_names(empty: Archive) -> None:
    empty.save(one_job(dataclasses.replace(values.job(), stages=())))
    assert [s.code for s in empty.job("J-1").stages] == ["S0"]


def test_unknown_job_offers_the_nearest(archive: Archive) -> None:
    with pytest.raises(UnknownNameError, match="J-1"):
        archive.job("J-11")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(archive: Archive, value: float) -> None:
    silly = AsTyped("?", "mm", value)
    with pytest.raises(RangeError, match="finite"):
        archive.add_measurements("J-1", [Measurement("I1", "throat diameter", silly)])
    with pytest.raises(RangeError, match="finite"):
        archive.add_reading("J-1", "R1", Reading(lift=silly))


def test_text_that_cannot_be_stored_is_an_input_error(archive: Archive) -> None:
    with pytest.raises(InputError, match="cannot be stored"):
        archive.add_job(Job("broken \ud800"))
    with pytest.raises(InputError, match="cannot be stored"):
        archive.add_port("J-1", Port("I2", Side.INTAKE, cylinder=2**70))
    assert [j.number for j in archive.jobs()] == ["J-2", "J-1"]
