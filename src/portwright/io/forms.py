"""Kinds of sheets: what tells one from another, and who reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from portwright.errors import UnknownNameError
from portwright.io.bench_sheets import read_benches, read_cam_lift, read_plate_checks
from portwright.io.columns import Use
from portwright.io.field_sheets import field_names, read_cam_card, read_job, read_shop
from portwright.io.flow_sheet import read_flow_sheet
from portwright.io.measurement_sheets import (
    read_clearances,
    read_list,
    read_measurements,
    read_walls,
)
from portwright.io.row_sheets import read_earlier_jobs, row_reader
from portwright.io.sheet import Sheet
from portwright.model.contents import ShopContents
from portwright.model.job import SheetKind

ANY_QUANTITY = "any measured quantity"


@dataclass(frozen=True, slots=True)
class Form:
    """One kind of sheet.

    Parameters
    ----------
    name : str
    needs : tuple of tuple of str
        Fields the headings must have; of each inner tuple at least one.
    read : callable
    fields : frozenset of str
        Entries of the field column, one of which must be there; empty for other sheets.
    keeps_all : bool
        True where every column is kept as typed, known or not.
    """

    name: str
    needs: tuple[tuple[str, ...], ...]
    read: Callable[[Sheet], ShopContents]
    fields: frozenset[str] = frozenset()
    keeps_all: bool = False


def _rows(name: str, kind: SheetKind, *needs: tuple[str, ...]) -> Form:
    return Form(name, needs, row_reader(kind), keeps_all=True)


_FIELD_VALUE = (("field",), ("value",))

FORMS: tuple[Form, ...] = (
    _rows("claim", SheetKind.CLAIM, ("claimed flow",)),
    Form("flow sheet", (("lift",), ("flow", "percent", "meter pressure")), read_flow_sheet),
    Form("cam lift table", (("cam angle",), ("intake lift",), ("exhaust lift",)), read_cam_lift),
    Form("bench list", (("bench",), ("metering", "readout", "bench type")), read_benches),
    Form(
        "reference plate checks",
        (("bench",), ("plate",), ("certified",), ("measured flow",)),
        read_plate_checks,
    ),
    Form("shop", _FIELD_VALUE, read_shop, frozenset({"shop_name"})),
    Form("job", _FIELD_VALUE, read_job, frozenset({"job_no", "customer"})),
    Form("cam card", _FIELD_VALUE, read_cam_card, frozenset({"card"})),
    Form("wall thickness", (("place",), ("value at state",), ("shop minimum",)), read_walls),
    Form("clearances", (("check",), ("measured",)), read_clearances),
    _rows("inspection", SheetKind.INSPECTION, ("item",), ("method",), ("reading",)),
    _rows("class rules", SheetKind.CLASS_RULES, ("rule",), ("limit",)),
    _rows("hours", SheetKind.HOURS, ("operation",), ("quoted", "actual")),
    _rows("dyno", SheetKind.DYNO, ("engine speed",), ("torque", "power")),
    Form(
        "earlier jobs",
        (("job",), ("year",), ("architecture", "outcome")),
        read_earlier_jobs,
        keeps_all=True,
    ),
    Form("measurement list", (("item",), ("value",), ("unit",)), read_list),
    Form(
        "measurement sheet",
        (("port", "cylinder", "head", "subject", "distance"), (ANY_QUANTITY,)),
        read_measurements,
    ),
)


def choose_form(sheet: Sheet) -> tuple[Form | None, str]:
    """Kind of a sheet from its headings, and why, in one sentence.

    Raises
    ------
    UnknownNameError
        The defaults name a kind of sheet that does not exist.
    """
    wanted = sheet.defaults.sheet
    if wanted:
        forms = [form for form in FORMS if form.name == wanted]
        if not forms:
            raise UnknownNameError("kind of sheet", wanted, (form.name for form in FORMS))
    else:
        forms = list(FORMS)
    have = _fields(sheet)
    complete = [form for form in forms if not _lacking(form, have) and _entries_fit(form, sheet)]
    if complete:
        best = max(complete, key=lambda form: len(form.needs))
        matched = [next(f for f in group if f in have) for group in best.needs]
        columns = ", ".join(f"{name} ({have[name]})" for name in matched)
        return best, f"Read as {best.name} because it has {columns}."
    return None, _why_not(forms, have, sheet)


def _fields(sheet: Sheet) -> dict[str, str]:
    """Fields the sheet has, each with its heading."""
    have: dict[str, str] = {}
    for column in sheet.columns:
        if column.use in {Use.READ, Use.NEEDS_UNIT}:
            have.setdefault(column.field, column.heading)
            if column.quantity:
                have.setdefault(ANY_QUANTITY, column.heading)
    return have


def _lacking(form: Form, have: dict[str, str]) -> list[tuple[str, ...]]:
    return [group for group in form.needs if not any(name in have for name in group)]


def _entries_fit(form: Form, sheet: Sheet) -> bool:
    return not form.fields or bool(form.fields & field_names(sheet))


def _why_not(forms: list[Form], have: dict[str, str], sheet: Sheet) -> str:
    def share(form: Form) -> float:
        return 1.0 - len(_lacking(form, have)) / len(form.needs)

    nearest = max(forms, key=share)
    headings = ", ".join(h or "(blank)" for h in sheet.table.headers[:12])
    if share(nearest) == 0.0:
        return f"None of its headings is known: {headings}."
    groups = [" or ".join(group) for group in _lacking(nearest, have)]
    if not groups:
        groups = ["one of the rows " + ", ".join(sorted(nearest.fields))]
    return (
        f"Nearest is {nearest.name}, which also needs {' and '.join(groups)}. Headings: {headings}."
    )
