"""Database faults in our own words, with what to do about them."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from portwright.errors import (
    ArchiveBusyError,
    ArchiveError,
    ArchiveWriteError,
    CorruptArchiveError,
    InputError,
    PortwrightError,
)

_PRIMARY = 0xFF  # the low byte of an SQLite result code names the kind of fault


@contextlib.contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn database errors into ours."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error) as error:
        raise translate(error, path) from error
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        raise damaged(path) from error
    except (UnicodeEncodeError, OverflowError) as error:
        raise InputError(
            f"A value cannot be stored in {path.name}: {error}.",
            "Look for odd characters or absurdly large whole numbers; nothing was changed.",
        ) from error


@contextlib.contextmanager
def understood(path: Path) -> Iterator[None]:
    """Report a row that no longer makes sense as damage, not as a failure of the program."""
    try:
        yield
    except PortwrightError:
        raise
    except (ValueError, TypeError, LookupError) as error:
        raise CorruptArchiveError(
            f"The shop file {path.name} holds a row that makes no sense ({error}).",
            "Restore the newest backup copy, and keep this file for comparison.",
        ) from error


def damaged(path: Path) -> CorruptArchiveError:
    """The error for a damaged file."""
    return CorruptArchiveError(
        f"The shop file {path.name} is damaged.",
        "Restore the newest backup copy, and keep this file for comparison.",
    )


def result_code(error: BaseException) -> int:
    """Primary SQLite result code of an error, 0 where it has none."""
    orig = getattr(error, "orig", None) or error
    return int(getattr(orig, "sqlite_errorcode", 0)) & _PRIMARY


def _busy(path: Path) -> PortwrightError:
    return ArchiveBusyError(
        f"The shop file {path.name} is in use by another program.",
        "Close the other program or wait, then try again; nothing was changed.",
    )


def _full(path: Path) -> PortwrightError:
    return ArchiveWriteError(
        f"The disk with {path.name} is full.", "Free some space; nothing was changed."
    )


def _read_only(path: Path) -> PortwrightError:
    return ArchiveWriteError(
        f"The shop file {path.name} cannot be written.",
        "Check that file and folder exist and may be written; nothing was changed.",
    )


def _disk(path: Path) -> PortwrightError:
    return ArchiveWriteError(
        f"The disk with {path.name} refused to read or write.",
        "It may be full, failing or gone; nothing was changed. Make a backup elsewhere.",
    )


def _too_big(path: Path) -> PortwrightError:
    return InputError(
        f"A value is too big for {path.name}.", "Store smaller files; nothing was changed."
    )


_FAULTS: dict[int, Callable[[Path], PortwrightError]] = {
    sqlite3.SQLITE_BUSY: _busy,
    sqlite3.SQLITE_LOCKED: _busy,
    sqlite3.SQLITE_FULL: _full,
    sqlite3.SQLITE_READONLY: _read_only,
    sqlite3.SQLITE_CANTOPEN: _read_only,
    sqlite3.SQLITE_PERM: _read_only,
    sqlite3.SQLITE_IOERR: _disk,
    sqlite3.SQLITE_TOOBIG: _too_big,
    sqlite3.SQLITE_CORRUPT: damaged,
    sqlite3.SQLITE_NOTADB: damaged,
    sqlite3.SQLITE_ERROR: damaged,  # a table or column is missing that the schema has
}


def translate(error: Exception, path: Path) -> PortwrightError:
    """Our error for one of the database's."""
    found = _FAULTS.get(result_code(error))
    if found:
        return found(path)
    text = str(getattr(error, "orig", None) or error)
    if "decode" in text.lower():  # text that is no UTF-8 any more carries no result code
        return damaged(path)
    return ArchiveError(
        f"The shop file {path.name} refused: {text}.", "Nothing was changed by this step."
    )
