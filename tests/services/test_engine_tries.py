"""What was tried on an engine is kept in the shop file, and is that engine's alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.core.engine.case import EngineCase
from portwright.core.engine.change import Change
from portwright.core.gas1d.ducts import plain_pipe
from portwright.core.gas1d.engine import Mechanics
from portwright.core.gas1d.valves import lift_from_events
from portwright.services.engine_tries import Tries, same_engine

CASE = EngineCase(
    Mechanics(0.09, 0.075, 0.145, 11.2),
    6,
    lift_from_events(330.0, 600.0, 1.27e-3, 9e-3),
    lift_from_events(115.0, 385.0, 1.27e-3, 9e-3),
    plain_pipe("runner", 0.22, 0.0415),
    plain_pipe("primary", 0.6, 0.038),
)


def test_any_number_of_the_engine_makes_another_engine() -> None:
    key = same_engine(CASE, (5000.0,))
    assert key == same_engine(replace(CASE), (5000.0,))
    lift = CASE.intake_lift.copy()
    lift[1800] += 1e-9
    others = [
        same_engine(CASE, (5001.0,)),
        same_engine(replace(CASE, intake_lift=lift), (5000.0,)),
        same_engine(replace(CASE, air=replace(CASE.air, temperature=299.0)), (5000.0,)),
    ]
    assert len({key, *others}) == 4
    with pytest.raises(TypeError, match="cannot tell"):
        same_engine(object())


def test_tries_come_back_with_gaps_and_oldest_engines_are_dropped(tmp_path: Path) -> None:
    with Archive.create(tmp_path / "a.shop") as archive:
        first = Tries(archive, "first")
        first.add(Change(lift=1e-3), np.array([210.0, np.nan]))
        first.add(Change(), np.array([200.0, 190.0]))
        first.save()
        again = Tries(archive, "first")
        assert len(again) == 2
        assert again.was_kept(Change())
        found = again.get(Change(lift=1e-3))
        assert found is not None
        np.testing.assert_array_equal(found, [210.0, np.nan])
        assert again.get(Change(runner=5e-3)) is None
        assert len(Tries(archive, "first", afresh=True)) == 0
        for k in range(8):
            one = Tries(archive, f"other {k}")
            one.add(Change(), np.array([1.0]))
            one.save()
        assert len(Tries(archive, "first")) == 0
        assert len(Tries(archive, "other 0")) == 1
