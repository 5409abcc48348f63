"""Tables kept row by row as typed: inspection, class rules, hours, dyno, claims, earlier jobs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from portwright.errors import Severity
from portwright.io.columns import Use
from portwright.io.head_fields import head_facts
from portwright.io.sheet import RefusedRow, Row, Sheet
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import ONE_HEAD, Head
from portwright.model.job import Job, SheetKind, SheetRow


def row_reader(kind: SheetKind) -> Callable[[Sheet], ShopContents]:
    """Reader of a table of that kind."""

    def read_rows(sheet: Sheet) -> ShopContents:
        job = sheet.defaults.job
        if not job:
            sheet.need("job", "the sheet does not say which job it is for")
        rows = tuple(sheet.each(lambda row: (_kept(sheet, row, kind), f"row of {kind}")))
        _question_numbers(sheet)
        if kind is SheetKind.CLAIM:
            sheet.find(
                "claim-not-a-run",
                f"{sheet.table.source} is a claim by others: kept as written, never as a run.",
                "Without its bench, adapter and entry it cannot be compared with a run.",
                Severity.NOTE,
            )
        return ShopContents(jobs=(JobContents(Job(job), rows=rows),))

    return read_rows


def read_earlier_jobs(sheet: Sheet) -> ShopContents:
    """One earlier job per row, its figures kept as recorded then."""

    def one(row: Row) -> tuple[JobContents, str]:
        number = row.text("job")
        if not number:
            raise row.refused("job", "the row has no job number")
        kept = _kept(sheet, row, SheetKind.EARLIER_JOBS)
        job = Job(number, opened=row.text("year"), facts=dict(kept.cells))
        said: dict[str, Any] = head_facts(kept.cells.items(), sheet.only_words)
        heads = (Head(ONE_HEAD, **said),) if said else ()
        return JobContents(job, heads=heads, rows=(kept,)), f"earlier job {number}"

    jobs = tuple(sheet.each(one))
    return ShopContents(jobs=tuple({job.job.number: job for job in jobs}.values()))


def _kept(sheet: Sheet, row: Row, kind: SheetKind) -> SheetRow:
    cells = {
        heading: text
        for heading, text in zip(sheet.table.headers, row.cells, strict=True)
        if heading
    }
    cylinder = row.text("cylinder")
    subject = f"cyl {cylinder}" if cylinder.isdigit() else cylinder or row.text("port")
    return SheetRow(kind, cells, subject, sheet.table.source)


def _question_numbers(sheet: Sheet) -> None:
    """Text where a number is expected is kept as typed, and asked about."""
    for column in sheet.columns:
        if column.kind is None or column.use is not Use.READ:
            continue
        for row in sheet.rows():
            try:
                row.number_in(column)
            except RefusedRow as refused:
                sheet.find(
                    "text-in-numbers",
                    f"Row {row.number}, {column.heading}: {refused.refusal.reason}",
                    refused.refusal.hint,
                    Severity.NOTE,
                )
