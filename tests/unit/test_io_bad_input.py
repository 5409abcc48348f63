"""Bad input is refused row by row with a reason; what can be read is kept, nothing is lost."""

from __future__ import annotations

import pytest

from portwright.errors import ImportFileError, InputError, UnknownNameError
from portwright.io.defaults import ImportDefaults
from portwright.io.preview import SheetPreview, contents, understand, understand_all
from portwright.io.tables import Table
from portwright.model.bench import Bench, BenchWithCalibrations, Calibration, Metering
from portwright.model.head import Side
from portwright.model.run import Run
from portwright.units import Kind, read

JOB = ImportDefaults(job="J1", bench="B2", port="I1", stage="S0", date="2026-01-05")


def table(text: str, source: str = "typed.csv", separator: str = ",") -> Table:
    lines = [tuple(cell.strip() for cell in line.split(separator)) for line in text.split("\n")]
    width = len(lines[0])
    rows = tuple(line + ("",) * (width - len(line)) for line in lines[1:])
    return Table(lines[0], rows, source)


def runs(preview: SheetPreview) -> tuple[Run, ...]:
    return contents(preview).jobs[0].runs


def codes(preview: SheetPreview) -> list[str]:
    return [finding.code for finding in preview.findings]


GOOD = "lift_mm,flow_cfm_28\n1,17.9\n2,34.6"

# cell text, heading it stands under, what the reason says
BAD_ROWS = [
    ("x,50", "lift_mm", "'x' is not a number"),
    ("-3,50", "lift_mm", "lift is below zero"),
    ("3,about 50", "flow_cfm_28", "not a number"),
    ("3,-50", "flow_cfm_28", "flow is below zero"),
    ("3,", "flow_cfm_28", "no flow was written down"),
    (",50", "lift_mm", "lift is blank"),
    ("2,35.0", "lift_mm", "already in row 3"),
    ("3 furlong,50", "lift_mm", "not a unit of length"),
    ("3,50,9", "", "more cells than there are headings"),
]


@pytest.mark.parametrize(("row", "heading", "says"), BAD_ROWS)
def test_a_bad_row_is_refused_and_the_rest_is_kept(row: str, heading: str, says: str) -> None:
    seen = understand(table(f"{GOOD}\n{row}"), JOB)
    (refusal,) = seen.refused
    assert refusal.row == 4
    assert refusal.column == heading
    assert says in refusal.reason
    assert refusal.hint
    assert [r.row for r in seen.rows] == [2, 3]
    assert len(runs(seen)[0].readings) == 2


def test_the_refusal_says_what_stands_in_the_cell() -> None:
    (refusal,) = understand(table(f"{GOOD}\n3,1 234,5x"), JOB).refused
    assert refusal.text.startswith("3, 1 234")
    (refusal,) = understand(table(f"{GOOD}\n3;50;9".replace(",", ";"), separator=";"), JOB).refused
    assert refusal.text == "3, 50, 9"


def test_a_number_that_could_be_two_is_refused() -> None:
    sheet = "lift_mm;flow_cfm_28\n1,5;17,9\n2;1,250"
    (refusal,) = understand(table(sheet, separator=";"), JOB).refused
    assert (refusal.column, refusal.text) == ("flow_cfm_28", "1,250")
    assert "could mean 1.250 or 1250" in refusal.reason


def test_german_sheet() -> None:
    sheet = "Hub (mm);Durchfluss (L/s);test_pressure_inH2O\n1,0;8,45;28,0\n2,0;16,33;28,0"
    mapping = {"Hub (mm)": "lift", "Durchfluss (L/s)": "flow"}
    at = read("28 inH2O", Kind.PRESSURE)
    said = ImportDefaults(job="J1", bench="B2", port="I1", stage="S0", flow_at=at)
    seen = understand(table(sheet, separator=";"), said, mapping)
    assert seen.refused == ()
    (run,) = runs(seen)
    assert [str(r.lift) for r in run.readings] == ["1,0 mm", "2,0 mm"]
    assert run.readings[1].flow is not None
    assert run.readings[1].flow.si == pytest.approx(16.33e-3)


def test_a_heading_without_unit_refuses_its_rows_with_the_way_out() -> None:
    sheet = table("Lift,flow_cfm_28\n1,17.9\n2 mm,34.6")
    seen = understand(sheet, JOB)
    assert [(r.row, r.column) for r in seen.refused] == [(2, "Lift")]
    assert "lift [mm]" in seen.refused[0].hint
    assert len(runs(understand(sheet, JOB, {"Lift": "lift [mm]"}))[0].readings) == 2


