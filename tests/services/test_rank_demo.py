"""The demo head among the shop's others, and the shop searched in words and numbers."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from portwright.archive import searching
from portwright.archive.archive import Archive
from portwright.archive.overview import Wanted
from portwright.archive.who import Role, Who, acting
from portwright.cli.main import app
from portwright.errors import ConflictError, InputError, UnknownNameError
from portwright.model.head import Side
from portwright.model.job import Note
from portwright.services import find as find_service
from portwright.services.classes import HeadClass, class_named, remember
from portwright.services.compare import archive_pressure
from portwright.services.demo import DEMO_JOB
from portwright.services.display import Display
from portwright.services.find import find
from portwright.services.head_facts import facts_in_words, subjects, write
from portwright.services.overviews import METHOD, STEPS, kept_area_at, refresh
from portwright.services.question import Question, understand
from portwright.services.rank import rank
from portwright.services.rank_spots import TOP, Measure
from portwright.services.rank_wording import headline, place_sentence

TWO_VALVE = HeadClass(valves=1)
MM = Display()


@pytest.fixture(scope="module")
def shop(demo_file_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    path = tmp_path_factory.mktemp("rank") / "demo.shop"
    path.write_bytes(demo_file_once.read_bytes())
    with Archive.open(path) as archive:
        yield archive


def test_one_of_the_best_of_this_kind_has_a_number(shop: Archive) -> None:
    found = rank(shop, DEMO_JOB, TWO_VALVE)
    best = headline(found)
    assert best is not None
    assert best.at == TOP
    assert best.standing is not None
    assert best.standing.count == 10  # the sheet's twelve less the two of four valves and this one
    assert best.standing.low < best.standing.share_below < best.standing.high
    said = place_sentence(found, best, archive_pressure(shop), MM)
    assert "better than about" in said
    assert "none of 10 reached this" in said
    assert {"translated", "recorded-peaks"} <= {f.code for f in found.findings}
    # two flow more on the old bench than anything that was tested on both: named, not passed over
    (beyond,) = (f for f in found.findings if f.code == "beyond-what-was-tested")
    assert "TH-16-010, TH-15-031" in beyond.message
    said_of = {f.code: f.message for f in found.findings}  # the two are not counted again below
    assert said_of["translated"].startswith("5 heads were swept on B1")
    assert said_of["recorded-peaks"].startswith("9 heads are known only by")


def test_the_other_shops_sheet_is_never_among_them(shop: Archive) -> None:
    found = rank(shop, DEMO_JOB, TWO_VALVE, measure=Measure.FLOW)
    assert DEMO_JOB not in {m.job for m in found.members}
    assert max(m.top_area for m in found.members) < 950e-6  # the claim would be the largest by far


def test_a_coefficient_is_the_flow_over_the_curtain(shop: Archive) -> None:
    at = replace(TWO_VALVE, lifts=("0.25 L/D",))
    flow = rank(shop, DEMO_JOB, at, measure=Measure.FLOW).places[0]
    ratio = rank(shop, DEMO_JOB, at, measure=Measure.COEFFICIENT).places[0]
    per = rank(shop, DEMO_JOB, at, measure=Measure.PER_VALVE_AREA).places[0]
    assert per.value == pytest.approx(ratio.value)  # at L/D 1/4 the curtain is the valve disc
    assert flow.value / (math.pi / 4 * 0.04198**2) == pytest.approx(per.value, rel=1e-3)


def test_one_port_at_an_earlier_stage(shop: Archive) -> None:
    early = rank(shop, DEMO_JOB, TWO_VALVE, port="I1", stage="S0")
    late = rank(shop, DEMO_JOB, TWO_VALVE, port="I1")
    first, last = early.places[0].standing, late.places[0].standing
    assert first is not None
    assert last is not None
    assert first.share_below < 0.5 < last.share_below
    with pytest.raises(InputError, match="no sound sweep of I9"):
        rank(shop, DEMO_JOB, TWO_VALVE, port="I9")


def test_classes_and_their_key_lifts_are_remembered(shop: Archive) -> None:
    chosen = HeadClass(valves=1, valve_from="41 mm", valve_to="43 mm", lifts=("8 mm",))
    remember(shop, chosen, "two-valve 42")
    again = class_named(shop, "two-valve 42")
    assert again == replace(chosen, name="two-valve 42")
    assert {m.job for m in rank(shop, DEMO_JOB, again).members} >= {"TH-24-012", "TH-12-007"}
    with pytest.raises(UnknownNameError, match="two-valve 42"):
        class_named(shop, "two-valve 43")
    with pytest.raises(InputError, match="Valves from"):
        remember(shop, replace(chosen, valve_to="39 mm"), "wrong")


def test_words_on_the_job_sheet_narrow_the_class(shop: Archive) -> None:
    found = rank(shop, DEMO_JOB, HeadClass(words="I6 pushrod"))
    assert {m.job for m in found.members} == {"TH-09-004", "TH-16-010", "TH-21-018"}


def test_a_class_is_chosen_by_valve_angle_and_port_location(shop: Archive) -> None:
    steep = HeadClass(valves=1, angle_from="14 deg", angle_to="20", location="Downdraught")
    found = rank(shop, DEMO_JOB, steep)
    assert {m.job for m in found.members} == {"TH-14-019", "TH-24-012", "TH-12-007", "TH-19-015"}
    untold = next(f for f in found.findings if f.code == "facts-not-entered")
    assert untold.message.startswith("1 more job has such heads but no valve angle or port loc")
    assert "not-of-the-class" not in {f.code for f in found.findings}
    assert "valve angle 14 deg to 20 deg from the bore, down draft" in steep.describe()
    # a quarter of a degree is within what a protractor tells apart
    assert len(rank(shop, DEMO_JOB, HeadClass(angle_from="18.2 deg", angle_to="18.2")).members) == 2
    assert shop.port_locations() == ["down draft", "siamesed port", "side draft", "spread port"]


def test_what_is_said_of_a_casting_counts_for_every_job_of_it(shop: Archive) -> None:
    wide = HeadClass(angle_from="40 deg")
    found = rank(shop, DEMO_JOB, wide)
    assert not found.members
    assert "not-of-the-class" in {f.code for f in found.findings}
    version = shop.job_version("TH-12-007")
    shop.update_job("TH-12-007", {"casting": "C-9"}, version)
    (casting, head) = subjects(shop, shop.job("TH-12-007"))
    write(shop, "TH-12-007", casting, {Side.INTAKE: "41,5°"}, {Side.INTAKE: " below a jackshaft "})
    # what the older sheet says of this job's own head counts before its casting
    assert not rank(shop, DEMO_JOB, wide).members
    write(shop, "TH-12-007", head, {Side.INTAKE: ""}, {Side.INTAKE: ""})
    assert [m.job for m in rank(shop, DEMO_JOB, wide).members] == ["TH-12-007"]
    assert [f.job.number for f in find(shop, "jackshaft", MM).jobs] == ["TH-12-007"]
    assert facts_in_words(shop, shop.job("TH-12-007")) == {
        "Valve angle": "intake 41,5 deg",
        "Port location": "intake below a jackshaft",
    }
    with pytest.raises(ConflictError, match="Casting C-9 was changed"):
        write(shop, "TH-12-007", casting, {Side.INTAKE: "20"}, {})
    for nonsense in ("95 deg", "-3", "12 mm", "steep"):
        with pytest.raises(InputError, match="Intake: "):
            write(shop, "TH-12-007", subjects(shop, shop.job("TH-12-007"))[0],
                  {Side.INTAKE: nonsense}, {})  # fmt: skip


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        (
            "44 mm intake over 150 at 11",
            Question((), "intake", 0.044, 150 * 4.719474432e-4, lift=0.011),
        ),
        ("exhaust under 60 L/s at 0.25 L/D", Question((), "exhaust", None, 0.06, True, None, 0.25)),
        ("weld since 2020", Question(("weld",), since="2020")),
        ("intake guide before 2012", Question(("intake", "guide"), until="2011")),
        (
            "42 mm intake 15 deg valve angle spread",
            Question(("spread",), "intake", 0.042, angle=math.radians(15.0)),
        ),
        ("1.65 in inlet valves", Question((), "intake", 0.04191)),
    ],
)
def test_numbers_get_their_meaning(text: str, asked: Question) -> None:
    got = understand(text, MM)
    for name in ("words", "side", "less", "since", "until", "ratio"):
        assert getattr(got, name) == getattr(asked, name), name
    for name in ("valve", "flow", "lift", "angle"):
        assert getattr(got, name) == pytest.approx(getattr(asked, name)), name


def test_found_by_numbers(shop: Archive) -> None:
    found = find(shop, "44 mm intake over 150 at 11", MM).jobs
    # the peaks of their old sheets stand within a millimetre of the lift asked for
    assert [f.job.number for f in found] == ["TH-25-030", "TH-11-022"]
    assert "152.0 cfm at 11.80 mm" in found[1].lines[0]
    asked = find(shop, "42 mm intake 15°", MM)
    assert {f.job.number for f in asked.jobs} == {DEMO_JOB, "TH-24-012", "TH-14-019"}
    assert asked.question.describe(MM) == "valve 42 mm; valve angle 15 deg; intake"
    found = find(shop, "42 mm intake over 155 at 11.5", MM).jobs
    assert found[0].job.number == DEMO_JOB
    assert "on B2" in found[0].lines[0]


def test_found_by_words_with_equivalents(shop: Archive) -> None:
    found = find(shop, "weld cyl 4", MM).jobs
    assert [f.job.number for f in found] == [DEMO_JOB]
    assert "weld" in found[0].lines[0].casefold()
    with pytest.raises(InputError, match="nothing to search"):
        find(shop, "  ", MM)


def test_what_was_just_written_is_found(shop: Archive) -> None:
    assert find(shop, "kingfisher", MM).jobs == ()
    shop.add_note("TH-12-007", Note("Kingfisher blue paint on the deck", "2026-03-01"))
    assert [f.job.number for f in find(shop, "kingfish", MM).jobs] == ["TH-12-007"]
    assert refresh(shop) == 0


def test_enough_is_enough_and_said(shop: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    everything = find(shop, "intake over 60", MM)
    assert not everything.more
    assert everything.count == f"{len(everything.jobs)} jobs"
    monkeypatch.setattr(find_service, "_MOST", 2)
    monkeypatch.setattr(find_service, "_FIRST_LOOK", 1)
    for words in ("intake over 60", "since 2010"):
        few = find(shop, words, MM)
        assert few.more
        assert few.count == "more than 2 jobs, the newest 2 shown"
    assert [f.job.number for f in find(shop, "intake over 60", MM).jobs] == [
        f.job.number for f in everything.jobs[:2]
    ]


def test_areas_are_read_between_the_kept_steps() -> None:
    """Half way between steps, between the last step and the top, and nowhere beyond either."""
    kept = np.full((1, STEPS.size), np.nan)
    kept[0, 1:5] = [2.0, 3.0, 4.0, 5.0]  # L/D 0.04 to 0.10
    top_ratio, top = np.array([0.115]), np.array([5.6])

    def at(ratio: float) -> float:
        return float(kept_area_at(kept, np.array([ratio]), top_ratio, top)[0])

    assert at(0.06) == pytest.approx(3.0)
    assert at(0.07) == pytest.approx(3.5)
    assert at(0.1075) == pytest.approx(5.3)
    assert at(0.115) == pytest.approx(5.6)
    assert math.isnan(at(0.03))
    assert math.isnan(at(0.12))
    assert math.isnan(at(math.nan))


@pytest.mark.parametrize("role", [Role.APPRENTICE, Role.GUEST])
def test_who_may_only_look_may_search_what_is_new(shop: Archive, role: Role) -> None:
    shop.add_note("TH-12-007", Note(f"Heron stencil for the {role}", "2026-03-02"))
    with acting(Who("Tom", role)):
        found = find(shop, f"heron {role}", MM).jobs
    assert [f.job.number for f in found] == ["TH-12-007"]
    assert shop.changed_jobs(METHOD)[1] is None


def test_without_an_index_the_same_is_found(shop: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    with_index = {f.job.number for f in find(shop, "pushrod", MM).jobs}
    monkeypatch.setattr(searching, "has_index", lambda _: False)
    assert {f.job.number for f in find(shop, "pushrod", MM).jobs} == with_index


def test_a_faulty_or_excluded_sweep_never_ranks(demo_path: Path) -> None:
    with Archive.open(demo_path) as archive:
        refresh(archive)
        rows = archive.port_overviews(Wanted(job=DEMO_JOB, side="intake"))
        before = next(r for r in rows if (r.port, r.stage, r.bench) == ("I2", "S7", "B2"))
        archive.mark_run(DEMO_JOB, "R141", "plug was missing")
        assert refresh(archive) == 1
        rows = archive.port_overviews(Wanted(job=DEMO_JOB, side="intake"))
        after = next(r for r in rows if (r.port, r.stage, r.bench) == ("I2", "S7", "B2"))
        assert (before.sweeps, after.sweeps) == (2, 1)


def test_the_commands(demo_path: Path) -> None:
    run = CliRunner().invoke
    shop = ["--shop", str(demo_path)]
    plain = run(app, ["rank", DEMO_JOB, "--valves", "1", *shop])
    assert plain.exit_code == 0, plain.output
    assert "better than about" in plain.output
    known = json.loads(run(app, ["rank", DEMO_JOB, "--valves", "1", "--json", *shop]).output)
    assert known["places"][0]["heads"] == 10
    head = ["job", "head", DEMO_JOB, *shop]
    assert "15 deg" in run(app, head).output
    assert "counts as upright" in run(app, ["room", DEMO_JOB, *shop]).output
    written = run(app, [*head, "--head", "L", "--intake-valve-angle", "14.5", "--json"])
    assert json.loads(written.output)[1]["intake_valve_angle"]["unit"] == "deg"
    angle = ["--valve-angle", "15 deg", "--port-location", "down draft", "--json"]
    known = json.loads(run(app, ["rank", DEMO_JOB, *angle, *shop]).output)
    assert known["class_facts"]["valve_angle_to"] == "15 deg"
    assert known["places"][0]["heads"] == 2
    wrong = run(app, ["rank", DEMO_JOB, "--by", "beauty", *shop])
    assert "measure" in str(wrong.exception)
    found = run(app, ["find", "44", "mm", "intake", "over", "150", "at", "11", *shop])
    assert "TH-11-022" in found.output
