"""The sensitivity table of the demo engine."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_sensitivity import CHANGES, Sensitivity, sensitivity, told


@pytest.fixture(scope="module")
def table(demo_archive: Archive) -> Sensitivity:
    return sensitivity(demo_archive, DEMO_JOB, stage="S7", speeds=(7000.0,), workers=2)


def test_every_change_has_its_row_largest_first(table: Sensitivity) -> None:
    assert {e.name for e in table.effects} == set(CHANGES)
    sizes = [abs(e.mean) for e in table.effects]
    assert sizes == sorted(sizes, reverse=True)
    assert all(np.isfinite(e.gain).all() for e in table.effects)


def test_directions_that_physics_demands(table: Sensitivity) -> None:
    gain = {e.name: float(e.gain[0]) for e in table.effects}
    # compression: Otto efficiency rises by 1.2 % from 11.2 to 11.7 at gamma 1.3
    assert 0.002 < gain["+0.5 compression ratio"] < 0.02
    # the valve limits filling at 7000 rpm, so more lift fills more
    assert 0.005 < gain["+1 mm lift"] < 0.06
    assert abs(gain["+1 % smallest section"]) < 0.02
    assert told(gain["+1 mm lift"])
    assert not told(0.0005)
    assert not told(float("nan"))
