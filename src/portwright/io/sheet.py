"""One sheet while it is being understood: typed access to cells, refusals, findings, needs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from portwright.errors import Finding, InputError, Severity, Where
from portwright.io.columns import Column, Use
from portwright.io.defaults import ImportDefaults
from portwright.io.tables import Table
from portwright.model.quantity import AsTyped
from portwright.units import read

Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class RowUnderstood:
    """A row that was read, and what it was read as."""

    row: int
    as_what: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """A row that was not read: where, what stands there, why, and what to do.

    Parameters
    ----------
    row : int
        Row as a spreadsheet counts, from 1.
    column : str
        Heading, "" when it concerns the whole row.
    text : str
        What the cell holds.
    reason, hint : str
    """

    row: int
    column: str
    text: str
    reason: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Need:
    """Something that is missing everywhere: the import option that supplies it, and why."""

    option: str
    reason: str


class RefusedRow(Exception):  # noqa: N818  it carries a refusal and is caught within this package
    """Carries a refusal out of the reading of a row."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.reason)
        self.refusal = refusal


@dataclass(frozen=True, slots=True)
class Row:
    """One row with access to its cells by field."""

    number: int
    cells: tuple[str, ...]
    columns: tuple[Column, ...]
    by_field: dict[str, Column]

    def column(self, name: str) -> Column | None:
        """First usable column of that field."""
        return self.by_field.get(name)

    def text(self, name: str, default: str = "") -> str:
        """Cell of a text field, the default where the sheet has nothing."""
        column = self.column(name)
        return (self.cells[column.index] if column else "") or default

    def number_in(self, column: Column) -> AsTyped | None:
        """Number in a column as typed, None when the cell is blank."""
        text = self.cells[column.index]
        if not text or column.kind is None:
            return None
        try:
            return read(text, column.kind, column.unit or None)
        except InputError as error:
            hint = column.reason if column.use is Use.NEEDS_UNIT else error.hint
            raise RefusedRow(
                Refusal(self.number, column.heading, text, error.message, hint)
            ) from error

    def number_of(self, name: str) -> AsTyped | None:
        """Number of a field as typed, None when there is none."""
        column = self.column(name)
        return self.number_in(column) if column else None

    def required(self, name: str) -> AsTyped:
        """Number of a field; a blank cell refuses the row."""
        value = self.number_of(name)
        if value is None:
            raise self.refused(name, f"{name} is blank", "Fill it in, or leave the row out.")
        return value

    def whole(self, name: str) -> int | None:
        """Count in a field, None when blank."""
        text = self.text(name)
        if not text:
            return None
        try:
            return int(text)
        except ValueError as error:
            reason = f"'{text}' is not a whole number."
            raise self.refused(name, reason, "Type it like 1.") from error

    def refused(self, name: str, reason: str, hint: str = "") -> RefusedRow:
        """Refusal of this row because of one of its fields."""
        column = self.column(name)
        heading, text = (column.heading, self.cells[column.index]) if column else ("", "")
        return RefusedRow(Refusal(self.number, heading, text, reason, hint))


@dataclass(slots=True)
class Sheet:
    """A table with its columns and everything noticed while reading it."""

    table: Table
    columns: tuple[Column, ...]
    defaults: ImportDefaults
    understood: list[RowUnderstood] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    needs: dict[str, Need] = field(default_factory=dict)

    def rows(self) -> Iterator[Row]:
        """Rows that are not blank, in the order of the sheet."""
        by_field: dict[str, Column] = {}
        for column in self.columns:
            if column.use in {Use.READ, Use.NEEDS_UNIT} and not column.state:
                by_field.setdefault(column.field, column)
        for index, cells in enumerate(self.table.rows):
            if any(cells):
                yield Row(self.table.row_number(index), cells, self.columns, by_field)

    def has(self, name: str) -> bool:
        """Whether the sheet has a column of that field."""
        return any(c.field == name and c.use in {Use.READ, Use.NEEDS_UNIT} for c in self.columns)

    def each(self, read_row: Callable[[Row], tuple[Made, str]]) -> list[Made]:
        """Read every row; a row that cannot be read is refused and the rest goes on."""
        made = []
        for row in self.rows():
            try:
                self._refuse_too_long(row)
                thing, words = read_row(row)
            except RefusedRow as refused:
                self.refused.append(refused.refusal)
            else:
                made.append(thing)
                self.understood.append(RowUnderstood(row.number, words))
        return made

    def _refuse_too_long(self, row: Row) -> None:
        if len(row.cells) <= len(self.table.headers):
            return
        reason = "the row has more cells than there are headings"
        hint = (
            "A decimal comma in a comma-separated file splits a number in two: "
            "use semicolons between the columns, or a decimal point."
        )
        raise RefusedRow(Refusal(row.number, "", ", ".join(row.cells), reason, hint))

    def need(self, option: str, reason: str) -> None:
        """Note something missing everywhere."""
        self.needs.setdefault(option, Need(option, reason))

    def needed(self, row: Row, name: str, option: str, default: str, reason: str) -> str:
        """Text of a field or its default; a need is noted when there is neither."""
        found = row.text(name, default)
        if not found:
            if self.has(name):
                raise row.refused(name, f"{name} is blank", "Fill it in.")
            self.need(option, reason)
        return found

    def find(
        self, code: str, message: str, hint: str, severity: Severity, where: Where | None = None
    ) -> None:
        """Note a finding."""
        self.findings.append(Finding(code, severity, message, hint, where or Where()))

    def only_words(self, name: str, error: InputError) -> None:
        """Note a field that is kept as words, because its number cannot be understood."""
        self.find(
            "kept-as-words",
            f"{name} is kept as written and cannot be compared: {error.message}",
            error.hint,
            Severity.WARNING,
        )

    def sort_refusals(self) -> None:
        """Put refusals in the order of the sheet."""
        self.refused.sort(key=lambda refusal: refusal.row)
        self.understood.sort(key=lambda row: row.row)

    def withdraw(self, refusals: Sequence[Refusal]) -> None:
        """Turn rows that were understood first into refusals."""
        gone = {refusal.row for refusal in refusals}
        self.understood = [row for row in self.understood if row.row not in gone]
        self.refused += refusals
