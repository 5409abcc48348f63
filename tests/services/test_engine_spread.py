"""Cylinder-to-cylinder spread, and other ways an engine may be built."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.core.engine.sweep import Piece, run_piece
from portwright.core.gas1d.operating import OperatingPoint
from portwright.core.gas1d.simulate import Settings
from portwright.errors import InputError
from portwright.services.compare import archive_pressure
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_case import TwoHeads, two_heads
from portwright.services.engine_facts import set_engine_value
from portwright.services.engine_spread import port_spread
from portwright.services.findings import check_job

QUICK = Settings(cell=15e-3, tolerance=2e-3)


def test_the_port_at_the_wall_limit_gives_least(demo_archive: Archive) -> None:
    found = port_spread(demo_archive, DEMO_JOB, stage="S7", speeds=(7000.0,), workers=2)
    deviation = {p.port: float(p.deviation[0]) for p in found.ports}
    # the pinch of I4 stopped at the wall: its sweeps read 4 to 5 % less at full lift
    assert min(deviation, key=lambda code: deviation[code]) == "I4"
    assert np.mean(list(deviation.values())) == pytest.approx(0.0, abs=1e-12)
    assert 0.005 < float(found.spread[0]) < 0.06
    assert all(0.0 < p.doubt < 0.02 for p in found.ports)


def test_one_port_alone_has_no_spread(demo_archive: Archive) -> None:
    with pytest.raises(InputError, match="two intake ports"):
        port_spread(demo_archive, DEMO_JOB, stage="S3", speeds=(7000.0,), workers=1)


def heads_with(path: Path, *values: tuple[str, str]) -> TwoHeads:
    with Archive.open(path) as archive:
        for name, text in values:
            set_engine_value(archive, DEMO_JOB, name, text)
        checked = check_job(archive, DEMO_JOB)
        return two_heads(checked, archive_pressure(archive), "I1", "S7", "S7")


def torque(two: TwoHeads, speed: float = 5500.0) -> float:
    (point,) = run_piece(Piece(("x", 0), two.case, two.after.head, (speed,), QUICK)).points
    assert isinstance(point, OperatingPoint), point
    return point.torque


def test_groups_of_cylinders(demo_path: Path) -> None:
    bank = heads_with(demo_path)
    assert bank.case.mechanics.firing == (0.0, 240.0, 480.0)
    assert [c.cylinders for c in bank.case.collectors] == [(0, 1, 2)]
    assert bank.case.scale == 2.0
    alone = heads_with(demo_path, ("grouping", "separate pipes"))
    assert (alone.case.mechanics.cylinders, alone.case.scale) == (1, 6.0)
    assert alone.case.collectors == ()
    shared = heads_with(
        demo_path, ("grouping", "one collector per head"), ("induction", "restrictor")
    )
    assert shared.case.mechanics.cylinders == 6
    assert [c.cylinders for c in shared.case.collectors] == [(0, 2, 4), (1, 3, 5)]


def test_a_small_restrictor_boost_and_fuel_move_torque_as_they_must(demo_path: Path) -> None:
    plain = torque(heads_with(demo_path))
    boosted = torque(heads_with(demo_path, ("boost", "30 kPa")))
    # 30 % more pressure at the same temperature: 25 to 45 % more torque, friction staying
    assert 1.25 < boosted / plain < 1.45
    methanol = torque(heads_with(demo_path, ("boost", "0 kPa"), ("fuel", "methanol")))
    assert methanol > plain, "evaporation cools the charge"
    throttled = torque(
        heads_with(
            demo_path,
            ("fuel", "petrol"),
            ("induction", "restrictor"),
            ("throttle_diameter", "26 mm"),
        )
    )
    # 26 mm chokes near 0.11 kg/s; 2.86 litres at 5500 rpm want about 0.15
    assert throttled < 0.85 * plain
