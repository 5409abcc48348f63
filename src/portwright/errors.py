"""Errors and findings.

Two channels.  A :class:`Finding` is a value: something a person should look at, stored and
shown beside the result it concerns; flawed data still opens.  An exception stops the use
case because there is nothing sensible to continue with::

    PortwrightError
    ├── InputError (ValueError)        something typed or passed in is wrong
    │   ├── UnitError                  unit missing, unknown or of the wrong kind
    │   ├── NumberError                text is not a number, or could mean two numbers
    │   ├── RangeError                 number is outside what physics allows
    │   ├── ShapeError                 arrays or tables do not fit together
    │   └── UnknownNameError           a name that is not in the list (nearest ones given)
    ├── ImportFileError                a file cannot be read as what it should be
    ├── GeometryError                  outline or mesh has no usable answer
    ├── SolverError                    a numerical method gave up
    │   ├── NotConvergedError          iteration limit reached
    │   ├── NonPhysicalStateError      negative pressure, density or temperature
    │   └── SolveCancelledError             a person stopped it
    ├── ArchiveError                   the shop file
    │   ├── NotFoundError              no such record
    │   ├── ConflictError              someone else changed it first
    │   ├── SchemaTooOldError          needs an upgrade
    │   ├── SchemaTooNewError          made by a newer Portwright
    │   ├── NotAllowedError            the role of the person does not allow it
    │   ├── CorruptArchiveError        not a readable shop file
    │   ├── ArchiveBusyError           locked by another program
    │   └── ArchiveWriteError          folder read-only or disk full
    ├── InstrumentError                an instrument cannot be reached
    └── ReportError                    a report could not be made

Every error says what is wrong, where, and what to do (``hint``).
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar


class Severity(StrEnum):
    """How much a finding matters to the person reading the result."""

    NOTE = "note"  # worth knowing, result stands
    WARNING = "warning"  # result may be wrong, check before relying on it
    FAULT = "fault"  # result is wrong as recorded, do not use it


@dataclass(frozen=True, slots=True)
class Where:
    """Place a finding belongs to; empty fields mean "not that specific".

    Parameters
    ----------
    job, run, port, stage : str
        Names as the shop uses them.
    repeat : int or None
        Repeat number of the sweep.
    lift : float or None
        Valve lift [m].
    """

    job: str = ""
    run: str = ""
    port: str = ""
    stage: str = ""
    repeat: int | None = None
    lift: float | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person should look at.

    Parameters
    ----------
    code : str
        Stable machine name, lower case with hyphens (``lift-zero-offset``).
    severity : Severity
    message : str
        What was seen, with its size, in a plain sentence.
    hint : str
        Likely cause and what to re-check.
    where : Where
    size : float or None
        Size of the effect in SI or as a fraction, meaning given by ``code``.
    """

    code: str
    severity: Severity
    message: str
    hint: str = ""
    where: Where = field(default_factory=Where)
    size: float | None = None


class PortwrightError(Exception):
    """Base of every error Portwright raises on purpose.

    Parameters
    ----------
    message : str
        What is wrong and where.
    hint : str
        What to do about it.
    """

    code = "error"

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()


class InputError(PortwrightError, ValueError):
    """Something typed or passed in is wrong."""

    code = "input"


class UnitError(InputError):
    """Unit missing, unknown or of the wrong kind."""

    code = "unit"


class NumberError(InputError):
    """Text is not a number, or could mean two different numbers."""

    code = "number"


class RangeError(InputError):
    """A number is outside what physics allows."""

    code = "range"


class ShapeError(InputError):
    """Arrays or tables do not fit together."""

    code = "shape"


class UnknownNameError(InputError):
    """A name that is not in the list; the nearest ones are offered.

    Parameters
    ----------
    what : str
        Kind of thing looked for ("bench", "column").
    name : str
        The name as given.
    known : iterable of str
        Names that exist.
    """

    code = "unknown-name"

    def __init__(self, what: str, name: str, known: Iterable[str]) -> None:
        known = sorted(known)
        near = difflib.get_close_matches(name, known, n=3, cutoff=0.4) or known[:8]
        if len(known) <= 4:
            near = known
        offered = ", ".join(near) if near else "none exist yet"
        said = f"There is no {what} called '{name}'." if name.strip() else f"No {what} was named."
        super().__init__(said, f"Known: {offered}.")


Word = TypeVar("Word", bound=StrEnum)


def one_of(words: type[Word], text: str, what: str) -> Word:
    """Member of a closed list by its word.

    Parameters
    ----------
    words : type of StrEnum
    text : str
    what : str
        Kind of thing, for the error: "goal".

    Raises
    ------
    UnknownNameError
    """
    if text not in set(words):
        raise UnknownNameError(what, text, words)
    return words(text)


class ImportFileError(PortwrightError):
    """A file cannot be read as what it should be."""

    code = "import-file"


class GeometryError(PortwrightError):
    """An outline or mesh has no usable answer."""

    code = "geometry"


class SolverError(PortwrightError):
    """A numerical method gave up."""

    code = "solver"


class NotConvergedError(SolverError):
    """Iteration limit reached."""

    code = "not-converged"


class NonPhysicalStateError(SolverError):
    """Negative pressure, density or temperature appeared."""

    code = "non-physical"


class SolveCancelledError(SolverError):
    """A person stopped the run."""

    code = "cancelled"


class ArchiveError(PortwrightError):
    """Something about the shop file."""

    code = "archive"


class NotFoundError(ArchiveError, LookupError):
    """No such record in the shop file."""

    code = "not-found"


class ConflictError(ArchiveError):
    """Someone else changed the record first."""

    code = "conflict"


class SchemaTooOldError(ArchiveError):
    """The shop file was made by an older Portwright and needs an upgrade."""

    code = "schema-too-old"


class SchemaTooNewError(ArchiveError):
    """The shop file was made by a newer Portwright."""

    code = "schema-too-new"


class NotAllowedError(ArchiveError):
    """The role of the person at work does not allow this."""

    code = "not-allowed"


class CorruptArchiveError(ArchiveError):
    """Not a readable shop file."""

    code = "corrupt-archive"


class ArchiveBusyError(ArchiveError):
    """The shop file is locked by another program."""

    code = "archive-busy"


class ArchiveWriteError(ArchiveError):
    """The shop file cannot be written: read-only folder or full disk."""

    code = "archive-write"


class InstrumentError(PortwrightError):
    """An instrument cannot be reached, or the wire to it was lost."""

    code = "instrument"


class ReportError(PortwrightError):
    """A report could not be made."""

    code = "report"
