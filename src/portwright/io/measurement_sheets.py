"""Sheets of measurements: one row per subject, one per value, walls, clearances."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain

from portwright.errors import InputError
from portwright.io.checks import check_geometry
from portwright.io.columns import Column, Use
from portwright.io.names import port_code, port_named, side_of, stage_named
from portwright.io.sheet import Row, Sheet
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Head, Side
from portwright.model.job import Job, Measurement, Note, Stage
from portwright.model.quantity import AsTyped
from portwright.nomenclature import measurement_findings, says_unsteady
from portwright.units import Kind, read, typed, unit

Found = tuple[list[Measurement], list[Note]]


def read_measurements(sheet: Sheet) -> ShopContents:
    """One row per port, cylinder, section or probe place; one column per quantity."""

    def one(row: Row) -> tuple[Found, str]:
        measured, notes = [], []
        for column in row.columns:
            if column.use not in {Use.READ, Use.NEEDS_UNIT}:
                continue
            if column.field == "cuts":
                notes += _cuts(sheet, row, column)
            if column.field in _PROBED and _unsteady(row, column):
                nothing = typed(0.0, _PROBED[column.field], column.kind or Kind.SPEED)
                note = "; ".join(dict.fromkeys(t for t in ("unsteady", row.text("note")) if t))
                measured.append(_measurement(sheet, row, column, column.field, nothing, note))
                continue
            value = row.number_in(column) if column.quantity else None
            if value is not None:
                measured.append(_measurement(sheet, row, column, column.field, value))
        subjects = dict.fromkeys(m.subject for m in measured if m.subject)
        words = f"{len(measured)} measurements of {', '.join(subjects) or 'the job'}"
        return (measured, notes), words

    found = sheet.each(one)
    check_geometry(sheet)
    return _contents(sheet, found)


def _unsteady(row: Row, column: Column) -> bool:
    """A mark without a number: the cell says so itself, or is blank and the note says so."""
    cell = row.cells[column.index].strip()
    return says_unsteady(cell) or (not cell and says_unsteady(row.text("note")))


def read_walls(sheet: Sheet) -> ShopContents:
    """Wall thickness before and after, with the cut planned between."""

    def one(row: Row) -> tuple[Found, str]:
        limit = row.number_of("shop minimum")
        note = "; ".join(
            t for t in (f"shop minimum {limit}" if limit else "", row.text("note")) if t
        )
        measured = []
        for column in row.columns:
            named = {"value at state": "wall thickness", "planned cut": "planned cut"}
            quantity = named.get(column.field)
            value = row.number_in(column) if quantity and column.use is not Use.REPEATED else None
            if quantity and value:
                measured.append(_measurement(sheet, row, column, quantity, value, note))
        return (measured, []), f"wall of {_subject(sheet, row, None)} at {row.text('place')}"

    return _contents(sheet, sheet.each(one))


def read_clearances(sheet: Sheet) -> ShopContents:
    """Clearances as measured; the sheet's verdict is kept as its words and proves nothing."""

    def one(row: Row) -> tuple[Found, str]:
        limit, verdict = row.number_of("shop minimum"), row.text("verdict")
        note = "; ".join(
            text
            for text in (
                f"shop minimum {limit}" if limit else "",
                f"verdict on the sheet: {verdict}" if verdict else "",
                row.text("note"),
            )
            if text
        )
        measurement = Measurement(
            subject=_subject(sheet, row, None),
            quantity="clearance",
            value=row.required("measured"),
            place=row.text("check"),
            stage=stage_named(sheet, row.text("stage", sheet.defaults.stage)),
            instrument=row.text("how", sheet.defaults.instrument),
            date=row.text("date", sheet.defaults.date),
            note=note,
        )
        return ([measurement], []), f"clearance: {measurement.place}"

    return _contents(sheet, sheet.each(one))


def read_list(sheet: Sheet) -> ShopContents:
    """One value per row with its own unit."""

    def one(row: Row) -> tuple[Found, str]:
        quantity = row.text("item")
        if not quantity:
            raise row.refused("item", "the row does not say what was measured")
        measurement = Measurement(
            subject=_subject(sheet, row, None),
            quantity=quantity,
            value=_listed_value(row),
            place=_place(row, None),
            stage=stage_named(sheet, row.text("stage", sheet.defaults.stage)),
            instrument=row.text("instrument", sheet.defaults.instrument),
            date=row.text("date", sheet.defaults.date),
            note="; ".join(t for t in (row.text("how"), row.text("note")) if t),
        )
        return ([measurement], []), quantity

    return _contents(sheet, sheet.each(one))


