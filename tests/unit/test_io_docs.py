"""The page on sheets lists every heading, quantity, unit and kind of sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from portwright.io.forms import FORMS
from portwright.io.headings import HEADINGS, STATES
from portwright.io.limits import MAX_BYTES, MAX_COLUMNS, MAX_ROWS
from portwright.nomenclature import TERMS
from portwright.units import Kind, units_of

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "sheets.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "names",
    [
        pytest.param([f"`{heading}`" for heading in HEADINGS], id="headings"),
        pytest.param([f"`{h}`" for term in TERMS for h in term.headings], id="quantity headings"),
        pytest.param([f"| {term.name} |" for term in TERMS], id="quantities"),
        pytest.param([f"`{state}`" for state in STATES], id="states"),
        pytest.param([f"`{u}`" for kind in Kind for u in units_of(kind)], id="units"),
        pytest.param([f"| {form.name} |" for form in FORMS], id="kinds of sheets"),
    ],
)
def test_the_page_names_them_all(names: list[str]) -> None:
    assert not [name for name in names if name not in PAGE]


def test_the_page_states_the_limits() -> None:
    assert f"{MAX_BYTES // 1_000_000} MB, {MAX_ROWS:,} rows".replace(",000 ", " 000 ") in PAGE
    assert f"{MAX_COLUMNS} columns" in PAGE
