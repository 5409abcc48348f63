"""Plates over time, the list before a session, calibration versions, foreign sheets."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.core.control_chart import Alarm, control_chart
from portwright.errors import InputError, RangeError, ShapeError, UnknownNameError
from portwright.services.bench_health import (
    BEFORE_A_SESSION,
    add_calibration,
    add_plate_check,
    bench_health,
    checklists,
    keep_checklist,
    recompute,
    study_steps,
)
from portwright.services.claims import Possible, claims
from portwright.services.demo import DEMO_JOB

SPREAD = 0.002


def sessions(values: list[float]) -> list[Alarm]:
    value = np.array(values)
    return list(control_chart(value, np.full(value.size, 3.0), SPREAD).alarms)


def test_a_steady_bench_raises_no_alarm() -> None:
    dice = np.random.default_rng(3)
    assert set(sessions(list(dice.normal(-0.03, 0.004, 40)))) == {Alarm.NONE}


def test_a_step_is_seen_at_once_and_a_drift_before_any_single_session() -> None:
    quiet = [0.0, 0.003, -0.002, 0.001, -0.003]
    assert sessions([*quiet, 0.03])[-1] is Alarm.STEP
    drifting = sessions([*quiet, 0.002, 0.004, 0.006, 0.008, 0.009, 0.010, 0.0105, 0.011, 0.011])
    first = next(a for a in drifting if a is not Alarm.NONE)
    assert first is Alarm.DRIFT


def test_false_alarms_are_rare() -> None:
    dice = np.random.default_rng(5)
    alarms = [
        a is not Alarm.NONE
        for _ in range(60)
        for a in sessions(list(dice.normal(0.0, 0.004, 15)))[5:]
    ]
    assert np.mean(alarms) < 0.03  # three standard deviations twice over, with a learned centre


def test_moving_average_by_hand() -> None:
    chart = control_chart(np.array([0.0, 0.01]), np.ones(2), 0.0, session=0.004)
    assert chart.average == pytest.approx([0.0, 0.002])
    assert chart.high[0] == pytest.approx(0.012)  # three times 0.4 %
    assert chart.high[1] == pytest.approx(0.012 * 2.0**0.5)  # the centre is one session itself
    with pytest.raises(ShapeError):
        control_chart(np.empty(0), np.empty(0), SPREAD)
    with pytest.raises(RangeError):
        control_chart(np.array([np.nan]), np.ones(1), SPREAD)


def test_the_demo_benches(demo_archive: Archive) -> None:
    old, new = bench_health(demo_archive, "B1"), bench_health(demo_archive, "B2")
    assert "bench-reads-off" in {f.code for f in old.findings}
    assert "bench-reads-off" not in {f.code for f in new.findings}
    assert not any(a for p in new.plates for a in p.chart.alarms)
    assert [p.plate for p in new.plates] == ["P1", "P2", "P3", "P4", "P5"]
    with pytest.raises(UnknownNameError, match="B1"):
        bench_health(demo_archive, "B7")


def test_readings_lists_and_study_are_kept(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        assert add_plate_check(archive, "B2", "P3", "69.6 cfm", ["72.4", "72.6"], "2026-04-01") == 2
        found = bench_health(archive, "B2")
        assert {"plate-step"} == {f.code for f in found.findings if f.code.startswith("plate-")}
        with pytest.raises(InputError, match="Tick"):
            keep_checklist(archive, "B2", [])
        keep_checklist(archive, "B2", list(BEFORE_A_SESSION), "T. V.-L.")
        assert checklists(archive, "B2")[0].by == "T. V.-L."
        done = [ok for ok, _ in study_steps(bench_health(archive, "B2"))]
        assert done[0]


def test_a_new_calibration_recomputes_without_touching_rows(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        before = archive.job("TH-14-019").runs
        made = add_calibration(archive, "B1", "2011-05-01", {4: "69.3 cfm"}, "plate 4 replaced")
        changed = {r.run: r.change for r in recompute(archive, "B1", made.version)}
        again = archive.job("TH-14-019").runs
        # only range 4 changed, by 5 %: four of the nine lifts of the 2014 intake sweep
        assert changed["2014-06-17-B1-I1-S0-1"] == pytest.approx(0.05 * 4 / 9, rel=1e-6)
        assert again == before
        with pytest.raises(InputError, match="reason"):
            add_calibration(archive, "B1", "", {4: "69 cfm"}, " ")
        with pytest.raises(UnknownNameError, match="range"):
            add_calibration(archive, "B1", "", {9: "69 cfm"}, "why")
        with pytest.raises(InputError, match="no ranges"):
            add_calibration(archive, "B2", "", {1: "69 cfm"}, "why")


def test_the_foreign_sheet_is_refused_with_the_right_questions(demo_archive: Archive) -> None:
    (claim,) = claims(demo_archive, DEMO_JOB)
    assert claim.possible is Possible.NO
    assert claim.flows[0].possible is Possible.NO
    assert "needs an effective area of 272 mm²" in claim.sentence()
    asked = " ".join(claim.questions)
    for word in ("bench", "bore adapter", "radius", "swept", "valve"):
        assert word in asked
    assert "test pressure" not in asked  # it is stated
    assert claims(demo_archive, "TH-14-019") == []


def test_the_commands(demo_path: Path) -> None:
    shop = ["--shop", str(demo_path)]
    known = json.loads(CliRunner().invoke(app, ["bench", "B2", "--json", *shop]).output)
    assert len(known["plates"]) == 5
    said = CliRunner().invoke(app, ["claims", DEMO_JOB, *shop]).output
    assert "Not possible as stated" in said
    assert "ranked nowhere" in said