def test_wrong_sheet_says_what_is_nearest() -> None:
    seen = understand(table("lift_mm,colour\n1,red"), JOB)
    assert seen.kind == ""
    assert not seen.ready
    assert "flow sheet" in seen.why
    assert "flow" in seen.why
    with pytest.raises(ImportFileError, match="not a sheet Portwright knows"):
        contents(seen)
    nothing = understand(table("a,b\n1,2"), JOB)
    assert nothing.why == "None of its headings is known: a, b."


def test_a_wrong_kind_can_be_named_and_is_checked() -> None:
    with pytest.raises(UnknownNameError, match="flow sheet"):
        understand(table(GOOD), ImportDefaults(sheet="flowsheet"))
    assert understand(table(GOOD), ImportDefaults(sheet="bench list")).kind == ""


def test_what_the_sheet_does_not_say_is_asked_for_once() -> None:
    seen = understand(table(GOOD))
    assert {need.option for need in seen.needs} == {"job", "bench", "port"}
    assert not seen.ready
    with pytest.raises(ImportFileError, match="leaves something open") as refused:
        contents(seen)
    assert "bench" in refused.value.hint


def test_port_that_tells_no_side_needs_one() -> None:
    sheet = table("port,lift_mm,flow_cfm_28\nleft rear,1,17.9")
    assert [need.option for need in understand(sheet, JOB).needs] == ["side"]
    said = ImportDefaults(job="J1", bench="B2", side=Side.EXHAUST)
    assert contents(understand(sheet, said)).jobs[0].ports[0].side is Side.EXHAUST


def test_nothing_readable_is_an_error_with_the_first_reason() -> None:
    with pytest.raises(ImportFileError, match=r"no row could be read\. Row 2"):
        contents(understand(table("lift_mm,flow_cfm_28\nx,1\ny,2"), JOB))


def test_flow_without_stated_pressure() -> None:
    sheet = table("lift_mm,flow_cfm,test_pressure_inH2O\n1,17.9,28\n2,34.6,")
    assert [need.option for need in understand(sheet, JOB).needs] == ["flow_at"]
    shown = ImportDefaults(job="J1", bench="B2", port="I1", flow_as_shown=True)
    seen = understand(sheet, shown)
    assert {r.reason for r in seen.refused} == {"the test pressure is missing"}
    no_column = understand(table("lift_mm,flow_cfm\n1,17.9"), shown)
    assert [need.option for need in no_column.needs] == ["test_pressure"]
    pressure = read("28 inH2O", Kind.PRESSURE)
    said = ImportDefaults(
        job="J1", bench="B2", port="I1", flow_as_shown=True, test_pressure=pressure
    )
    (run,) = runs(understand(sheet, said))
    assert [str(r.test_pressure) for r in run.readings] == ["28 inH2O", "28 inH2O"]


def test_missing_pressure_is_a_finding_where_the_bench_states_it() -> None:
    known = Calibration("B2", 3, "2020-01-01", Metering.DIRECT, read("28 inH2O", Kind.PRESSURE))
    bench = BenchWithCalibrations(Bench("B2"), (known,))
    said = ImportDefaults(job="J1", bench="B2", port="I1", date="2026-01-05", benches=(bench,))
    seen = understand(table("lift_mm,flow_cfm\n1,17.9"), said)
    assert runs(seen)[0].calibration == 3
    assert contents(seen).calibrations == ()
    assert any("test pressure" in f.message for f in seen.findings if f.code == "missing-condition")


def test_percent_of_an_unknown_range_is_refused() -> None:
    seen = understand(table("lift_mm,range_no,percent_of_range\n1,3,50\n2,3,95"), JOB)
    assert [r.row for r in seen.refused] == [2, 3]
    assert "full scale" in seen.refused[0].reason
    assert seen.rows == ()


def test_zero_and_negative_test_pressure_are_refused() -> None:
    sheet = table("lift_mm,flow_cfm_28,test_pressure_inH2O\n1,17.9,-28\n2,34.6,0\n3,50,28")
    assert [r.row for r in understand(sheet, JOB).refused] == [2, 3]


def test_lifts_out_of_order_are_kept_and_said() -> None:
    seen = understand(table(f"{GOOD}\n1.5,26\n3,50"), JOB)
    assert [str(r.lift) for r in runs(seen)[0].readings] == ["1 mm", "2 mm", "1.5 mm", "3 mm"]
    assert codes(seen).count("lifts-out-of-order") == 1
    down = understand(table("lift_mm,flow_cfm_28\n3,50\n2,34.6\n1,17.9"), JOB)
    assert "lifts-out-of-order" not in codes(down)


def test_lift_no_valve_has_is_questioned() -> None:
    assert "implausible-value" in codes(understand(table(f"{GOOD}\n300,50"), JOB))
    assert "implausible-value" not in codes(understand(table(GOOD), JOB))


