"""Sections by shape, walls and pitot marks typed in, kept and read back."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from portwright.errors import InputError, RangeError, Severity, UnknownNameError
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, SheetKind, SheetRow, Stage
from portwright.model.quantity import AsTyped
from portwright.services import measure, pitot_entry, section_entry, wall_entry
from portwright.services.display import Display
from portwright.services.findings import check_job
from portwright.services.metal import loud_walls, metal_findings, plan_sentence, walls
from portwright.services.next_cut import Room
from portwright.services.pitot_entry import Plane
from portwright.services.port import look
from portwright.services.port_limits import limits_of, set_limit
from portwright.services.port_profile import port_profile
from portwright.services.section_entry import SectionEntry, Shape
from portwright.services.shop_file import ShopFile, create_shop
from portwright.services.velocity_maps import velocity_maps
from portwright.units import Kind, read

JOB = "J-1"


def mm(text: str) -> AsTyped:
    return read(text, Kind.LENGTH, "mm")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[ShopFile]:
    made = create_shop(tmp_path / "own.shop")
    with made:
        made.add_job(Job(JOB))
        for cylinder in (1, 2):
            made.add_port(JOB, Port(f"I{cylinder}", Side.INTAKE, cylinder=cylinder))
        for stage in ("S0", "S1"):
            made.add_stage(JOB, Stage(stage))
        yield made


def rectangle(**more: object) -> SectionEntry:
    sizes = {"width": mm("25"), "height": mm("36"), "corner radius": mm("6")}
    return SectionEntry(Shape.RECTANGLE, sizes, **more)  # type: ignore[arg-type]


def test_a_section_is_kept_with_its_shape_and_corrected_with_a_reason(shop: ShopFile) -> None:
    at = (JOB, "I1", "S0")
    entry = rectangle(landmark="pinch", distance=mm("48"))
    assert section_entry.record_section(shop, *at, entry) == 3
    assert section_entry.record_section(shop, *at, entry) == 0  # nothing new
    wider = SectionEntry(Shape.RECTANGLE, {**entry.sizes, "width": mm("26")}, "pinch", mm("48.0"))
    with pytest.raises(InputError, match="section width is 25 mm already, now 26 mm"):
        section_entry.record_section(shop, *at, wider)
    assert section_entry.record_section(shop, *at, wider, "Typing slip") == 1
    kept = section_entry.kept_sections(shop.job(JOB), "I1", "S0")
    assert [(k.landmark, k.shape, k.sizes["width"].text) for k in kept] == [
        ("pinch", Shape.RECTANGLE, "26")
    ]
    station = port_profile(shop.job(JOB), "I1").smallest_station
    exact = (26.0 * 36.0 - (4.0 - math.pi) * 36.0) * 1e-6
    assert station.area == pytest.approx(exact, rel=1e-12)
    assert station.name(Display()) == "the pinch, 48 mm from the opening"


def test_the_newest_shape_of_a_place_counts(shop: ShopFile) -> None:
    at = (JOB, "I1", "S0")
    section_entry.record_section(shop, *at, rectangle(landmark="short side"))
    shape = {
        "width": mm("32"),
        "height": mm("30"),
        "roof height": mm("16"),
        "corner radius": mm("0"),
    }
    section_entry.record_section(shop, *at, SectionEntry(Shape.D, shape, "short side"))
    stations = port_profile(shop.job(JOB), "I1").stations
    assert [(s.landmark, s.shape) for s in stations] == [("short side", Shape.D)]
    # half circle over a rectangle
    exact = (0.5 * math.pi * 16.0**2 + 32.0 * 14.0) * 1e-6
    assert stations[0].area == pytest.approx(exact, rel=1e-12)


def test_guide_and_boss_are_taken_off(shop: ShopFile) -> None:
    standing = {
        "guide diameter": mm("14"),
        "exposed guide length": mm("6"),
        "blocked area": read("20", Kind.AREA, "mm2"),
    }
    entry = rectangle(landmark="guide boss", distance=mm("80"), standing=standing)
    section_entry.record_section(shop, JOB, "I1", "S0", entry)
    found, bare = section_entry.figures_of(entry), section_entry.figures_of(rectangle())
    assert found.blocked == pytest.approx(104e-6)
    assert found.area == pytest.approx(bare.area - 104e-6)
    assert found.uncertainty > bare.uncertainty
    kept = section_entry.kept_sections(shop.job(JOB), "I1", "S0")[0]
    assert (kept.sizes, kept.standing) == (entry.sizes, standing)
    station = port_profile(shop.job(JOB), "I1").smallest_station
    assert (station.area, station.uncertainty) == pytest.approx((found.area, found.uncertainty))
    with pytest.raises(RangeError, match="fills all of it"):
        section_entry.figures_of(
            rectangle(standing={"blocked area": read("900", Kind.AREA, "mm2")})
        )


def test_what_cannot_be_kept_is_said(shop: ShopFile) -> None:
    keep = section_entry.record_section
    with pytest.raises(InputError, match="no place"):
        keep(shop, JOB, "I1", "S0", rectangle())
    with pytest.raises(UnknownNameError, match="I9"):
        keep(shop, JOB, "I9", "S0", rectangle(landmark="pinch"))
    with pytest.raises(UnknownNameError, match="elbow"):
        keep(shop, JOB, "I1", "S0", rectangle(landmark="elbow"))
    with pytest.raises(UnknownNameError, match="hexagon"):
        section_entry.shape_named("hexagon")


def test_a_wall_with_its_plan_and_limit(shop: ShopFile) -> None:
    at = (JOB, "cyl 1", "pinch, pushrod side")
    with pytest.raises(InputError, match="not sounded"):
        wall_entry.record_wall(shop, *at, "S0", {"planned cut": mm("0.9")})
    wall = wall_entry.record_wall(
        shop, *at, "S0", {"wall thickness": mm("4.4"), "planned cut": mm("0.9")}
    )
    assert wall.after_plan == pytest.approx(3.5e-3)
    assert plan_sentence(wall, Display()) == "0.90 mm planned, leaves 3.50 mm."
    wall = wall_entry.record_wall(shop, *at, "S0", {"wall limit": mm("3.5")})
    assert "plan less" in plan_sentence(wall, Display())
    assert [f.code for f in metal_findings(shop.job(JOB))] == ["plan-to-the-limit"]
    wall = wall_entry.record_wall(shop, *at, "S1", {"wall thickness": mm("3.5")})
    assert wall.sounded_since
    assert plan_sentence(wall, Display()) == "0.90 mm planned, 0.90 mm taken since S0."
    assert [f.code for f in metal_findings(shop.job(JOB))] == ["wall-at-limit"]
    with pytest.raises(InputError, match="already"):
        wall_entry.record_wall(shop, *at, "S1", {"wall thickness": mm("3.6")})
    wall_entry.record_wall(shop, *at, "S1", {"wall thickness": mm("3.9")}, "Measured again")
    assert [w.now for w in walls(shop.job(JOB))] == pytest.approx([3.9e-3])
    with pytest.raises(InputError, match="cannot be"):
        wall_entry.record_wall(shop, *at, "S1", {"wall thickness": mm("4400")})


def test_sisters_lend_the_names_of_their_places(shop: ShopFile) -> None:
    wall_entry.record_wall(
        shop, JOB, "cyl 1", "intake roof over bowl", "S0", {"wall thickness": mm("5")}
    )
    contents = shop.job(JOB)
    found = wall_entry.wall_places(contents, contents.ports[1])
    assert [(p.subject, p.place, p.wall) for p in found] == [
        ("cyl 2", "intake roof over bowl", None)
    ]


def test_marks_anywhere_in_a_section_count_by_the_area_nearest_to_them(shop: ShopFile) -> None:
    section_entry.record_section(shop, JOB, "I1", "S0", rectangle(landmark="pinch"))
    plane = Plane("I1", "S0", "pinch", None, mm("10"))
    # two marks split the section across the middle of them: 7.5 of 25 mm wide, corners alike
    for across, reading in (("5", "40 m/s"), ("10", "80 m/s")):
        pitot_entry.record_mark(
            shop, JOB, plane, mm(across), mm("18"), pitot_entry.read_probe(reading, "m/s")
        )
    found = velocity_maps(check_job(shop, JOB), port_profile(shop.job(JOB), "I1"), 7000.0)[0]
    lost = (4.0 - math.pi) * 36.0
    left = (7.5 * 36.0 - 0.5 * lost) / (25.0 * 36.0 - lost)
    assert [m.share for m in found.marks] == pytest.approx([left, 1.0 - left], rel=1e-3)
    assert found.mean.mean == pytest.approx(40.0 * left + 80.0 * (1.0 - left), rel=1e-3)


def test_unsteady_backward_and_pressure_marks(shop: ShopFile) -> None:
    section_entry.record_section(shop, JOB, "I1", "S0", rectangle(distance=mm("60")))
    plane = Plane("I1", "S0", "", mm("60"), None)
    probe = pitot_entry.read_probe
    for across, up, reading, unsteady in (
        ("5", "5", None, True),
        ("20", "5", probe("-10", "m/s"), False),
        ("5", "30", probe("28 inH2O", "m/s"), False),
        ("20", "30", probe("100", "m/s"), False),
        ("20", "30", probe("90", "m/s"), False),  # read again
    ):
        pitot_entry.record_mark(shop, JOB, plane, mm(across), mm(up), reading, unsteady=unsteady)
    contents = shop.job(JOB)
    assert len(pitot_entry.marks_of(contents, plane)) == 4
    found = velocity_maps(check_job(shop, JOB), port_profile(contents, "I1"), 7000.0)[0]
    speeds = [m.velocity for m in found.marks]
    assert math.isnan(speeds[0])
    # trade arithmetic: 107.6 m/s at 28 inH2O
    assert speeds[1:] == pytest.approx([-10.0, 107.6, 90.0], abs=0.1)
    assert {f.code for f in found.findings} >= {"map-unsteady", "map-backflow"}
    assert "probe pressure" in found.weighting
    with pytest.raises(InputError, match="outside the section"):
        pitot_entry.record_mark(shop, JOB, plane, mm("26"), mm("5"), probe("80", "m/s"))
    with pytest.raises(InputError, match="no reading"):
        pitot_entry.record_mark(shop, JOB, plane, mm("20"), mm("5"), None)
    assert limits_of(shop).wall_limit > 0.0


def test_a_thin_wall_is_said_on_the_next_job_of_the_casting(shop: ShopFile) -> None:
    shop.update_job(JOB, {"casting": "XQ-12 b"}, 1)
    wall_entry.record_wall(
        shop, JOB, "cyl 1", "pinch, pushrod side", "S0", {"wall thickness": mm("2.5")}
    )
    shop.add_job(Job("J-2", casting="xq12B"))
    said = loud_walls(shop, shop.job("J-2"))
    assert [f.severity for f in said] == [Severity.WARNING]
    assert said[0].message.startswith("Job J-1, same casting: cyl 1, pinch, pushrod side: 2.50 mm")
    set_limit(shop, "wall_limit", 2.0e-3)  # the shop keeps less: nothing to say any more
    assert loud_walls(shop, shop.job("J-2")) == ()
    assert "wall-at-limit" not in {f.code for f in check_job(shop, JOB).findings}


def test_a_class_limit_takes_the_room_away_like_a_wall(shop: ShopFile) -> None:
    rules = (
        ("A-1", "Intake port volume", "120 cc max"),
        ("A-2", "Intake throat diameter", "36.4 mm max"),
    )
    rows = tuple(
        SheetRow(SheetKind.CLASS_RULES, {"rule_id": r, "subject": s, "limit": w})
        for r, s, w in rules
    )
    shop.save(ShopContents(jobs=(JobContents(Job(JOB), rows=rows),)))
    record = measure.record
    for quantity, text in (
        ("throat diameter", "36"),
        ("valve head diameter", "42"),
        ("stem diameter", "8"),
    ):
        record(shop, JOB, "I1", quantity, "S0", mm(text))
    section_entry.record_section(shop, JOB, "I1", "S0", rectangle(landmark="pinch"))
    for place in ("pinch, pushrod side", "throat wall"):
        wall_entry.record_wall(shop, JOB, "cyl 1", place, "S0", {"wall thickness": mm("5")})
    found = {c.place: c for c in look(shop, JOB, "I1").advice.candidates}
    assert found["throat"].room is Room.THERE
    assert found["throat"].cut == pytest.approx(0.2e-3)  # half of what the class leaves
    assert "The class leaves 0.40 mm of throat diameter (A-2)." in found["throat"].caution
    record(shop, JOB, "I1", "port volume", "S0", read("120", Kind.VOLUME, "cc"))
    view = look(shop, JOB, "I1")
    assert {c.room for c in view.advice.candidates} == {Room.NONE}
    assert view.advice.stop
    assert "The class allows no more port volume: 120 cc max (A-1)." in (
        view.advice.candidates[0].caution
    )
