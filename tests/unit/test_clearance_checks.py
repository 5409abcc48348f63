"""A clearance counts as checked only where its own check was recorded, with instrument and day."""

from __future__ import annotations

import pytest

from portwright.model.contents import JobContents
from portwright.model.job import Job, Measurement
from portwright.services.clearances import USUAL_CHECKS, open_checks, usual_checks
from portwright.units import Kind, typed


def job_with(*places: str, day: str = "2026-03-18") -> JobContents:
    values = (
        Measurement(
            "", "clearance", typed(1.0 + i, "mm", Kind.LENGTH), place, instrument="clay", date=day
        )
        for i, place in enumerate(places)
    )
    return JobContents(Job("1"), measurements=tuple(values))


def on_record(contents: JobContents) -> dict[str, str]:
    return {c.name: str(c.found.value) for c in usual_checks(contents) if c.found is not None}


def test_the_bore_check_is_not_taken_for_the_piston_check() -> None:
    contents = job_with("Intake valve edge to bore")
    assert on_record(contents) == {"Valve edge to bore": "1 mm"}
    assert "Intake valve to piston" in open_checks(contents)
    assert "Valve edge to bore" not in open_checks(contents)


def test_each_recorded_check_keeps_its_own_value() -> None:
    contents = job_with("Intake valve to piston, 10 deg ATDC", "Intake valve edge to bore")
    assert on_record(contents) == {
        "Intake valve to piston": "1 mm",
        "Valve edge to bore": "2 mm",
    }


def test_a_value_without_its_day_is_on_record_and_still_open() -> None:
    contents = job_with("Intake valve edge to bore", day="")
    assert on_record(contents) == {"Valve edge to bore": "1 mm"}
    assert open_checks(contents) == list(USUAL_CHECKS)


@pytest.mark.parametrize(
    ("place", "check"),
    [
        ("Exhaust valve to piston, 10 deg BTDC", "Exhaust valve to piston"),
        ("Valve to valve at overlap", "Valve to valve at overlap"),
        ("Valve radial in pocket", "Valve radial in pocket"),
        ("Retainer to guide seal at max lift", "Retainer to guide seal at full lift"),
        ("Spring coil-bind margin", "Spring coil bind margin"),
    ],
)
def test_usual_wording_is_understood(place: str, check: str) -> None:
    assert list(on_record(job_with(place))) == [check]


def test_an_empty_job_has_everything_open() -> None:
    assert len(open_checks(job_with())) == len(USUAL_CHECKS)