def test_run_number_used_for_two_ports_is_refused() -> None:
    sheet = "run_id,port,lift_mm,flow_cfm_28\nR1,I1,1,17.9\nR1,I2,2,34.6\nR1,I1,3,50"
    (refusal,) = understand(table(sheet), JOB).refused
    assert (refusal.row, refusal.column) == (3, "port")
    assert "row 2" in refusal.reason


def test_two_sheets_with_one_run_number() -> None:
    first = understand(table("run_id,lift_mm,flow_cfm_28\nR1,1,17.9"), JOB)
    other = understand(table("run_id,lift_mm,flow_cfm_28\nR1,1,18.2"), JOB)
    assert len(contents(first, first).jobs[0].runs) == 1
    with pytest.raises(InputError, match="R1 is there twice"):
        contents(first, other)


def test_run_number_is_made_where_there_is_none() -> None:
    sheet = "repeat,lift_mm,flow_cfm_28\n1,1,17.9\n2,1,18.0"
    assert [r.code for r in runs(understand(table(sheet), JOB))] == [
        "2026-01-05-B2-I1-S0-1", "2026-01-05-B2-I1-S0-2",
    ]  # fmt: skip


def test_unknown_columns_are_named() -> None:
    seen = understand(table("lift_mm,flow_cfm_28,mood\n1,17.9,good"), JOB)
    (finding,) = [f for f in seen.findings if f.code == "unknown-column"]
    assert "mood" in finding.message
    ignored = understand(table("lift_mm,flow_cfm_28,mood\n1,17.9,good"), JOB, {"mood": "ignore"})
    assert "unknown-column" not in codes(ignored)


# One column of each kind that sheets work out themselves, with a slip in one row.
SLIPS = [
    "lift_mm,flow_cfm_28,effective_area_mm2\n1,17.9,78\n2,34.6,252",
    "lift_mm,range_no,full_scale_cfm_10,percent_of_range,flow_cfm_10\n1,2,18,75.5,13.6\n2,3,36,72,29.5",
    "port,valve_dia_mm,stem_dia_mm,throat_mm,throat_pct_of_valve\nI1,42.00,8.00,36.01,58.7",
    "port,throat_mm,throat_area_mm2\nI1,36.01,1091",
    "port,stem_dia_mm,throat_mm,throat_area_less_stem_mm2\nI1,8.00,36.01,1018",
    "port,pinch_width_mm,pinch_height_mm,pinch_corner_r_mm,pinch_area_mm2\nI1,25.3,36.4,6.0,921",
    "bench_id,plate_id,certified_cfm_28,measured_cfm_28,error_pct\nB1,P1,17.4,17.0,+2.43",
]


@pytest.mark.parametrize("sheet", SLIPS)
def test_a_slip_in_a_worked_out_column_is_found(sheet: str) -> None:
    seen = understand(table(sheet), JOB)
    (finding,) = [f for f in seen.findings if f.code == "derived-column-disagrees"]
    assert "1 rows" in finding.message
    assert seen.refused == ()


def test_text_in_the_numbers_of_a_kept_table_is_asked_about() -> None:
    seen = understand(table("rpm,torque_Nm\n3500,219\n4000,broke"), JOB)
    assert codes(seen) == ["text-in-numbers"]
    assert len(seen.rows) == 2


def test_measurements_refuse_text_and_question_slips() -> None:
    seen = understand(table("port,throat_mm\nI1,36.0\nI2,wide\nI3,3600"), JOB)
    assert [(r.row, r.column) for r in seen.refused] == [(3, "throat_mm")]
    assert codes(seen) == ["implausible-value"]


def test_unit_unknown_in_a_list() -> None:
    seen = understand(table("item,value,unit\nboss,3,mm\nboss,3,furlong"), JOB)
    assert [(r.row, r.column, r.text) for r in seen.refused] == [(3, "unit", "furlong")]


def test_cam_table_refuses_negative_lift_and_double_angles() -> None:
    sheet = "cam_angle_deg,intake_lift_mm,exhaust_lift_mm\n0,11,10\n5,-1,9\n0,11,10"
    assert [r.row for r in understand(table(sheet), JOB).refused] == [3, 4]


def test_field_given_twice_is_refused() -> None:
    seen = understand(table("field,value\njob_no,J7\ncustomer,A\ncustomer,B"))
    assert [(r.row, r.column) for r in seen.refused] == [(4, "field")]
    assert contents(seen).jobs[0].job.customer == "A"


def test_sheets_understood_together_share_their_benches() -> None:
    constants = table(
        "bench_id,port,lift_mm,range_no,range_full_scale_cfm_10,percent_of_range\nB1,I1,1,3,36,50"
    )
    later = table("bench_id,port,lift_mm,range_no,percent_of_range\nB1,I2,1,3,60")
    both = understand_all([later, constants], JOB)
    assert [p.refused for p in both] == [(), ()]
    assert {run.calibration for run in contents(*both).jobs[0].runs} == {1}