def _listed_value(row: Row) -> AsTyped:
    name, text = row.text("unit"), row.text("value")
    try:
        return read(text, kind_of_unit(name), name)
    except InputError as error:
        column = "value" if name in _ALL_UNITS else "unit"
        raise row.refused(column, error.message, error.hint) from error


def kind_of_unit(name: str) -> Kind:
    """Kind of quantity that a unit belongs to.

    Raises
    ------
    UnitError
        In no closed list.
    """
    for kind in Kind:
        try:
            unit(name, kind)
        except InputError:
            continue
        return kind
    unit(name, Kind.RATIO)  # raises with the list of the plainest kind
    raise AssertionError(name)


_ALL_UNITS = frozenset({"", "-"})
_NAMED = ("row", "column", "side", "shape")
_PROBED = {"local velocity": "m/s", "probe pressure": "Pa"}


def _measurement(
    sheet: Sheet, row: Row, column: Column, quantity: str, value: AsTyped, note: str = ""
) -> Measurement:
    stage = stage_named(sheet, column.state) if column.state else ""
    if stage == column.state:  # the sheet's words are no stage of the job: they say where and when
        stage = ""
    own_stage = stage_named(sheet, row.text("stage", sheet.defaults.stage))
    return Measurement(
        subject=_subject(sheet, row, column),
        quantity=quantity,
        value=value,
        place=_place(row, column, unmapped_state=column.state if not stage else ""),
        stage=stage or own_stage,
        instrument=row.text("instrument", sheet.defaults.instrument),
        date=row.text("date", sheet.defaults.date),
        note=note or row.text("note"),
    )


def _subject(sheet: Sheet, row: Row, column: Column | None) -> str:
    """Port, else the port on a side of a cylinder, else cylinder or head, else the job."""
    if row.text("port"):
        return row.text("port")
    cylinder = row.text("cylinder")
    if cylinder and column is not None and column.side:
        return port_code(column.side, cylinder)
    if cylinder:
        return f"cyl {cylinder}" if cylinder.isdigit() else cylinder
    return row.text("subject") or row.text("head") or sheet.defaults.port


def _place(row: Row, column: Column | None, unmapped_state: str = "") -> str:
    """Where it was measured: parts in a fixed order, each saying what it is."""
    parts = [row.text("plane"), row.text("place")]
    parts += [f"{name} {row.text(name)}" for name in _NAMED if row.text(name)]
    for name in ("distance", "lift", "across", "up"):
        value = row.number_of(name)
        if value is not None:
            parts.append(f"{name} {value}")
    # a head is worth saying where the subject is a cylinder: two heads may number alike
    if row.text("head") and row.text("cylinder") and not row.text("port"):
        parts.append(f"head {row.text('head')}")
    parts.append(unmapped_state)
    return "; ".join(part for part in parts if part)


def _cuts(sheet: Sheet, row: Row, column: Column) -> list[Note]:
    text = row.cells[column.index]
    if not text:
        return []
    subject = _subject(sheet, row, column)
    date = row.text("date", sheet.defaults.date)
    return [Note(f"seat cuts {text} deg", date, subject, stage=sheet.defaults.stage)]


def _contents(sheet: Sheet, found: Iterable[Found]) -> ShopContents:
    found = list(found)
    measured = tuple(chain.from_iterable(m for m, _ in found))
    for measurement in measured:
        sheet.findings += measurement_findings(measurement)
    job = sheet.defaults.job
    if not job:
        sheet.need("job", "the sheet does not say which job it is for")
    subjects = dict.fromkeys(m.subject for m in measured)
    if sheet.has("distance") and not sheet.has("port") and not sheet.defaults.port:
        sheet.need("port", "the sheet does not name the port")
    heads = _heads_by_port(sheet)
    ports = [port_named(sheet, s, heads.get(s, "")) for s in subjects if s in heads or side_of(s)]
    stages = dict.fromkeys(m.stage for m in measured if m.stage)
    codes = dict.fromkeys(row.text("head") for row in sheet.rows())
    contents = JobContents(
        Job(job, casting=sheet.defaults.casting),
        heads=tuple(Head(code, sheet.defaults.casting) for code in codes if code),
        ports=tuple(port for port in ports if port is not None),
        stages=tuple(Stage(code) for code in stages),
        measurements=measured,
        notes=tuple(chain.from_iterable(n for _, n in found)),
    )
    return ShopContents(jobs=(contents,))


def _heads_by_port(sheet: Sheet) -> dict[str, str]:
    """Head of every port that a row names, or that belongs to a cylinder it names."""
    heads = {}
    for row in sheet.rows():
        port, head, cylinder = row.text("port"), row.text("head"), row.text("cylinder")
        if port and head:
            heads[port] = head
        elif head and cylinder.isdigit() and any(c.side for c in sheet.columns):
            heads |= {port_code(side, cylinder): head for side in Side}
    return heads
