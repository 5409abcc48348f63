"""Sheets into the shop file: first what was understood, then storing it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from portwright.archive.archive import Archive
from portwright.errors import Finding, ImportFileError, InputError, UnknownNameError
from portwright.io.columns import Column, Use, suggested_meanings
from portwright.io.defaults import ImportDefaults
from portwright.io.preview import SheetPreview, contents, understand, understand_all
from portwright.io.sheet import Need, Refusal
from portwright.io.tables import TABLE_ENDINGS, read_table
from portwright.model.bench import BenchWithCalibrations, Calibration, Metering
from portwright.model.contents import ShopContents
from portwright.model.head import Side
from portwright.services.exporting import import_export, is_export
from portwright.services.guarded import careful
from portwright.units import Kind, read, typed

SHEET_ENDINGS = TABLE_ENDINGS
"""Endings of files read as sheets, lower case with their dot."""
MEANINGS = suggested_meanings()
"""What a screen offers as meaning of a heading."""

Chosen = TypeVar("Chosen", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class ImportChoices:
    """What a person says about a sheet.

    Parameters
    ----------
    job, bench, port, stage, date, casting, sheet : str
        For what the sheet does not say itself.
    test_pressure : str
        With its unit, for readings that state none.
    flow_at : str
        Pressure with its unit to which the bench had converted the flow of the sheet.
    side : str
        "intake" or "exhaust", for ports whose name does not tell.
    metering : str
        How the bench was read, where the sheet allows more than one answer.
    columns : tuple of str
        "HEADING=FIELD [UNIT]" each.
    usual_setup : bool
        The bench's usual adapter, inlet aid and stub were mounted.
    """

    job: str = ""
    bench: str = ""
    port: str = ""
    stage: str = ""
    date: str = ""
    casting: str = ""
    sheet: str = ""
    test_pressure: str = ""
    flow_at: str = ""
    side: str = ""
    metering: str = ""
    columns: tuple[str, ...] = ()
    usual_setup: bool = False


@dataclass(frozen=True, slots=True)
class ColumnUnderstood:
    """A heading, what it was taken for, and whether a person should look at it."""

    heading: str
    meaning: str
    open: bool = False


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What a sheet held and what was stored of it.

    Parameters
    ----------
    file, kind, why : str
    columns : tuple of ColumnUnderstood
    rows : tuple of (int, str)
        Row number and what it was read as.
    refused : tuple of Refusal
        Rows not read; nothing of them is stored.
    needs : tuple of Need
        What has to be said before the sheet can be stored.
    findings : tuple of Finding
    added, already_there : dict of str to int
        By kind of record; empty for a preview.
    conflicts : tuple of str
    """

    file: str
    kind: str
    why: str
    columns: tuple[ColumnUnderstood, ...]
    rows: tuple[tuple[int, str], ...]
    refused: tuple[Refusal, ...]
    needs: tuple[Need, ...]
    findings: tuple[Finding, ...]
    added: dict[str, int] = field(default_factory=dict)
    already_there: dict[str, int] = field(default_factory=dict)
    conflicts: tuple[str, ...] = ()

    @property
    def rows_understood(self) -> int:
        """Number of rows read."""
        return len(self.rows)


def known_benches(archive: Archive) -> tuple[BenchWithCalibrations, ...]:
    """Benches of the shop with their calibration versions."""
    calibrations = archive.calibrations()
    return tuple(
        BenchWithCalibrations(b, tuple(c for c in calibrations if c.bench == b.code))
        for b in archive.benches()
    )


def _stated(choices: ImportChoices) -> ImportDefaults:
    pressure = choices.test_pressure
    return ImportDefaults(
        job=choices.job,
        bench=choices.bench,
        port=choices.port,
        stage=choices.stage,
        date=choices.date,
        casting=choices.casting,
        sheet=choices.sheet,
        test_pressure=read(pressure, Kind.PRESSURE) if pressure else None,
        flow_at=read(choices.flow_at, Kind.PRESSURE) if choices.flow_at else None,
        side=_one_of(Side, "side", choices.side),
        metering=_one_of(Metering, "metering", choices.metering),
        conditions_from_bench=choices.usual_setup,
    )


def _one_of(kind: type[Chosen], what: str, name: str) -> Chosen | None:
    """Member of a closed list by name, None where nothing was said."""
    if not name:
        return None
    try:
        return kind(name)
    except ValueError as error:
        raise UnknownNameError(what, name, (member.value for member in kind)) from error


def _defaults(archive: Archive, choices: ImportChoices) -> ImportDefaults:
    return replace(_stated(choices), benches=known_benches(archive))


