"""Columns a sheet worked out itself, compared with what follows from its own readings.

Such columns are never stored.  A figure that differs by more than both were rounded is a finding:
usually a slip of the pen, sometimes another definition.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from portwright.core.bench import effective_area
from portwright.errors import Severity
from portwright.io.columns import Column, Use
from portwright.io.flow_rows import pressure_words
from portwright.io.sheet import RefusedRow, Row, Sheet
from portwright.model.quantity import AsTyped
from portwright.units import from_si, last_digit, read, spread_to_si

Expected = Callable[[Row], tuple[float, float] | None]
"""Value that follows from a row, and half a step of rounding in it; None if it cannot be told."""


def check_areas(sheet: Sheet) -> None:
    """Effective area of a flow sheet against its flow at a stated pressure."""

    def expected(row: Row) -> tuple[float, float] | None:
        flow, column = _value(row, "flow"), row.column("flow")
        if flow is None or column is None or not column.flow_at or flow.si <= 0.0:
            return None
        area = float(effective_area(flow.si, pressure_words(column.flow_at).si))
        return area, area * _half_step(flow, column) / flow.si

    _compare(sheet, "effective area", expected)


def check_range_flows(sheet: Sheet) -> None:
    """Flow written beside a percent of range against percent times full scale."""
    flow_column = next((c for c in sheet.columns if c.field == "flow"), None)
    scale_column = next((c for c in sheet.columns if c.field == "range full scale"), None)
    if flow_column is None or scale_column is None or flow_column.flow_at != scale_column.flow_at:
        return

    def expected(row: Row) -> tuple[float, float] | None:
        percent, scale, column = _value(row, "percent"), _value(row, "range full scale"), row
        share = column.column("percent")
        if percent is None or scale is None or share is None:
            return None
        # the full scale is a constant, only the percent was read
        return percent.si * scale.si, _half_step(percent, share) * scale.si

    _compare_column(sheet, flow_column, expected)


def check_plates(sheet: Sheet) -> None:
    """Error of a reference plate against its certified and measured flow."""

    def expected(row: Row) -> tuple[float, float] | None:
        certified, measured = _value(row, "certified"), _value(row, "measured flow")
        one, two = row.column("certified"), row.column("measured flow")
        if certified is None or measured is None or one is None or two is None:
            return None
        ratio = measured.si / certified.si
        spread = _half_step(measured, two) / measured.si + _half_step(certified, one) / certified.si
        return ratio - 1.0, ratio * spread

    _compare(sheet, "plate error", expected)


def check_geometry(sheet: Sheet) -> None:
    """Areas and shares of a port sheet against its diameters, widths and heights."""
    _compare(sheet, "throat share", _of(("throat diameter", "valve head diameter"), _ratio))
    _compare(sheet, "throat area", _of(("throat diameter",), _circle))
    _compare(sheet, "net throat area", _of(("throat diameter", "stem diameter"), _ring))
    for where in ("short side", "pinch", "opening"):
        sizes = (f"{where} width", f"{where} height", f"{where} corner radius")
        _compare(sheet, f"{where} area", _of(sizes, _rounded_rectangle))


def _ratio(throat: float, valve: float) -> float:
    return throat / valve


def _circle(diameter: float) -> float:
    return math.pi / 4.0 * diameter**2


def _ring(outer: float, inner: float) -> float:
    return _circle(outer) - _circle(inner)


def _rounded_rectangle(width: float, height: float, radius: float) -> float:
    return width * height - (4.0 - math.pi) * radius**2


def _of(names: tuple[str, ...], formula: Callable[..., float]) -> Expected:
    """Expected value of a formula, each input's rounding added up."""

    def expected(row: Row) -> tuple[float, float] | None:
        values, steps = [], []
        for name in names:
            value, column = _value(row, name), row.column(name)
            if value is None or column is None:
                return None
            values.append(value.si)
            steps.append(_half_step(value, column))
        middle = formula(*values)
        spread = 0.0
        for i, step in enumerate(steps):
            moved = [v + step if i == j else v for j, v in enumerate(values)]
            spread += abs(formula(*moved) - middle)
        return middle, spread

    return expected


def _value(row: Row, name: str) -> AsTyped | None:
    try:
        return row.number_of(name)
    except RefusedRow:
        return None  # the row is refused for it elsewhere


def _half_step(value: AsTyped, column: Column) -> float:
    if column.kind is None:
        return 0.0
    return abs(spread_to_si(0.5 * last_digit(value.text), value.unit, column.kind))


def _compare(sheet: Sheet, name: str, expected: Expected) -> None:
    for column in sheet.columns:
        if column.field == name and column.use is Use.DERIVED:
            _compare_column(sheet, column, expected)


def _compare_column(sheet: Sheet, column: Column, expected: Expected) -> None:
    if column.kind is None or not column.unit:
        return
    refused = {refusal.row for refusal in sheet.refused}
    off: list[tuple[float, int, str, float]] = []
    for row in sheet.rows():
        text = row.cells[column.index]
        follows = expected(row) if text and row.number not in refused else None
        if follows is None:
            continue
        try:
            said = read(text, column.kind, column.unit)
        except ValueError:
            continue
        room = follows[1] + _half_step(said, column)
        # a hundredth of a step for the arithmetic itself
        if abs(said.si - follows[0]) > room * 1.01:
            off.append((abs(said.si - follows[0]) / room, row.number, text, follows[0]))
    if off:
        _, number, text, value = max(off)
        shown = f"{from_si(value, column.unit, column.kind):.4g}"
        sheet.find(
            "derived-column-disagrees",
            f"{column.heading}: {len(off)} rows differ from what follows from the readings, "
            f"most in row {number}: {text} there, {shown} {column.unit} here.",
            "The readings are kept and the column is not; check the row for a slip.",
            Severity.NOTE,
        )
