"""Sheets of any content: every row is accounted for, and an export brings back what it was."""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from portwright.io.defaults import ImportDefaults
from portwright.io.export import export_contents, read_export
from portwright.io.preview import contents, understand
from portwright.io.spreadsheet_text import protect, unprotect
from portwright.io.tables import Table, read_table
from portwright.model.contents import ShopContents
from tests.archive.archive_strategies import shops

JOB = ImportDefaults(job="J1", bench="B2", port="I1", stage="S0", date="2026-01-05")
TIMELESS = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@TIMELESS
@given(shops())
def test_any_shop_comes_back_from_its_export(shop: ShopContents) -> None:
    with tempfile.TemporaryDirectory() as folder:
        export_contents(shop, Path(folder))
        assert read_export(Path(folder)) == shop


RISKY = st.text(alphabet=st.sampled_from("'=+-@\t\r1x,.\"\n;"), max_size=6)


@given(st.text() | RISKY)
def test_protected_text_comes_back_and_runs_nowhere(text: str) -> None:
    shown = protect(text)
    assert unprotect(shown) == text
    assert shown[:1] not in {"=", "@", "\t", "\r"}


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_stay_numbers_in_a_spreadsheet(value: float) -> None:
    assert protect(repr(value)) == repr(value)


CELLS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=8)


@TIMELESS
@given(
    st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=6).filter(
        lambda rows: any(any(c.strip() for c in row) for row in rows)
    ),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_a_written_table_is_read_back(
    rows: list[tuple[str, str]], separator: str, encoding: str
) -> None:
    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=separator, quoting=csv.QUOTE_ALL)
    writer.writerow(("heading one", "heading two"))
    writer.writerows([protect(cell) for cell in row] for row in rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "table.csv"
        path.write_bytes(file.getvalue().encode(encoding))
        table = read_table(path)
    expected = [tuple(cell.strip() for cell in row) for row in rows]
    while not any(expected[-1]):
        expected.pop()
    assert list(table.rows) == expected


ANY_CELL = st.sampled_from(
    [
        "",
        "1",
        "2",
        "1.5",
        "3,5",
        "-1",
        "x",
        "28 inH2O",
        "1,234",
        "1e999",
        "7 mm",
        "I1",
        "=A1",
        "nan",
    ]
)
HEADINGS = st.lists(
    st.sampled_from(
        ["lift_mm", "Lift", "flow_cfm_28", "flow_cfm", "percent_of_range", "range_no",
         "range_full_scale_cfm_10", "port", "bench_id", "run_id", "repeat", "test_pressure_inH2O",
         "throat_mm", "cyl", "stage", "item", "value", "unit", "field", "mood", "", "check",
         "measured_mm", "cam_angle_deg", "intake_lift_mm", "exhaust_lift_mm", "effective_area_mm2",
         "location", "as_received_mm", "min_shop_limit_mm", "rpm", "torque_Nm", "plate_id",
         "certified_cfm_28", "measured_cfm_28", "readout", "job_no", "year", "outcome_note"]
    ),
    min_size=1,
    max_size=8,
)  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(HEADINGS, st.data())
def test_every_row_is_understood_refused_or_blank(headings: list[str], data: st.DataObject) -> None:
    row = st.tuples(*(ANY_CELL for _ in headings))
    rows = tuple(data.draw(st.lists(row, min_size=1, max_size=6)))
    seen = understand(Table(tuple(headings), rows, "any.csv"), JOB)
    if not seen.kind:
        assert seen.why
        return
    full = {number for number, cells in enumerate(rows, start=2) if any(cells)}
    understood = [r.row for r in seen.rows]
    refused = [r.row for r in seen.refused]
    assert sorted(understood + refused) == sorted(full)
    assert all(r.reason for r in seen.refused)


@given(
    st.lists(st.integers(1, 1500), min_size=1, max_size=12, unique=True),
    st.sampled_from([".", ","]),
)
def test_a_sweep_is_read_as_it_was_written(lifts: list[int], mark: str) -> None:
    rows = tuple(
        (f"{lift / 100:.2f}".replace(".", mark), f"{lift / 7:.1f}".replace(".", mark))
        for lift in lifts
    )
    seen = understand(Table(("lift_mm", "flow_cfm_28"), rows, "any.csv"), JOB)
    (run,) = contents(seen).jobs[0].runs
    assert [(r.lift.text, r.flow.text if r.flow else "") for r in run.readings] == list(rows)
    # the unit is a thousandth: one rounding in the product
    assert [r.lift.si for r in run.readings] == pytest.approx([n / 1e5 for n in lifts], rel=1e-15)
