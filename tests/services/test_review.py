"""Old sheets confirmed row by row, and places to leave alone carried on by casting."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.errors import InputError
from portwright.model.job import Job
from portwright.services.demo import DEMO_JOB
from portwright.services.do_not_touch import do_not_touch, leave_alone
from portwright.services.review import confirm, review
from portwright.units import Kind, from_si

SHEET = "TH-14-019/2014-06-17-B1-I1-S0-1"


def test_the_2014_sheet_keeps_its_own_numbers(demo_archive: Archive) -> None:
    found = review(demo_archive, SHEET)
    first = found.rows[0]
    assert (first.lift, first.shown, first.range_number) == ("0.050 in", "75.5 %", 2)
    assert first.full_scale == "18.0 cfm"
    # the sheet's own conversion, printed to 0.1 cfm
    roots = [from_si(r.square_root, "cfm", Kind.FLOW) for r in found.rows]
    printed = [22.7, 43.4, 62.4, 79.0, 92.2, 104.4, 112.4, 117.7, 122.1]
    assert roots == pytest.approx(printed, abs=0.06)
    # ideal gas: moving from 10 to 28 inches compressibly gives up to 2.5 % less
    ratio = np.array([r.flow / r.square_root for r in found.rows])
    assert np.all((ratio < 1.0) & (ratio > 0.97))
    assert {r.half for r in found.rows} == {0.015}
    assert found.open == 9


def test_rows_are_confirmed_one_by_one(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        raw = archive.run(SHEET)
        found = confirm(archive, SHEET, [0, 2], "R. O.-H.")
        assert [r.position for r in found.rows if r.confirmed] == [0, 2]
        assert found.open == 7
        assert archive.run(SHEET) == raw
        with pytest.raises(InputError, match="Who confirms"):
            confirm(archive, SHEET, [1], " ")
        with pytest.raises(InputError, match="no such row"):
            confirm(archive, SHEET, [99], "R. O.-H.")


def test_a_place_to_leave_alone_is_carried_on_by_casting(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        before = do_not_touch(archive, DEMO_JOB)
        assert any("5" in k.place or "5" in k.text for k in before)  # the wall at its limit
        leave_alone(archive, DEMO_JOB, "I5 pinch", "wall 2.6 mm", "T. V.-L.")
        casting = archive.job(DEMO_JOB).job.casting
        archive.add_job(Job("TH-27-001", "2027-01-10", casting=casting))
        later = do_not_touch(archive, "TH-27-001")
        assert ("I5 pinch", DEMO_JOB) in {(k.place, k.job) for k in later}
        with pytest.raises(InputError, match="Which place"):
            leave_alone(archive, DEMO_JOB, "", "why")
