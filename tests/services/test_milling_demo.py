"""The milling plan of the demo shop, and plans of jobs that lack or contradict something."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.services.demo import DEMO_JOB
from portwright.services.display import Display
from portwright.services.milling import plan_milling, plan_of, read_aim, read_given
from portwright.services.milling_plan import Aim, MillPlan
from portwright.services.milling_sheet import machinist_sheet
from portwright.services.plan_terms import Origin
from portwright.units import Kind, read

MM, CC = 1e-3, 1e-6


@pytest.fixture(scope="module")
def contents(demo_archive: Archive) -> JobContents:
    return demo_archive.job(DEMO_JOB)


@pytest.fixture(scope="module")
def plan(demo_archive: Archive) -> MillPlan:
    return plan_milling(demo_archive, DEMO_JOB)


def adding(contents: JobContents, *more: Measurement) -> JobContents:
    return replace(contents, measurements=(*contents.measurements, *more))


def without(contents: JobContents, *quantities: str) -> JobContents:
    kept = [m for m in contents.measurements if not m.quantity.startswith(quantities)]
    return replace(contents, measurements=tuple(kept))


def test_the_sheet_of_the_job_is_reproduced(plan: MillPlan) -> None:
    # the sheet's own digits: half of the last one
    assert plan.depth.value / MM == pytest.approx(0.826, abs=5e-4)
    assert plan.face_cut is not None
    assert plan.manifold_drop is not None
    assert plan.ratio_after is not None
    assert plan.face_cut.value / MM == pytest.approx(0.539, abs=5e-4)
    assert plan.manifold_drop.value / MM == pytest.approx(1.062, abs=5e-4)
    assert plan.ratio_after.value == pytest.approx(11.20, abs=5e-3)
    assert plan.ratio_per_tenth == pytest.approx(0.10, abs=5e-3)
    assert plan.per_depth == pytest.approx(4.60e-3, rel=1e-9)
    assert plan.pushrod / MM == pytest.approx(-0.83, abs=5e-3)


def test_every_number_says_where_it_is_from(plan: MillPlan) -> None:
    origins = {name: k.origin for name, k in plan.known.items()}
    assert origins["gasket volume"] is Origin.MEASURED
    assert origins["rocker ratio"] is Origin.SHEET
    assert {n for n, o in origins.items() if o is Origin.ASSUMED} == {
        "sink volume",
        "ring-land volume",
        "head gasket change",
        "intake gasket change",
        "tip rise",
        "pushrod angle",
    }
    assert all(k.note for k in plan.known.values())


def test_uncertainty_worked_by_hand(plan: MillPlan) -> None:
    area, chamber, taken = 46e-4, 0.2 * CC, 3.8 * CC
    by_hand = math.hypot(chamber / area, taken / area**2 * 0.5e-4)
    # differences are taken over a thousandth of an uncertainty: curvature leaves 1e-5 of it
    assert plan.depth.uncertainty == pytest.approx(by_hand, rel=1e-4)
    assert plan.depth.mostly == "chamber"
    assert plan.ratio_after is not None
    volume = math.sqrt(0.2**2 + 0.15**2 + 0.2**2 + 0.2**2 + (taken / CC * 0.5 / 46) ** 2)
    slope = 477.13 / 46.79**2
    by_hand = math.hypot(slope * volume, 0.1 / 46.79)
    assert plan.ratio_after.uncertainty == pytest.approx(by_hand, rel=1e-3)


def test_mill_for_a_ratio_gives_that_ratio(contents: JobContents) -> None:
    made = plan_of(contents, Aim.RATIO, read_aim(Aim.RATIO, "11.2"))
    assert made.ratio_after is not None
    assert made.ratio_after.value == pytest.approx(11.2, rel=1e-9)
    typed = read(f"{made.depth.value / MM:.4f} mm", Kind.LENGTH)
    back = plan_of(contents, Aim.DEPTH, typed)
    assert back.ratio_after is not None
    assert back.ratio_after.value == pytest.approx(11.2, rel=1e-4)  # depth typed to 0.0001 mm


def test_uniform_chambers(plan: MillPlan) -> None:
    assert plan.uniform is not None
    assert plan.uniform.plan is not None
    assert plan.uniform.set_name == "after seats and deshroud"
    assert plan.uniform.plan.cut / MM == pytest.approx((43.4 - 39.5) / 4.6, rel=1e-9)
    opened = {n: round(v / CC, 6) for n, v in plan.uniform.plan.to_open.items()}
    assert opened == {
        "cyl 1": 0.1,
        "cyl 2": 0.3,
        "cyl 3": 0.0,
        "cyl 4": 0.2,
        "cyl 5": 0.2,
        "cyl 6": 0.0,
    }


def test_chambers_that_cannot_be_evened_out_are_said_so(contents: JobContents) -> None:
    made = plan_of(contents, chambers="S7")  # finished: 39.4 to 39.6 cc
    assert made.uniform is not None
    assert made.uniform.plan is not None
    assert made.uniform.plan.sets_cut == "cyl 5"
    smaller = plan_of(contents, Aim.CHAMBER, read("41 cc", Kind.VOLUME), chambers="S7")
    assert smaller.uniform is not None
    assert smaller.uniform.plan is None
    text = str(machinist_sheet(contents, smaller))
    assert "not worked out. Every chamber is below 41 cc already" in text


def test_sloped_walls_need_a_deeper_cut(contents: JobContents, plan: MillPlan) -> None:
    deeper = Measurement(
        "cyl 1", "chamber open area", read("44.0 cm2", Kind.AREA), "head L; depth 1 mm"
    )
    sloped = plan_of(adding(contents, deeper))
    # 46 d - 2 d^2 / 2 = 38 (cm2, mm): d = 0.8412
    assert sloped.depth.value / MM == pytest.approx(23 - math.sqrt(23**2 - 38), rel=1e-9)
    assert sloped.per_depth < plan.per_depth


def test_short_side_height_is_split(contents: JobContents) -> None:
    made = plan_of(
        adding(
            contents,
            Measurement("I1", "short side to deck", read("30.0 mm", Kind.LENGTH), stage="S0"),
            Measurement("I1", "short side to deck", read("28.6 mm", Kind.LENGTH), stage="S7"),
            Measurement("I2", "short side to deck", read("30.0 mm", Kind.LENGTH), stage="S0"),
            Measurement("I3", "short side to deck", read("30.0 mm", Kind.LENGTH), stage="S0"),
            Measurement("I3", "short side to deck", read("30.2 mm", Kind.LENGTH), stage="S7"),
        )
    )
    one, two, three = made.apexes
    assert one.split is not None
    assert one.split.ground / MM == pytest.approx(1.4 - 0.826, abs=5e-4)
    assert two.split is None
    assert two.expected / MM == pytest.approx(29.174, abs=5e-4)
    assert three.split is not None
    assert [f.where.port for f in made.findings if f.code == "apex-stands-too-high"] == ["I3"]


def test_a_plan_over_the_class_limit_is_a_fault(contents: JobContents) -> None:
    codes = {
        ratio: [f.severity for f in made.findings if f.code == "ratio-against-class"]
        for ratio in ("11.2", "11.4", "11.6")
        for made in [plan_of(contents, Aim.RATIO, read_aim(Aim.RATIO, ratio))]
    }
    assert codes == {"11.2": [], "11.4": ["warning"], "11.6": ["fault"]}


def test_gaskets_work_against_the_cut(contents: JobContents, plan: MillPlan) -> None:
    same = f"{plan.depth.value / MM:.9f} mm"
    made = plan_of(contents, given=read_given([f"head gasket change={same}"]))
    assert made.face_cut is not None
    # the cut is undone up to the nine digits typed
    assert made.face_cut.value == pytest.approx(0.0, abs=1e-12)
    assert made.pushrod == pytest.approx(0.0, abs=1e-12)
    assert made.depth.value == plan.depth.value


def test_the_same_volume_by_an_angle(contents: JobContents, plan: MillPlan) -> None:
    assert plan.angles == ()
    sizes = {"head width": "150 mm", "chamber distance": "80 mm", "port height": "55 mm"}
    given = read_given(f"{name}={text}" for name, text in sizes.items())
    made = plan_of(contents, given=given)
    out, inwards = made.angles
    # 3.8 cc over 46 cm2 at 80 mm, and at 70 mm from the other edge
    assert math.tan(out.cut.angle) == pytest.approx(0.826087 / 80, rel=1e-6)
    assert math.tan(inwards.cut.angle) == pytest.approx(0.826087 / 70, rel=1e-6)
    assert out.moved is not None
    assert inwards.moved is not None
    assert out.moved.face_turn > 0.0 > inwards.moved.face_turn
    text = str(machinist_sheet(contents, made))
    assert "Deeper on the exhaust side: 0.59°" in text
    sloped = Measurement("", "chamber open area", read("44 cm2", Kind.AREA), "depth 1 mm")
    assert plan_of(adding(contents, sloped), given=given).angles == ()
    beside = {**given, **read_given(["chamber distance=160 mm"])}
    with pytest.raises(InputError, match="between both edges"):
        plan_of(contents, given=beside)


def test_overhead_cam_is_retarded(contents: JobContents) -> None:
    given = read_given(["cam sprocket radius=50 mm"])
    made = plan_of(contents, given=given)
    assert made.cam_retard is not None
    assert math.degrees(made.cam_retard) == pytest.approx(math.degrees(0.826 / 50), abs=1e-3)


def test_an_engine_that_is_no_v_gets_no_face_cut(contents: JobContents) -> None:
    bare = without(contents, "half V angle", "intake face tilt")
    inline = replace(bare, job=replace(bare.job, facts={**bare.job.facts, "architecture": "I4"}))
    made = plan_of(inline)
    assert made.line_up is None
    assert "Intake face: not worked out" in str(machinist_sheet(inline, made))
    # the words on the sheet tell the V angle, and then the tilt is asked for
    asked = plan_of(bare)
    assert asked.known["half V angle"].origin is Origin.WORDS
    assert "face-not-measured" in {f.code for f in asked.findings}


def test_without_gasket_volume_the_depth_stands_and_the_ratio_does_not(
    contents: JobContents,
) -> None:
    made = plan_of(without(contents, "gasket volume"))
    assert made.depth.value / MM == pytest.approx(0.826, abs=5e-4)
    assert made.ratio_after is None
    with pytest.raises(InputError, match="every volume"):
        plan_of(without(contents, "gasket volume"), Aim.RATIO, read_aim(Aim.RATIO, "11.2"))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda c: plan_of(without(c, "chamber open area")),
        lambda c: plan_of(without(c, "chamber volume", "chamber before mill")),
        lambda c: plan_of(c, Aim.CHAMBER, read("45 cc", Kind.VOLUME)),
        lambda c: plan_of(c, Aim.RATIO, read("9", Kind.RATIO, "-")),
        lambda c: plan_of(c, Aim.DEPTH, read("12 mm", Kind.LENGTH)),
        lambda c: plan_of(c, Aim.DEPTH, read("-1 mm", Kind.LENGTH)),
    ],
)
def test_what_cannot_be_is_refused_with_a_way_out(
    contents: JobContents, wrong: Callable[[JobContents], MillPlan]
) -> None:
    with pytest.raises(InputError) as caught:
        wrong(contents)
    assert caught.value.hint


def test_unknown_names_are_answered_with_the_nearest(contents: JobContents) -> None:
    with pytest.raises(UnknownNameError, match="face tilt"):
        read_given(["face tlt=40 deg"])
    with pytest.raises(UnknownNameError, match="after seats"):
        plan_of(contents, chambers="after seat")


def test_the_sheet_has_datum_order_and_tolerances(contents: JobContents, plan: MillPlan) -> None:
    parts = {p.title: p.lines for p in machinist_sheet(contents, plan)}
    assert {"What to cut", "Datum", "Order of work", "Tolerances"} <= set(parts)
    assert "0.83 mm" in parts["What to cut"][0]
    assert "head R: 0.11 mm" in parts["Datum"][1]
    assert "Check physically" in str(parts["What else moves"])
    used = next(p.grid for p in machinist_sheet(contents, plan) if p.title == "Numbers used")
    assert used is not None
    assert any("ASSUMED" in row[-1] for row in used.rows)
    inches = machinist_sheet(contents, plan, Display(length="in"))
    assert "32.5 thou" in inches[0].lines[0]


def test_clearances_nobody_measured_stay_loud(contents: JobContents) -> None:
    bare = without(contents, "clearance")
    text = str(machinist_sheet(bare, plan_of(bare)))
    assert "NOT CHECKED YET: Intake valve to piston, " in text


def test_command(demo_path: Path) -> None:
    run = CliRunner().invoke(app, ["mill", DEMO_JOB, "--shop", str(demo_path)])
    assert run.exit_code == 0
    assert "ORDER OF WORK" in run.output
    asked = ["mill", DEMO_JOB, "--ratio", "11.2", "--set", "face tilt=45 deg", "--json"]
    run = CliRunner().invoke(app, [*asked, "--shop", str(demo_path)])
    found = json.loads(run.output)
    assert found["compression_after"]["value"] == 11.2
    assert found["numbers"][9]["from"] == "entered for this plan"
    both = CliRunner().invoke(
        app, ["mill", DEMO_JOB, "--ratio", "11", "--depth", "1 mm", "--shop", str(demo_path)]
    )
    assert isinstance(both.exception, InputError)
