"""Readings entered one by one, corrected, taken back and disputed."""

from __future__ import annotations

import pytest

from portwright.archive.archive import Archive
from portwright.errors import ConflictError, UnknownNameError
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from tests.archive import archive_values as values

BOTH_ENGINES = True


def flows(archive: Archive, run: str = "R1") -> list[str]:
    return [str(r.flow) for r in archive.run(f"J-1/{run}").readings]


def test_a_sweep_grows_reading_by_reading(archive: Archive) -> None:
    archive.add_run(values.run("R9", readings=0))
    for number in (1, 2, 3):
        stored = archive.add_reading("J-1", "R9", values.reading(str(number), f"{number}0"))
        assert stored.position == number
    assert flows(archive, "R9") == ["10 cfm", "20 cfm", "30 cfm"]


def test_a_correction_takes_the_place_of_the_old_reading(archive: Archive) -> None:
    second = archive.readings("J-1", "R1")[1]
    archive.add_reading("J-1", "R1", values.reading("2", "44"), second.id, "misread")
    assert flows(archive) == ["20.5 cfm", "44 cfm", "60.5 cfm"]


def test_a_withdrawn_reading_leaves_the_sweep_and_its_lift_is_free(archive: Archive) -> None:
    second = archive.readings("J-1", "R1")[1]
    archive.withdraw_reading("J-1", "R1", second.id, "plug fell out")
    archive.withdraw_reading("J-1", "R1", second.id, "sent twice")
    assert flows(archive) == ["20.5 cfm", "60.5 cfm"]
    archive.add_reading("J-1", "R1", values.reading("2", "41"))
    assert flows(archive) == ["20.5 cfm", "60.5 cfm", "41 cfm"]


def test_what_was_read_before_is_never_shown_stale(archive: Archive) -> None:
    """Readings are kept in memory between questions; every kind of new row must show."""

    def seen() -> list[str]:
        newest = archive.runs_of_bench(archive.run("J-1/R1").bench, 50)
        in_job = archive.job("J-1").runs
        of_bench, of_job = (
            [
                str(r.flow)
                for run in runs
                if (run.job, run.code) == ("J-1", "R1")
                for r in run.readings
            ]
            for runs in (newest, in_job)
        )
        assert of_bench == of_job
        return of_bench

    assert seen() == seen() == ["20.5 cfm", "40.5 cfm", "60.5 cfm"]
    first, second, _ = archive.readings("J-1", "R1")
    archive.add_reading("J-1", "R1", values.reading("2", "44"), second.id, "misread")
    assert seen() == ["20.5 cfm", "44 cfm", "60.5 cfm"]
    archive.withdraw_reading("J-1", "R1", first.id, "plug fell out")
    assert seen() == ["44 cfm", "60.5 cfm"]
    archive.add_reading("J-1", "R1", values.reading("4", "80"))
    assert seen() == ["44 cfm", "60.5 cfm", "80 cfm"]


def test_a_reading_of_nothing_but_lift_is_still_a_reading(archive: Archive) -> None:
    archive.add_reading("J-1", "R1", Reading(lift=values.mm("9")))
    assert [r.lift.text for r in archive.run("J-1/R1").readings] == ["1", "2", "3", "9"]


def test_a_reading_sent_twice_is_stored_once(archive: Archive) -> None:
    first = archive.add_reading("J-1", "R1", values.reading("4", "80"))
    assert archive.add_reading("J-1", "R1", values.reading("4", "80")) == first
    corrected = archive.add_reading("J-1", "R1", values.reading("4", "81"), first.id, "misread")
    again = archive.add_reading("J-1", "R1", values.reading("4", "81"), first.id, "misread")
    assert again == corrected
    assert len(archive.readings("J-1", "R1")) == 4
    assert archive.set_aside("J-1", "R1") == []


def test_second_value_for_a_lift_is_kept_aside_until_someone_decides(archive: Archive) -> None:
    with pytest.raises(ConflictError, match="Both values are stored"):
        archive.add_reading("J-1", "R1", values.reading("2,0", "47"))
    assert flows(archive) == ["20.5 cfm", "40.5 cfm", "60.5 cfm"]
    (contested,) = archive.set_aside("J-1", "R1")
    assert str(contested.aside.reading.flow) == "47 cfm"
    assert contested.counting is not None
    assert str(contested.counting.reading.flow) == "40.5 cfm"


@pytest.mark.parametrize(
    ("keep", "expected"),
    [(True, ["20.5 cfm", "47 cfm", "60.5 cfm"]), (False, ["20.5 cfm", "40.5 cfm", "60.5 cfm"])],
)
def test_the_decision_counts_once(archive: Archive, keep: bool, expected: list[str]) -> None:
    with pytest.raises(ConflictError):
        archive.add_reading("J-1", "R1", values.reading("2", "47"))
    aside = archive.set_aside("J-1", "R1")[0].aside.id
    archive.settle("J-1", "R1", aside, "checked at the bench", keep=keep)
    assert flows(archive) == expected
    assert archive.set_aside("J-1", "R1") == []
    with pytest.raises(ConflictError, match="decided"):
        archive.settle("J-1", "R1", aside, "again", keep=keep)


def test_two_corrections_of_one_reading_are_both_kept(archive: Archive) -> None:
    second = archive.readings("J-1", "R1")[1]
    archive.add_reading("J-1", "R1", values.reading("2", "44"), second.id, "tablet one")
    with pytest.raises(ConflictError):
        archive.add_reading("J-1", "R1", values.reading("2", "45"), second.id, "tablet two")
    (contested,) = archive.set_aside("J-1", "R1")
    assert str(contested.aside.reading.flow) == "45 cfm"
    assert flows(archive)[1] == "44 cfm"
    with pytest.raises(ConflictError, match="in the meantime"):
        archive.withdraw_reading("J-1", "R1", second.id, "tablet three")


def test_a_correction_onto_the_lift_of_another_reading_is_disputed(archive: Archive) -> None:
    first = archive.readings("J-1", "R1")[0]
    with pytest.raises(ConflictError):
        archive.add_reading("J-1", "R1", values.reading("2", "20.5"), first.id, "wrong lift")
    assert flows(archive) == ["20.5 cfm", "40.5 cfm", "60.5 cfm"]


def test_a_reading_of_another_run_cannot_be_corrected(archive: Archive) -> None:
    elsewhere = archive.readings("J-2", "R1")[0]
    with pytest.raises(ConflictError, match="not in this sweep"):
        archive.add_reading("J-1", "R1", values.reading("1", "9"), elsewhere.id, "mix-up")
    with pytest.raises(ConflictError, match="not in this sweep"):
        archive.withdraw_reading("J-1", "R1", elsewhere.id, "mix-up")


def test_a_run_is_left_out_and_taken_back_in(archive: Archive) -> None:
    archive.mark_run("J-1", "R1", "cold bench")
    assert archive.run("J-1/R1").left_out == "cold bench"
    archive.mark_run("J-1", "R1", "")
    assert archive.run("J-1/R1").left_out == ""


def test_a_measurement_corrected_by_two_people_is_a_conflict(archive: Archive) -> None:
    old = values.job().measurements[2]
    archive.replace_measurement("J-1", old, AsTyped("48.6", "cc", 48.6e-6), "meniscus")
    with pytest.raises(ConflictError, match="another value"):
        archive.replace_measurement("J-1", old, AsTyped("48.7", "cc", 48.7e-6), "late")


def test_an_unknown_run_offers_those_of_the_job(archive: Archive) -> None:
    with pytest.raises(UnknownNameError, match="R1"):
        archive.readings("J-1", "R7")
