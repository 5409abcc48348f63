"""Flow sheets with one sweep a column, as shops write them on paper."""

from __future__ import annotations

import pytest

from portwright.errors import ImportFileError
from portwright.io.defaults import ImportDefaults
from portwright.io.preview import SheetPreview, understand
from portwright.io.side_by_side import one_reading_a_row
from portwright.io.tables import Table
from portwright.model.run import Run
from portwright.units import Kind, read

GIVEN = ImportDefaults(
    job="J-1", bench="B2", port="I1", stage="S0", test_pressure=read("28 inH2O", Kind.PRESSURE)
)


def table(text: str) -> Table:
    header, *rows = (tuple(line.split(";")) for line in text.strip().splitlines())
    return Table(header, tuple(rows), "sheet.csv")


def runs(seen: SheetPreview) -> dict[tuple[str, str, int], Run]:
    return {(r.port, r.stage, r.repeat): r for job in seen.found.jobs for r in job.runs}


def typed(run: Run) -> list[tuple[str, str]]:
    return [(str(r.lift), str(r.flow)) for r in run.readings]


def test_a_column_named_after_a_port_is_a_sweep_of_it() -> None:
    seen = understand(
        table("Lift mm;Intake 1 cfm;I2 [cfm];Exh 3 (cfm)\n1;17,9;18,0;12,0\n2;35,1;35,3;"), GIVEN
    )
    found = runs(seen)
    assert set(found) == {("I1", "S0", 1), ("I2", "S0", 1), ("E3", "S0", 1)}
    assert typed(found["I1", "S0", 1]) == [("1 mm", "17,9 cfm"), ("2 mm", "35,1 cfm")]
    assert typed(found["E3", "S0", 1]) == [("1 mm", "12,0 cfm")]  # a blank was not flown
    assert [c.understood_as for c in seen.columns] == [
        "lift [mm]", "flow of I1 [cfm]", "flow of I2 [cfm]", "flow of E3 [cfm]",
    ]  # fmt: skip
    assert [row.row for row in seen.rows] == [2, 2, 2, 3, 3]


def test_the_stage_behind_a_port_is_read() -> None:
    found = runs(understand(table("lift_mm;I1 S0 (cfm);I1 S1 (cfm)\n1;17.9;18.9"), GIVEN))
    assert set(found) == {("I1", "S0", 1), ("I1", "S1", 1)}


def test_columns_without_port_are_repeats_unless_they_say_when() -> None:
    repeats = runs(
        understand(
            table("Lift (mm);Pull A;Pull B\n1;17.9;18.0"),
            GIVEN,
            {"Pull A": "flow [cfm]", "Pull B": "flow [cfm]"},
        )
    )
    assert set(repeats) == {("I1", "S0", 1), ("I1", "S0", 2)}
    stages = runs(
        understand(
            table("Lift (mm);Before;After\n1;17.9;18.0"),
            GIVEN,
            {"Before": "flow [cfm]", "After": "flow [cfm]"},
        )
    )
    assert set(stages) == {("I1", "before", 1), ("I1", "after", 1)}


def test_each_column_keeps_its_own_unit() -> None:
    found = runs(understand(table("lift_mm;I1 (cfm);I2 (L/s)\n1;17.9;8.5"), GIVEN))
    assert typed(found["I2", "S0", 1]) == [("1 mm", "8.5 L/s")]
    assert found["I2", "S0", 1].readings[0].flow != found["I1", "S0", 1].readings[0].flow


def test_a_port_column_without_unit_asks_for_it() -> None:
    seen = understand(table("lift_mm;Intake;Exhaust\n1;17.9;12.0"), GIVEN)
    assert not runs(seen)
    assert {r.row for r in seen.refused} == {2}
    assert "flow [cfm]" in seen.refused[0].hint


def test_a_lift_flown_nowhere_is_refused_once() -> None:
    seen = understand(table("lift_mm;I1 (cfm);I2 (cfm)\n1;17.9;18\n2;;"), GIVEN)
    assert [(r.row, r.reason) for r in seen.refused] == [(3, "no flow was written down")]


def test_a_slip_in_one_column_leaves_the_others() -> None:
    seen = understand(table("lift_mm;I1 (cfm);I2 (cfm)\n1;17.9;abc\n2;35.1;35.2"), GIVEN)
    assert [(r.row, r.text) for r in seen.refused] == [(2, "abc")]
    assert len(seen.rows) == 3


def test_two_pressures_on_one_sheet_are_refused() -> None:
    with pytest.raises(ImportFileError, match="different test pressures"):
        understand(table("lift_mm;I1 (cfm @ 28);I2 (cfm @ 10)\n1;17.9;10.4"), GIVEN)


@pytest.mark.parametrize(
    "headings",
    [
        "lift_mm;flow_cfm_28",
        "lift_mm;flow;flow_m3_s",
        "lift_mm;flow_cfm;inlet_aid",
        "lift_mm;flow_cfm;intake valve",
        "x;y",
    ],
)
def test_sheets_in_rows_stay_as_they_are(headings: str) -> None:
    sheet = table(headings + "\n1" + ";2" * headings.count(";"))
    assert one_reading_a_row(sheet).table is sheet
