"""What a sheet was understood as, row by row, before anything is stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from portwright.errors import Finding, ImportFileError, Severity
from portwright.io.columns import Column, Use, understand_columns
from portwright.io.defaults import ImportDefaults
from portwright.io.forms import Form, choose_form
from portwright.io.merge import merge_contents
from portwright.io.sheet import Need, Refusal, RowUnderstood, Sheet
from portwright.io.side_by_side import one_reading_a_row
from portwright.io.tables import Table
from portwright.model.bench import BenchWithCalibrations
from portwright.model.contents import ShopContents


@dataclass(frozen=True, slots=True)
class SheetPreview:
    """A sheet as understood; every row is in ``rows``, in ``refused``, or blank.

    Parameters
    ----------
    table : Table
    kind : str
        Kind of sheet, "" where it is none Portwright knows.
    why : str
        What decided the kind.
    columns : tuple of Column
    rows : tuple of RowUnderstood
    refused : tuple of Refusal
    findings : tuple of Finding
    needs : tuple of Need
        What must be said before the sheet can be stored.
    found : ShopContents
        What the understood rows hold; take it with :func:`contents`.
    """

    table: Table
    kind: str
    why: str
    columns: tuple[Column, ...]
    rows: tuple[RowUnderstood, ...]
    refused: tuple[Refusal, ...]
    findings: tuple[Finding, ...]
    needs: tuple[Need, ...]
    found: ShopContents

    @property
    def ready(self) -> bool:
        """Whether the understood rows can be stored."""
        return bool(self.kind) and not self.needs and bool(self.rows)


def understand(
    table: Table,
    defaults: ImportDefaults | None = None,
    mapping: Mapping[str, str] | None = None,
) -> SheetPreview:
    """Say what a table is and what each of its columns and rows means.

    Parameters
    ----------
    table : Table
    defaults : ImportDefaults, optional
        Answers for what the sheet does not say.
    mapping : mapping of str to str, optional
        Headings and what they mean: "lift", "lift [mm]" or "ignore".

    Raises
    ------
    UnknownNameError
        The mapping or the defaults name something that does not exist.
    """
    beside = one_reading_a_row(table, mapping)
    table = beside.table
    columns = understand_columns(table.headers, beside.mapping)
    sheet = Sheet(table, columns, defaults or ImportDefaults())
    form, why = choose_form(sheet)
    found = ShopContents(source=table.source)
    if form is not None:
        found = replace(form.read(sheet), source=table.source)
        _column_findings(sheet, form)
        sheet.sort_refusals()
    return SheetPreview(
        table,
        form.name if form else "",
        why,
        beside.columns or sheet.columns,
        tuple(sheet.understood),
        tuple(sheet.refused),
        (*table.findings, *sheet.findings),
        tuple(sheet.needs.values()),
        found,
    )


def understand_all(
    tables: Sequence[Table], defaults: ImportDefaults | None = None
) -> tuple[SheetPreview, ...]:
    """Understand several sheets together: benches found in one are known to the next.

    Sheets that state how a bench reads come first, whatever their order here.
    """
    known = defaults or ImportDefaults()
    previews: dict[int, SheetPreview] = {}
    for index in sorted(range(len(tables)), key=lambda i: _turn(tables[i])):
        preview = understand(tables[index], known)
        previews[index] = preview
        known = replace(known, benches=_known_benches(known, preview.found))
    return tuple(previews[index] for index in range(len(tables)))


def _turn(table: Table) -> int:
    fields = {column.field for column in understand_columns(table.headers)}
    if "metering" in fields:
        return 0
    return 1 if "range full scale" in fields else 2


def _known_benches(
    defaults: ImportDefaults, found: ShopContents
) -> tuple[BenchWithCalibrations, ...]:
    before = ShopContents(
        benches=tuple(b.bench for b in defaults.benches),
        calibrations=tuple(c for b in defaults.benches for c in b.calibrations),
    )
    merged = merge_contents(before, replace(found, jobs=()))
    return tuple(
        BenchWithCalibrations(b, tuple(c for c in merged.calibrations if c.bench == b.code))
        for b in merged.benches
    )


def contents(*previews: SheetPreview) -> ShopContents:
    """Everything the understood rows of one or several sheets hold, ready to store.

    Raises
    ------
    ImportFileError
        A sheet was not understood, nothing of it was, or something must be said first.
    InputError
        Two sheets use one run number for different runs.
    """
    for preview in previews:
        _refuse_unready(preview)
    return _valid_from_first_run(merge_contents(*(preview.found for preview in previews)))


def _valid_from_first_run(merged: ShopContents) -> ShopContents:
    """Stated calibrations hold from the first run that uses them, whatever sheet came first."""
    first: dict[tuple[str, int], str] = {}
    for run in (run for job in merged.jobs for run in job.runs if run.date):
        key = (run.bench, run.calibration)
        first[key] = min(first.get(key, run.date), run.date)
    calibrations = (
        replace(c, valid_from=min(first.get((c.bench, c.version), c.valid_from), c.valid_from))
        for c in merged.calibrations
    )
    return replace(merged, calibrations=tuple(calibrations))


def _refuse_unready(preview: SheetPreview) -> None:
    source = preview.table.source
    if not preview.kind:
        raise ImportFileError(
            f"{source} is not a sheet Portwright knows. {preview.why}",
            "Say what a heading means, for example that Hub is 'lift [mm]': on the screen below "
            "the columns, or with --column 'Hub=lift [mm]'.",
        )
    if preview.needs:
        said = "; ".join(f"{need.option}: {need.reason}" for need in preview.needs)
        raise ImportFileError(f"{source} leaves something open.", f"Say {said}.")
    if not preview.rows:
        first = preview.refused[0]
        raise ImportFileError(
            f"{source}: no row could be read. Row {first.row}: {first.reason.rstrip('.')}.",
            first.hint,
        )


def _column_findings(sheet: Sheet, form: Form) -> None:
    if form.keeps_all:
        sheet.columns = tuple(
            replace(column, use=Use.READ, reason="kept as typed")
            if column.use is not Use.READ and column.heading
            else column
            for column in sheet.columns
        )
        return
    unknown = [c.heading for c in sheet.columns if c.use is Use.UNKNOWN and c.heading]
    if unknown:
        sheet.findings.append(
            Finding(
                "unknown-column",
                Severity.NOTE,
                f"Not read: {', '.join(unknown)}.",
                "Say what it means, or that it is to be ignored: on the screen below the columns, "
                "or with --column 'HEADING=ignore'.",
            )
        )
