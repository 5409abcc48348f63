"""A clearance counts as measured only where its own check was recorded."""

from __future__ import annotations

import pytest

from portwright.model.contents import JobContents
from portwright.model.job import Job, Measurement
from portwright.services.clearances import USUAL_CHECKS, measured_checks, open_checks
from portwright.units import Kind, typed


def job_with(*places: str) -> JobContents:
    values = (
        Measurement("", "clearance", typed(1.0 + i, "mm", Kind.LENGTH), place)
        for i, place in enumerate(places)
    )
    return JobContents(Job("1"), measurements=tuple(values))


def test_the_bore_check_is_not_taken_for_the_piston_check() -> None:
    contents = job_with("Intake valve edge to bore")
    assert measured_checks(contents) == {"Valve edge to bore": "1 mm"}
    assert "Intake valve to piston: not checked yet." in open_checks(contents)


def test_each_recorded_check_keeps_its_own_value() -> None:
    contents = job_with("Intake valve to piston, 10 deg ATDC", "Intake valve edge to bore")
    assert measured_checks(contents) == {
        "Intake valve to piston": "1 mm",
        "Valve edge to bore": "2 mm",
    }


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
    assert list(measured_checks(job_with(place))) == [check]


def test_an_empty_job_has_everything_open() -> None:
    assert len(open_checks(job_with())) == len(USUAL_CHECKS)
