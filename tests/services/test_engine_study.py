"""Varied engines: every combination, search, stopping and going on, a cluster."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from portwright.archive.archive import Archive
from portwright.errors import InputError, SolveCancelledError
from portwright.model.engine import Grouping
from portwright.services import engine_cluster
from portwright.services.demo import DEMO_JOB
from portwright.services.engine_facts import set_engine_value
from portwright.services.engine_knobs import read_ranges
from portwright.services.engine_pool import runner
from portwright.services.engine_study import Goal, Study, study
from portwright.services.engine_study_wording import study_lines, values_text
from portwright.services.shop_file import open_shop

RANGES = read_ranges(["lift=0:1:0.5", "advance=-4:4:4"])
SPEED = (6500.0,)


@pytest.fixture
def shop(tmp_path: Path, demo_path: Path) -> Iterator[Archive]:
    copy = tmp_path / "copy.shop"
    shutil.copy(demo_path, copy)
    with open_shop(copy) as archive:
        # own pipes: one cylinder is simulated, the same questions take a third of the time
        set_engine_value(archive, DEMO_JOB, "grouping", Grouping.SEPARATE)
        yield archive


def gains(found: Study) -> dict[tuple[float, ...], float]:
    return {c.values: c.gain for c in found.tried}


def test_a_stopped_sweep_goes_on_and_gives_the_same_answer(shop: Archive) -> None:
    def four(done: int, total: int) -> bool:
        assert total == 10
        return done < 4

    with pytest.raises(SolveCancelledError, match="4 combinations of this engine are kept"):
        study(shop, DEMO_JOB, RANGES, speeds=SPEED, workers=1, progress=four)
    told: list[int] = []

    def count(done: int, _: int) -> bool:
        told.append(done)
        return True

    found = study(shop, DEMO_JOB, RANGES, speeds=SPEED, workers=1, progress=count)
    # nine combinations, of which one is the engine as it is; five were left
    assert len(told) == 5
    assert found.known == 4
    assert len(found.tried) == 9
    again = study(shop, DEMO_JOB, RANGES, speeds=SPEED, workers=1, afresh=True)
    assert again.known == 0
    assert gains(again) == gains(found), "a solver started from rest gives the same digits"
    assert found.tried[0].gain == max(gains(found).values())
    assert gains(found)[0.0, 0.0] == 0.0
    # more lift fills more at this speed: the valve limits (see the sensitivity table)
    assert gains(found)[1.0, 0.0] > 0.005
    assert study_lines(found)[0].startswith("Most mean torque from 6500")
    best = found.tried[0]
    assert "full intake lift +" in values_text(found, best)
    if best.values[0] == 1.0:
        assert "best-at-a-limit" in {f.code for f in found.findings}


def test_a_search_uses_what_a_sweep_found(shop: Archive) -> None:
    every = study(shop, DEMO_JOB, RANGES, speeds=SPEED, workers=1)
    found = study(shop, DEMO_JOB, RANGES, speeds=SPEED, workers=1, tries=30, goal=Goal.POWER)
    assert found.known == len(found.tried) <= 9
    assert found.tried[0].gain == pytest.approx(every.tried[0].gain, rel=1e-12)
    # another speed is another engine question: nothing of it is known
    other = study(shop, DEMO_JOB, read_ranges(["lift=0:0.5:0.5"]), speeds=(6000.0,), workers=1)
    assert other.known == 0


def test_the_same_sweep_on_a_cluster_of_two_workers(shop: Archive) -> None:
    distributed = pytest.importorskip("distributed")
    ranges = read_ranges(["lift=0:1:0.5"])
    here = study(shop, DEMO_JOB, ranges, speeds=SPEED, workers=1)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        there = study(
            shop,
            DEMO_JOB,
            ranges,
            speeds=SPEED,
            cluster=cluster.scheduler_address,
            afresh=True,
        )
        assert there.known == 0
        with (
            runner(cluster=cluster.scheduler_address),
            distributed.Client(cluster, set_as_default=False) as client,
        ):
            assert len(client.run(engine_cluster._version)) == 2
    assert gains(there).keys() == gains(here).keys()
    # the same machine code on the same computer
    assert [gains(there)[k] for k in gains(here)] == pytest.approx(
        list(gains(here).values()), abs=1e-9
    )
    assert np.array_equal(there.speed, here.speed)


def test_a_cluster_that_cannot_be_used_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setitem(sys.modules, "distributed", None)
        with pytest.raises(InputError, match="not installed"), runner(cluster="tcp://127.0.0.1:9"):
            pass
    pytest.importorskip("distributed")
    monkeypatch.setattr(engine_cluster, "_PATIENCE", "1s")
    with (
        pytest.raises(InputError, match="No scheduler answers"),
        runner(cluster="tcp://127.0.0.1:9"),
    ):
        pass