def _mapping(columns: Sequence[str]) -> dict[str, str]:
    mapping = {}
    for text in columns:
        heading, equals, meaning = text.partition("=")
        if not equals or not heading.strip() or not meaning.strip():
            raise InputError(
                f"'{text}' does not say what a heading means.",
                "Write --column 'HEADING=FIELD [UNIT]', for example 'Lift=lift [mm]'.",
            )
        mapping[heading.strip()] = meaning.strip()
    return mapping


def _understand(archive: Archive, file: Path, choices: ImportChoices) -> SheetPreview:
    return understand(
        careful(read_table, file), _defaults(archive, choices), _mapping(choices.columns)
    )


def preview_sheet(archive: Archive, file: Path, choices: ImportChoices) -> ImportReport:
    """Say row by row what a sheet would be read as; nothing is stored.

    Raises
    ------
    ImportFileError, InputError
    """
    return _report(_understand(archive, file, choices))


def import_sheet(archive: Archive, file: Path, choices: ImportChoices) -> ImportReport:
    """Store what can be read of a sheet; rows that cannot are listed in the report.

    A folder or .zip file is read as an export of a whole shop.

    Raises
    ------
    ImportFileError
        The file is not a sheet Portwright knows, or something must be said first.
    InputError, ArchiveError
    """
    if is_export(file):
        report = ImportReport(file.name, "export of a whole shop", "", (), (), (), (), ())
        saved = import_export(archive, file)
    else:
        preview = _understand(archive, file, choices)
        report = _report(preview)
        if preview.kind and preview.needs:
            said = "; ".join(f"--{n.option.replace('_', '-')}: {n.reason}" for n in preview.needs)
            raise ImportFileError(f"{file.name} leaves something open.", f"Give {said}.")
        saved = archive.save(contents(preview))
    return replace(
        report,
        added=saved.added,
        already_there=saved.already_there,
        conflicts=tuple(saved.conflicts),
    )


def import_together(
    archive: Archive, files: Sequence[Path], defaults: ImportDefaults
) -> list[ImportReport]:
    """Store several sheets that explain each other, all or nothing.

    Raises
    ------
    ImportFileError, InputError, ArchiveError
    """
    tables = [careful(read_table, file) for file in files]
    previews = understand_all(tables, replace(defaults, benches=known_benches(archive)))
    archive.save(contents(*previews))
    return [_report(preview) for preview in previews]


def read_sheet(
    file: Path, choices: ImportChoices
) -> tuple[ShopContents, tuple[Refusal, ...], tuple[Finding, ...]]:
    """Contents of a sheet outside any shop, with stand-in names for what it does not say.

    Raises
    ------
    ImportFileError, InputError
    """
    stand_in = ImportDefaults(
        job=choices.job or "sheet",
        bench=choices.bench or "bench",
        port=choices.port or "I1",
        stage=choices.stage or "stage",
    )
    defaults = replace(
        _stated(choices),
        **{name: getattr(stand_in, name) for name in ("job", "bench", "port", "stage")},
    )
    preview = understand(careful(read_table, file), defaults, _mapping(choices.columns))
    return contents(preview), preview.refused, preview.findings


def usual_calibrations(
    sheet: ShopContents, known: Sequence[Calibration]
) -> tuple[Calibration, ...]:
    """Calibrations for a sheet's runs: its own, the shop's, else direct reading."""
    found = {c.key: c for c in (*known, *sheet.calibrations)}
    for run in (r for job in sheet.jobs for r in job.runs):
        key = f"{run.bench} calibration {run.calibration}"
        if key not in found:
            found[key] = Calibration(
                run.bench,
                run.calibration,
                "",
                Metering.DIRECT,
                typed(28.0, "inH2O", Kind.PRESSURE),
                reason="bench not known; flow taken as shown",
            )
    return tuple(found.values())


def _report(preview: SheetPreview) -> ImportReport:
    return ImportReport(
        file=preview.table.source,
        kind=preview.kind or "unknown sheet",
        why=preview.why,
        columns=tuple(
            ColumnUnderstood(c.heading, _meaning(c), c.use in {Use.UNKNOWN, Use.NEEDS_UNIT})
            for c in preview.columns
        ),
        rows=tuple((r.row, r.as_what) for r in preview.rows),
        refused=preview.refused,
        needs=preview.needs,
        findings=preview.findings,
    )


def _meaning(column: Column) -> str:
    return " - ".join(p for p in (column.understood_as, column.reason) if p) or column.use.value
