"""Exit codes of the command line, one per kind of trouble."""

from __future__ import annotations

from enum import IntEnum

from portwright.errors import (
    ArchiveError,
    GeometryError,
    ImportFileError,
    InputError,
    InstrumentError,
    NotFoundError,
    PortwrightError,
    ReportError,
    SolverError,
    UnknownNameError,
)


class ExitCode(IntEnum):
    """What the number a command ends with means."""

    DONE = 0
    UNEXPECTED = 1  # a fault of Portwright itself
    USAGE = 2  # the command line could not be understood
    INPUT = 3  # a value typed or read is wrong
    FILE = 4  # a file cannot be read as what it should be
    SHOP_FILE = 5  # the shop file cannot be opened or written
    NOT_FOUND = 6  # no such job, run, bench or file
    CALCULATION = 7  # a calculation gave up
    REPORT = 8  # a report could not be made
    INSTRUMENT = 9  # an instrument cannot be reached


_BY_ERROR: tuple[tuple[type[PortwrightError], ExitCode], ...] = (
    (NotFoundError, ExitCode.NOT_FOUND),
    (UnknownNameError, ExitCode.NOT_FOUND),
    (ImportFileError, ExitCode.FILE),
    (ArchiveError, ExitCode.SHOP_FILE),
    (SolverError, ExitCode.CALCULATION),
    (GeometryError, ExitCode.CALCULATION),
    (ReportError, ExitCode.REPORT),
    (InstrumentError, ExitCode.INSTRUMENT),
    (InputError, ExitCode.INPUT),
)


def exit_code(error: PortwrightError) -> ExitCode:
    """Exit code for an error."""
    for kind, code in _BY_ERROR:
        if isinstance(error, kind):
            return code
    return ExitCode.UNEXPECTED
