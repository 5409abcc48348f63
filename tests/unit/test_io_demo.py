"""Every file of the demo shop is understood completely, checked by count and by eye."""

from __future__ import annotations

from functools import cache

import pytest

from portwright.io.columns import Use
from portwright.io.defaults import ImportDefaults
from portwright.io.preview import SheetPreview, contents, understand, understand_all
from portwright.io.tables import Table, read_table
from portwright.model.bench import Metering
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Side
from portwright.model.job import Measurement, SheetKind
from portwright.refdata import demo_file, demo_names

DEFAULTS = ImportDefaults(
    job="TH-26-041", port="I1", stage_names=(("as received", "S0"), ("finished", "S7"))
)

# file, kind of sheet, rows with something in them
FILES = [
    ("archive_jobs.csv", "earlier jobs", 14),
    ("benches.csv", "bench list", 2),
    ("calibration_plates.csv", "reference plate checks", 45),
    ("cam_card.csv", "cam card", 8),
    ("cam_lift.csv", "cam lift table", 61),
    ("chambers_valves.csv", "measurement sheet", 6),
    ("class_rules.csv", "class rules", 6),
    ("clearances.csv", "clearances", 8),
    ("dyno_before_after.csv", "dyno", 17),
    ("flow_all_ports_B2.csv", "flow sheet", 468),
    ("flow_crossbench_reference_port.csv", "flow sheet", 42),
    ("flow_crossbench_this_head.csv", "flow sheet", 24),
    ("flow_development_intake1_B2.csv", "flow sheet", 325),
    ("flow_legacy_2014_B1.csv", "flow sheet", 27),
    ("flow_manifold_on_B2.csv", "flow sheet", 20),
    ("geometry_ports.csv", "measurement sheet", 24),
    ("inspection.csv", "inspection", 33),
    ("job.csv", "job", 29),
    ("milling_compression.csv", "measurement list", 18),
    ("other_shop_sheet.csv", "claim", 5),
    ("pitot_map_intake1.csv", "measurement sheet", 40),
    ("section_profile_intake1.csv", "measurement sheet", 16),
    ("shop.csv", "shop", 7),
    ("sonic_wall_mm.csv", "wall thickness", 24),
    ("time_log.csv", "hours", 14),
]


@cache
def table(name: str) -> Table:
    with demo_file(name) as path:
        return read_table(path)


@cache
def preview(name: str) -> SheetPreview:
    return understand(table(name), DEFAULTS)


@cache
def whole_shop() -> ShopContents:
    return contents(*understand_all([table(name) for name in demo_names()], DEFAULTS))


def job(shop: ShopContents, number: str = "TH-26-041") -> JobContents:
    return next(j for j in shop.jobs if j.job.number == number)


def only(measurements: tuple[Measurement, ...], subject: str, quantity: str) -> list[Measurement]:
    return [m for m in measurements if (m.subject, m.quantity) == (subject, quantity)]


def test_the_list_above_is_the_whole_demo() -> None:
    assert [name for name, _, _ in FILES] == list(demo_names())


@pytest.mark.parametrize(("name", "kind", "rows"), FILES)
def test_every_row_is_understood(name: str, kind: str, rows: int) -> None:
    seen = preview(name)
    assert seen.kind == kind
    assert seen.why.startswith(f"Read as {kind} because it has ")
    assert len(seen.rows) == rows
    assert seen.refused == ()
    assert seen.needs == ()
    assert not [c.heading for c in seen.columns if c.use is Use.UNKNOWN]
    assert not [f for f in seen.findings if f.code == "derived-column-disagrees"]


