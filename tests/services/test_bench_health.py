"""Plates over time, the list before a session, calibration versions, foreign sheets."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.core.control_chart import Alarm, control_chart
from portwright.errors import (
    InputError,
    PortwrightError,
    RangeError,
    ShapeError,
    UnknownNameError,
)
from portwright.model.bench import Calibration, CalibrationPoint, Metering, OrificeMeter
from portwright.model.contents import JobContents, ShopContents
from portwright.model.job import Job, SheetKind, SheetRow
from portwright.services.bench_health import (
    BEFORE_A_SESSION,
    add_plate_check,
    bench_health,
    checklists,
    keep_checklist,
    recompute,
    study_steps,
)
from portwright.services.calibrate import NewCalibration, add_calibration, points_from_plates
from portwright.services.claims import Possible, answer, claims, claims_of
from portwright.services.demo import DEMO_JOB
from portwright.services.reduce import reduce_runs
from portwright.units import Kind, read, to_si

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


def test_new_ranges_recompute_without_touching_rows(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        before = archive.job("TH-14-019").runs
        new = NewCalibration("plate 4 replaced", "2011-05-01", ranges={4: "69.3 cfm"})
        made = add_calibration(archive, "B1", new)
        changed = {r.run: r.change for r in recompute(archive, "B1", made.version)}
        again = archive.job("TH-14-019").runs
        # only range 4 changed, by 5 %: four of the nine lifts of the 2014 intake sweep
        assert changed["2014-06-17-B1-I1-S0-1"] == pytest.approx(0.05 * 4 / 9, rel=1e-6)
        assert again == before


def test_plates_correct_a_bench_that_shows_flow(demo_path: Path) -> None:
    """Between two plates the ratio is read by straight lines; beyond them it is held."""
    with Archive.open(demo_path) as archive:
        before = archive.job(DEMO_JOB).runs
        made = add_calibration(
            archive, "B2", NewCalibration("plates", points="98 cfm = 100 cfm; 196 = 204")
        )
        assert (made.version, made.metering) == (2, Metering.DIRECT)
        run = next(r for r in before if r.bench == "B2" and len(r.readings) > 8)
        old, new = (
            reduce_runs([replace(run, calibration=v)], archive.calibrations())[0].curve
            for v in (1, 2)
        )
        assert old is not None
        assert new is not None
        shown = np.array([r.flow.si for r in run.readings if r.flow]) / to_si(1.0, "cfm", Kind.FLOW)
        expected = np.interp(shown, [98.0, 196.0], [100 / 98, 204 / 196])
        np.testing.assert_allclose(new.area / old.area, expected[np.argsort(shown)], rtol=1e-9)
        assert archive.job(DEMO_JOB).runs == before


def test_plate_readings_of_a_session_become_rows(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        rows, day = points_from_plates(archive, "B2")
        checks = [c for c in archive.plate_checks() if (c.bench, c.date) == ("B2", day)]
        assert rows.count("=") == len({c.plate for c in checks})
        made = add_calibration(archive, "B2", NewCalibration("plates", points=rows))
        (first, *_) = made.table
        of_it = [c.measured.si for c in checks if c.certified.si == first.flow.si]
        # rows are written to a hundredth of a cfm
        assert first.indicated.si == pytest.approx(np.mean(of_it), abs=0.006 * 4.72e-4)
        with pytest.raises(InputError, match="0 plates were read on B2"):
            points_from_plates(archive, "B2", "1999-01-01")


@pytest.mark.parametrize(
    ("new", "said"),
    [
        (NewCalibration(" ", ranges={4: "69 cfm"}), "reason"),
        (NewCalibration("why"), "Nothing differs"),
        (NewCalibration("why", ranges={1: "69 cfm"}), "direct: it has no ranges"),
        (NewCalibration("why", bore="20 mm"), "it has no bore"),
        (NewCalibration("why", points="12"), "no row of a calibration"),
        (NewCalibration("why", points="12 = 13; 12 = 14"), "must increase"),
        (NewCalibration("why", points="0 = 1; 2 = 3"), "above zero"),
        (NewCalibration("why", uncertainty="much"), "no uncertainty"),
        (NewCalibration("why", uncertainty="50"), "cannot be"),
        (NewCalibration("why", based_on=9, uncertainty="2"), "calibration version"),
    ],
)
def test_a_calibration_that_makes_no_sense_is_refused(
    demo_archive: Archive, new: NewCalibration, said: str
) -> None:
    with pytest.raises(PortwrightError, match=said):
        add_calibration(demo_archive, "B2", new)
    assert max(c.version for c in demo_archive.calibrations() if c.bench == "B2") == 1


def test_elements_and_orifices_get_new_constants(demo_path: Path) -> None:
    length, flow, drop = Kind.LENGTH, Kind.FLOW, Kind.PRESSURE
    element = Calibration(
        "B1",
        3,
        "2020-01-01",
        Metering.FLOW_ELEMENT,
        None,
        table=tuple(
            CalibrationPoint(read(f"{k} inH2O", drop), read(f"{20 * k} cfm", flow)) for k in (1, 5)
        ),
    )
    plate = Calibration(
        "B1",
        4,
        "2021-01-01",
        Metering.ORIFICE_PLATE,
        None,
        orifice=OrificeMeter(read("30 mm", length), coefficient=0.6),
    )
    with Archive.open(demo_path) as archive:
        archive.save(ShopContents(calibrations=(element, plate)))
        made = add_calibration(archive, "B1", NewCalibration("washed", points="1 = 21; 5 = 104"))
        assert made.metering is Metering.FLOW_ELEMENT
        assert [p.flow.text for p in made.table] == ["21", "104"]
        made = add_calibration(archive, "B1", NewCalibration("new plate", coefficient="0,61"))
        assert made.orifice is not None
        assert (str(made.orifice.bore), made.orifice.coefficient) == ("30 mm", 0.61)
        with pytest.raises(InputError, match="pipe"):
            add_calibration(archive, "B1", NewCalibration("why", based_on=4, pipe="50 mm"))


def test_the_foreign_sheet_is_refused_with_the_right_questions(demo_archive: Archive) -> None:
    (claim,) = claims(demo_archive, DEMO_JOB)
    assert claim.possible is Possible.DOUBTFUL
    assert claim.flows[0].possible is Possible.DOUBTFUL  # 1.13 of the gap
    assert "needs an effective area of 272 mm²" in claim.sentence()
    asked = " ".join(claim.questions)
    for word in ("bench", "bore adapter", "radius", "swept", "valve"):
        assert word in asked
    assert "test pressure" not in asked  # it is stated
    assert claims(demo_archive, "TH-14-019") == []


@pytest.mark.parametrize(
    ("flow", "possible"),
    [("54", Possible.YES), ("62", Possible.DOUBTFUL), ("64", Possible.NO)],  # 0.98, 1.13, 1.17
)
def test_a_gap_passes_a_little_more_than_its_area_and_no_claim_much_more(
    demo_archive: Archive, flow: str, possible: Possible
) -> None:
    contents = demo_archive.job(DEMO_JOB)
    rows = tuple(
        replace(r, cells=r.cells | {"flow_cfm_claimed": flow})
        for r in contents.rows
        if r.cells.get("flow_cfm_claimed") == "62"
    )
    (claim,) = claims_of(replace(contents, rows=rows))
    assert claim.flows[0].possible is possible


def test_what_the_other_shop_answers_is_kept_beside_its_sheet(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        (claim,) = claims(archive, DEMO_JOB)
        adapter, date = claim.questions[1], claim.questions[3]
        later = answer(archive, DEMO_JOB, claim, {adapter: " 4.03 in, 7 in long", date: ""})
        assert adapter not in later.questions
        assert date in later.questions
        assert later.answers == {adapter: "4.03 in, 7 in long"}
        assert (later.flows, later.possible) == (claim.flows, claim.possible)
        with pytest.raises(InputError, match="no answer yet"):
            answer(archive, DEMO_JOB, later, {date: " "})
        with pytest.raises(UnknownNameError):
            answer(archive, DEMO_JOB, later, {"Who cares?": "nobody"})
        # a sheet without its pressure says nothing until somebody answers for it
        bare = SheetRow(SheetKind.CLAIM, {"source": "letter", "lift_in": "0.4", "flow_cfm": "171"})
        archive.save(ShopContents(jobs=(JobContents(Job(DEMO_JOB), rows=(bare,)),)))
        letter = claims(archive, DEMO_JOB)[1]
        assert letter.flows == ()
        with pytest.raises(InputError):
            answer(archive, DEMO_JOB, letter, {letter.questions[0]: "as usual"})
        letter = answer(archive, DEMO_JOB, letter, {letter.questions[0]: "28 inH2O"})
        assert letter.flows[0].area == pytest.approx(claim.flows[3].area)


def test_the_commands(demo_path: Path) -> None:
    shop = ["--shop", str(demo_path)]
    known = json.loads(CliRunner().invoke(app, ["bench", "B2", "--json", *shop]).output)
    assert len(known["plates"]) == 5
    said = CliRunner().invoke(app, ["claims", DEMO_JOB, *shop]).output
    assert "Doubtful at 1 of 5 lifts" in said
    assert "ranked nowhere" in said
    answered = ["claims", DEMO_JOB, "--answer", "2=4.03 in, 7 in long", *shop]
    assert "What bore adapter, how long? 4.03 in" in CliRunner().invoke(app, answered).output
    wrong = CliRunner().invoke(app, ["claims", DEMO_JOB, "--answer", "bore", *shop])
    assert "which question" in str(wrong.exception)


def test_a_calibration_and_a_review_by_command(demo_path: Path) -> None:
    run, shop = CliRunner().invoke, ["--shop", str(demo_path)]
    said = run(app, ["calibrate", "B1", "--why", "plate 4", "--range", "4=69.3 cfm", *shop]).output
    assert "B1 calibration 3" in said
    assert "they keep their own version" in said
    made = json.loads(
        run(app, ["calibrate", "B2", "--why", "x", "--from-plates", "--json", *shop]).output
    )
    assert len(made["calibration"]["table"]) == 5
    sheet = "TH-14-019/2014-06-17-B1-I1-S0-1"
    found = json.loads(run(app, ["review", sheet, "--json", *shop]).output)
    assert (found["open"], found["rows"][0]["shown"]) == (9, "75.5 %")
    said = run(app, ["review", sheet, "--rows", "1-2, 9", "--by", "R. O.-H.", *shop]).output
    assert "6 of 9 rows are not compared" in said
    assert "R. O.-H." in said
    refused = run(app, ["review", sheet, "--rows", "x", "--by", "R.", *shop])
    assert refused.exit_code != 0
