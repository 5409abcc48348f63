"""What the program did and what went wrong, as lines of JSON beside the shop file.

Nothing a person typed can get in: a line has an event from a fixed list, numbers, the code of an
error and the places in the program it came through.  Messages of errors, names, addresses and what
was entered are never written, whoever logs them.
"""

from __future__ import annotations

import json
import logging
import math
import traceback
from datetime import UTC, datetime
from enum import StrEnum
from logging.handlers import RotatingFileHandler
from pathlib import Path

from portwright.archive import server
from portwright.errors import PortwrightError
from portwright.services import shop_file

LARGEST, OLDER = 1_000_000, 4  # size of one file [bytes], and how many older ones stay
_PLACES = 12  # innermost places of an error that are written


class Event(StrEnum):
    """Everything the log can say."""

    STARTED = "app started"
    STOPPED = "app stopped"
    COMMAND = "command ended"
    UNEXPECTED = "unexpected error"
    WARNED = "warning"
    SLOW_REQUEST = "slow request"
    FAILED_REQUEST = "request failed"
    LOG_IN = "log-in"
    LOG_IN_REFUSED = "log-in refused"
    LOG_OUT = "log-out"
    SESSIONS_ENDED = "sessions ended"
    TOKEN_REFUSED = "token refused"  # noqa: S105 - no token
    BACKUP = "backup made"
    BACKUP_FAILED = "backup failed"
    FILE_REFUSED = "file refused"
    WORK_ENDED = "slow work ended"
    BUNDLE = "diagnostic bundle made"


_log = logging.getLogger("portwright.events")


def note(
    event: Event,
    *,
    error: BaseException | None = None,
    place: str = "",
    **numbers: float,
) -> None:
    """Write one line, where a log is kept.

    Parameters
    ----------
    event : Event
    error : BaseException, optional
        Its kind, code and way through the program are written, never its words.
    place : str
        A command or the pattern of an address, as the program's own source has it.
    numbers : float
        Counts and measures by name.
    """
    level = logging.ERROR if event is Event.UNEXPECTED else logging.INFO
    facts = {"event": event.value, "place": place, **numbers}
    _log.log(level, event.value, exc_info=error, extra={"facts": facts})


def log_path(shop: Path) -> Path:
    """Where the log of a shop is kept: beside its file; for one on a server in the own folder."""
    beside = shop_file.folder() if server.is_address(shop) else shop.resolve().parent
    name = server.shown(shop).stem if server.is_address(shop) else shop.stem
    return beside / "logs" / f"{name}.log"


def files(shop: Path) -> list[Path]:
    """The log and its older parts, newest first."""
    path = log_path(shop)
    found = [path, *(path.with_name(f"{path.name}.{n}") for n in range(1, OLDER + 1))]
    return [one for one in found if one.is_file()]


def begin(shop: Path) -> logging.Handler | None:
    """Keep a log for this shop from now on; None where it cannot be kept, which stops nothing."""
    path = log_path(shop)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = _Bounded(path, maxBytes=LARGEST, backupCount=OLDER, encoding="utf-8", delay=True)
    except OSError:
        return None
    handler.setFormatter(_Lines())
    handler.addFilter(_worth_a_line)
    _log.setLevel(logging.INFO)
    logging.getLogger().addHandler(handler)
    return handler


def end(handler: logging.Handler | None) -> None:
    """Keep the log no longer."""
    if handler is not None:
        logging.getLogger().removeHandler(handler)
        handler.close()


def _worth_a_line(record: logging.LogRecord) -> bool:
    """Our own events, and warnings of anything else that nobody was told about."""
    if hasattr(record, "facts"):
        return True
    told = record.exc_info and isinstance(record.exc_info[1], PortwrightError)
    return record.levelno >= logging.WARNING and not told


class _Bounded(RotatingFileHandler):
    """Turns over at a size; where another program holds the file, it begins anew instead."""

    def emit(self, record: logging.LogRecord) -> None:
        try:
            super().emit(record)
        except Exception:  # a log that cannot be written must not stop the work
            self.handleError(record)

    def doRollover(self) -> None:  # noqa: N802 - the library's name
        try:
            super().doRollover()
        except OSError:
            if self.stream is None:
                self.stream = self._open()
            self.stream.seek(0)
            self.stream.truncate()

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 - the library's name
        """Say nothing: the disk may be full, and the person is told of that elsewhere."""


class _Lines(logging.Formatter):
    """One JSON object a line, made of what the program itself knows only."""

    def format(self, record: logging.LogRecord) -> str:
        facts = getattr(record, "facts", None)
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
        }
        if facts is None:
            wrong = record.exc_info and record.exc_info[1]
            line["event"] = (Event.UNEXPECTED if wrong else Event.WARNED).value
            line["from"] = record.name.partition(".")[0]
            line["source"] = f"{_short(record.pathname)}:{record.lineno}"
        else:
            line |= {name: _plain(value) for name, value in facts.items() if value != ""}
        if record.exc_info and record.exc_info[1] is not None:
            line |= _error(record.exc_info[1])
        return json.dumps(line, ensure_ascii=False)


def _plain(value: object) -> object:
    if isinstance(value, float):
        return round(value, 3) if math.isfinite(value) else None
    return value


def _error(error: BaseException) -> dict[str, object]:
    code = error.code if isinstance(error, PortwrightError) else ""
    frames = traceback.extract_tb(error.__traceback__)[-_PLACES:]
    way = [f"{_short(frame.filename)}:{frame.lineno} {frame.name}" for frame in frames]
    told: dict[str, object] = {"error": type(error).__name__, "code": code, "way": way}
    cause = error.__cause__ or error.__context__
    if cause is not None:
        told["because"] = type(cause).__name__
    return {name: value for name, value in told.items() if value}


def _short(filename: str) -> str:
    """A source file without the folders of this computer, which may carry a person's name."""
    parts = Path(filename).parts
    if "portwright" in parts:
        return "/".join(parts[len(parts) - 1 - parts[::-1].index("portwright") :])
    if "site-packages" in parts:
        return "/".join(parts[parts.index("site-packages") + 1 :])
    return parts[-1] if parts else ""