@pytest.mark.parametrize("name", demo_names())
def test_a_workbook_of_the_same_cells_says_the_same(
    name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(list(table(name).headers))
    for row in table(name).rows:
        sheet.append(list(row))
    path = tmp_path_factory.mktemp("book") / f"{name}.xlsx"
    book.save(path)
    again = read_table(path)
    assert (again.headers, again.rows) == (table(name).headers, table(name).rows)
    seen, first = understand(again, DEFAULTS), preview(name)
    assert (seen.kind, seen.rows, seen.refused) == (first.kind, first.rows, first.refused)


def test_development_runs() -> None:
    found = job(contents(preview("flow_development_intake1_B2.csv")))
    assert len(found.runs) == 25
    assert [s.code for s in found.stages] == [f"S{i}" for i in range(8)]
    assert (
        found.stages[2].note == "Throat opened 36.0 -> 37.4 mm, bowl blended, guide boss narrowed"
    )
    run = found.runs[0]
    assert (run.code, run.date, run.time, run.bench) == ("R101", "2026-02-10", "10:17", "B2")
    assert (run.port, run.stage, run.repeat, len(run.readings)) == ("I1", "S0", 1, 13)
    reading = run.readings[0]
    assert str(reading.lift) == "1 mm"
    assert str(reading.flow) == "17.9 cfm"
    assert reading.flow is not None
    assert reading.flow.si == pytest.approx(17.9 * 0.3048**3 / 60.0)
    assert [str(v) for v in (reading.air_temperature, reading.barometer, reading.humidity)] == [
        "20.0 degC", "100.8 kPa", "49 %",
    ]  # fmt: skip
    assert [str(v) for v in (reading.leak, reading.scatter)] == ["0.5 cfm", "0.5 %"]
    assert found.ports[0].side is Side.INTAKE
    assert found.ports[0].cylinder == 1


def test_flow_at_28_is_a_calibration_of_its_own() -> None:
    (calibration,) = contents(preview("flow_development_intake1_B2.csv")).calibrations
    assert calibration.metering is Metering.DIRECT
    assert str(calibration.reads_at) == "28 inH2O"
    assert calibration.flow_air == "reference-air"
    assert calibration.valid_from == "2026-02-10"


def test_all_ports_have_a_run_of_each_stage() -> None:
    found = job(contents(preview("flow_all_ports_B2.csv")))
    assert len(found.runs) == 36
    assert {p.code for p in found.ports} == {f"{s}{i}" for s in "IE" for i in range(1, 7)}
    assert {p.code: p.side for p in found.ports}["E4"] is Side.EXHAUST


def test_legacy_ranges_become_a_calibration() -> None:
    found = contents(preview("flow_legacy_2014_B1.csv"))
    (calibration,) = found.calibrations
    assert (calibration.bench, calibration.version) == ("B1", 1)
    assert calibration.metering is Metering.PERCENT_OF_RANGE
    assert str(calibration.reads_at) == "10 inH2O"
    assert {r.number: str(r.full_scale) for r in calibration.ranges} == {
        2: "18.0 cfm", 3: "36.0 cfm", 4: "66.0 cfm", 5: "105.0 cfm",
    }  # fmt: skip
    legacy = job(found, "TH-14-019")
    assert [r.port for r in legacy.runs] == ["I1", "I3", "E1"]
    reading = legacy.runs[0].readings[0]
    assert (str(reading.lift), str(reading.percent), reading.range_number) == (
        "0.050 in", "75.5 %", 2,
    )  # fmt: skip
    assert reading.flow is None
    assert legacy.runs[0].stage == "as delivered 2014"
    assert legacy.runs[0].note == "inlet radius: clay; no stub"


def test_reference_port_is_read_by_range_only_where_the_ranges_are_known() -> None:
    alone = contents(preview("flow_crossbench_reference_port.csv"))
    assert {c.metering for c in alone.calibrations} == {Metering.DIRECT}
    codes = [f.code for f in preview("flow_crossbench_reference_port.csv").findings]
    assert codes.count("range-constants-unknown") == 3
    runs = [r for r in job(whole_shop()).runs if r.port == "REF-1 intake"]
    assert [(r.bench, r.repeat, len(r.readings)) for r in runs] == [
        (bench, repeat, 7) for bench in ("B1", "B2") for repeat in (1, 2, 3)
    ]
    old, new = runs[0].readings[0], runs[3].readings[0]
    assert (str(old.percent), old.range_number, old.flow) == ("50.0 %", 3, None)
    assert (new.percent, str(new.flow)) == (None, "30.9 cfm")


def test_flow_without_pressure_column_holds_at_the_stated_pressure() -> None:
    seen = preview("flow_crossbench_this_head.csv")
    missing = [f.message for f in seen.findings if f.code == "missing-condition"]
    assert "test pressure is not recorded for 4 of 4 runs." in missing
    found = contents(seen)
    assert all(r.test_pressure is None for run in job(found).runs for r in run.readings)
    assert {(c.bench, str(c.reads_at)) for c in found.calibrations} == {
        ("B1", "28 inH2O"), ("B2", "28 inH2O"),
    }  # fmt: skip


def test_manifold_runs_keep_what_was_bolted_on() -> None:
    runs = job(contents(preview("flow_manifold_on_B2.csv"))).runs
    assert [r.conditions.configuration for r in runs] == [
        "bare port, radius plate",
        "manifold runner bolted on, radius on top",
        "manifold + carburettor body, throttle open",
        "manifold + carburettor + air trumpet",
    ]
    assert len({r.code for r in runs}) == 4


def test_one_bench_two_calibrations_in_the_whole_shop() -> None:
    shop = whole_shop()
    found = sorted((c.bench, c.version, c.metering.value, c.valid_from) for c in shop.calibrations)
    assert found == [
        ("B1", 1, "percent-of-range", "2014-06-17"),
        ("B1", 2, "direct", "2026-03-12"),
        ("B2", 1, "direct", "2021-03-09"),
    ]
    versions = {(c.bench, c.version): c.metering for c in shop.calibrations}
    for run in (run for found_job in shop.jobs for run in found_job.runs):
        by_range = versions[run.bench, run.calibration] is Metering.PERCENT_OF_RANGE
        assert all((r.percent is not None) is by_range for r in run.readings)


def test_benches_and_their_plates() -> None:
    shop = whole_shop()
    old, new = shop.benches
    assert (old.code, old.name, str(old.test_pressure)) == ("B1", "Old bench", "10.0 inH2O")
    assert (str(new.bore_adapter), str(new.adapter_length)) == ("90.0 mm", "180 mm")
    assert old.exhaust_stub == "none"
    assert len(shop.plate_checks) == 45
    check = shop.plate_checks[0]
    assert (check.plate, check.repeat, str(check.certified), str(check.measured)) == (
        "P1", 1, "17.4 cfm", "17.0 cfm",
    )  # fmt: skip


def test_bench_set_up_is_taken_only_when_said() -> None:
    runs = job(contents(preview("flow_development_intake1_B2.csv"))).runs
    assert {r.conditions.bore_adapter for r in runs} == {""}
    said = ImportDefaults(job="TH-26-041", conditions_from_bench=True)
    tables = [table("benches.csv"), table("flow_all_ports_B2.csv")]
    found = job(contents(*understand_all(tables, said))).runs
    mounted = {r.port: r.conditions for r in found}
    assert mounted["I1"].bore_adapter == "90.0 mm"
    assert mounted["I1"].inlet_aid == "printed radius plate r=12 mm"
    assert mounted["I1"].exhaust_stub == "none"
    assert mounted["E1"].exhaust_stub == "38 mm bore x 250 mm"


def test_shop_and_job() -> None:
    shop = whole_shop()
    assert shop.shop is not None
    assert shop.shop.name == "Tern Hollow Head Works (FICTIONAL)"
    assert (shop.shop.length_unit, shop.shop.flow_unit) == ("mm", "cfm")
    assert str(shop.shop.report_pressure) == "28 inH2O"
    assert shop.shop.labour_rate == "95.00"
    (casting,) = shop.castings
    assert casting.number == "HM-6207-B"
    found = job(shop)
    assert found.job.casting == "HM-6207-B"
    assert found.job.opened == "2026-02-03"
    assert found.job.goal == "4000-7200 rpm, peak power at 6800-7000 rpm"
    assert found.job.facts["rocker_ratio"] == "1.50"
    assert {(h.code, h.serial) for h in found.heads} == {("L", "HM-L-1183"), ("R", "HM-R-0907")}
    assert len(shop.jobs) == 15


def test_what_the_shop_has_no_place_for_is_said() -> None:
    (finding,) = [f for f in preview("shop.csv").findings if f.code == "field-not-kept"]
    assert "apprentice" in finding.message
    assert "T. Varga-Lunn" in finding.message


def test_cam_card_and_lift_join() -> None:
    (cam,) = job(whole_shop()).cams
    assert cam.card == "C-114 (FICTIONAL)"
    assert (str(cam.intake_centre), str(cam.exhaust_centre)) == ("106 deg", "110 deg")
    assert str(cam.lash) == "0.35 mm"
    assert len(cam.points) == 61
    assert str(cam.points[30].intake_lift) == "11.500 mm"
    lifts = only(job(whole_shop()).measurements, f"cam {cam.card}", "full valve lift")
    assert [(m.place, str(m.value)) for m in lifts] == [
        ("intake", "11.50 mm"), ("exhaust", "11.00 mm"),
    ]  # fmt: skip


def test_cam_lift_alone_waits_for_its_card() -> None:
    (cam,) = job(contents(preview("cam_lift.csv"))).cams
    assert cam.card == "not named"
    named = understand(table("cam_lift.csv"), ImportDefaults(job="J", cam="C-114 (FICTIONAL)"))
    assert job(contents(named), "J").cams[0].card == "C-114 (FICTIONAL)"


def test_port_geometry() -> None:
    found = job(contents(preview("geometry_ports.csv")))
    # 24 rows of 14 measured columns; the 6 worked-out columns are not stored
    assert len(found.measurements) == 24 * 14
    first, last = only(found.measurements, "I1", "throat diameter")
    assert [(m.stage, str(m.value)) for m in (first, last)] == [
        ("S0", "36.01 mm"), ("S7", "37.40 mm"),
    ]  # fmt: skip
    assert {p.code: p.head for p in found.ports}["I4"] == "R"
    assert str(only(found.measurements, "E4", "port volume")[0].value) == "61.9 cc"


def test_seats_and_chambers() -> None:
    found = job(contents(preview("chambers_valves.csv")))
    assert len(found.measurements) == 6 * 21  # 25 columns less cylinder, head and the two of cuts
    volumes = only(found.measurements, "cyl 4", "chamber volume")
    assert [(str(m.value), m.stage, m.place) for m in volumes] == [
        ("41.4 cc", "S0", "head R"),
        ("43.2 cc", "", "head R; after seats and deshroud"),
        ("39.4 cc", "S7", "head R"),
    ]
    (angle,) = only(found.measurements, "I4", "seat angle")
    assert angle.value.si == pytest.approx(0.785398163)
    assert [str(m.value) for m in only(found.measurements, "I1", "seat sink")] == [
        "0.33 mm", "0.09 mm",
    ]  # fmt: skip
    assert found.notes[1].text == "seat cuts 35/45/60+bowl radius deg"
    assert found.notes[1].subject == "E1"
    assert {p.code: p.head for p in found.ports}["E6"] == "R"


def test_sections_and_probe_map() -> None:
    sections = job(contents(preview("section_profile_intake1.csv"))).measurements
    assert len(sections) == 16 * 4
    pinch = [m for m in sections if "pushrod pinch" in m.place and m.quantity == "section area"]
    assert [(m.subject, m.stage, str(m.value)) for m in pinch] == [
        ("I1", "S0", "889 mm2"), ("I1", "S7", "995 mm2"),
    ]  # fmt: skip
    assert pinch[0].place == "pushrod pinch; distance 48 mm"
    probe = job(contents(preview("pitot_map_intake1.csv"))).measurements
    assert len(probe) == 40 * 2
    assert str(probe[0].value) == "83 m/s"
    assert str(probe[1].value) == "16.45 inH2O"
    assert probe[0].place == "pinch plane; row roof; column 1; side pushrod wall; lift 10 mm"


def test_walls_and_clearances() -> None:
    walls = job(contents(preview("sonic_wall_mm.csv"))).measurements
    assert len(walls) == 24 * 3
    thin = only(walls, "cyl 4", "wall thickness")
    assert [(m.stage, str(m.value)) for m in thin[:2]] == [("S0", "2.9 mm"), ("S7", "2.55 mm")]
    assert thin[0].note == "shop minimum 2.5 mm; core shift: cut stopped at shop limit"
    gaps = job(contents(preview("clearances.csv"))).measurements
    assert {m.quantity for m in gaps} == {"clearance"}
    assert gaps[0].place == "Intake valve to piston, 10 deg ATDC"
    assert gaps[0].note == "shop minimum 2.0 mm; verdict on the sheet: pass"


def test_milling_figures_keep_their_formula() -> None:
    found = job(contents(preview("milling_compression.csv"))).measurements
    assert len(found) == 18
    per_mm = next(m for m in found if m.quantity == "cc per mm milled")
    assert per_mm.value.si == pytest.approx(4.60e-3)
    assert per_mm.note == "area/10"


def test_a_claim_is_never_a_run() -> None:
    found = job(contents(preview("other_shop_sheet.csv")))
    assert found.runs == ()
    assert [row.kind for row in found.rows] == [SheetKind.CLAIM] * 5
    assert found.rows[0].cells["flow_cfm_claimed"] == "62"
    assert found.rows[0].source == "other_shop_sheet.csv"
    assert "claim-not-a-run" in [f.code for f in preview("other_shop_sheet.csv").findings]


@pytest.mark.parametrize(
    ("name", "kind", "heading", "cell"),
    [
        ("inspection.csv", SheetKind.INSPECTION, "verdict", "cyl 4 indication"),
        ("class_rules.csv", SheetKind.CLASS_RULES, "status_at_delivery", "41.98 max - pass"),
        ("time_log.csv", SheetKind.HOURS, "difference_h", "+0.2"),
        ("dyno_before_after.csv", SheetKind.DYNO, "power_after_kW", "86.8"),
    ],
)
def test_other_tables_keep_every_cell(name: str, kind: SheetKind, heading: str, cell: str) -> None:
    found = job(contents(preview(name)))
    assert {row.kind for row in found.rows} == {kind}
    assert found.rows[0].cells[heading] == cell
    assert set(found.rows[0].cells) == set(table(name).headers)


def test_earlier_jobs_are_jobs_and_rows() -> None:
    found = contents(preview("archive_jobs.csv"))
    assert len(found.jobs) == 14
    earlier = job(found, "TH-09-004")
    assert earlier.job.facts["architecture"] == "I6 pushrod 2V"
    (head,) = earlier.heads
    assert str(head.intake_valve_angle) == "12 deg"
    assert (head.intake_port_location, head.exhaust_valve_angle) == ("side draft", None)
    assert job(found, "TH-25-030").heads == ()  # nothing is said of it
    assert earlier.rows[0].kind is SheetKind.EARLIER_JOBS
