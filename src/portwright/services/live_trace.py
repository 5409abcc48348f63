"""Raw lines of the instruments, kept with the job and read back without loss.

A piece of trace is a gzip file of text: one JSON object that says what the lines are, then for each
line ``[seconds, instrument, text]`` and for each event an object.  Nothing is rounded but the
clock, to a tenth of a millisecond.
"""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from portwright.errors import ArchiveWriteError, ImportFileError, NotFoundError
from portwright.io.instruments.reader import TICKS, Line
from portwright.services.shop_file import ShopFile

MEDIA_TYPE = "application/vnd.portwright.trace+gzip"
FORMAT, VERSION = "portwright-trace", 1


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened between two lines.

    Parameters
    ----------
    time : float
        [s]
    kind : str
        "lift", "taken", "ready", "range", "zero" or "contact".
    said : dict
        What belongs to it.
    """

    time: float
    kind: str
    said: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything the instruments said during a run.

    Parameters
    ----------
    header : dict
        Run, descriptions of the instruments, zero, rule and lifts planned.
    entries : tuple of Line or Event
        In the order they came.
    """

    header: dict[str, Any]
    entries: tuple[Line | Event, ...]

    @property
    def lines(self) -> int:
        """Number of lines."""
        return sum(isinstance(e, Line) for e in self.entries)


def pack(header: dict[str, Any], entries: Iterable[Line | Event]) -> bytes:
    """One piece of trace as it is stored."""
    rows = [json.dumps({"format": FORMAT, "version": VERSION} | header, ensure_ascii=False)]
    for entry in entries:
        time = round(entry.time, TICKS)
        row: Any
        if isinstance(entry, Line):
            row = [time, entry.source, entry.text, *([1] if entry.cut else [])]
        else:
            row = {"time": time, "kind": entry.kind, "said": entry.said}
        rows.append(json.dumps(row, ensure_ascii=False, separators=(",", ":")))
    text = "\n".join(rows) + "\n"
    return gzip.compress(text.encode("utf-8"), 6, mtime=0)


def unpack(data: bytes, name: str = "The trace") -> Trace:
    """Read one piece back.

    Raises
    ------
    ImportFileError
        Damaged, or written by a newer Portwright.
    """
    try:
        rows = gzip.decompress(data).decode("utf-8").splitlines()
        header = json.loads(rows[0])
        if header.get("format") != FORMAT or header.get("version") != VERSION:
            raise ImportFileError(f"{name} is no trace this Portwright knows.", "Update it.")
        entries = tuple(_entry(json.loads(row)) for row in rows[1:])
    except (OSError, EOFError, zlib.error, ValueError, LookupError, TypeError) as error:
        raise ImportFileError(f"{name} is damaged: {error}.", "Take it from a backup.") from error
    return Trace(header, entries)


def _entry(row: Any) -> Line | Event:
    if isinstance(row, list):
        return Line(float(row[0]), str(row[1]), str(row[2]), len(row) > 3)
    return Event(float(row["time"]), str(row["kind"]), dict(row["said"]))


def store(
    shop: ShopFile, place: tuple[str, str, str], run: str, number: int, data: bytes, caption: str
) -> None:
    """Keep one piece with the job.

    Parameters
    ----------
    place : tuple of str
        Job, port and stage.
    number : int
        Of the piece, from 1.
    """
    job, port, stage = place
    shop.add_attachment(
        job,
        data,
        f"{run} trace {number:04d}.gz",
        MEDIA_TYPE,
        subject=port,
        stage=stage,
        caption=caption,
    )


def pieces(shop: ShopFile, job: str, run: str) -> int:
    """How many pieces a run has."""
    return len(_ids(shop, job, run))


def _ids(shop: ShopFile, job: str, run: str) -> list[int]:
    kept = [a for a in shop.attachments(job) if a.media_type == MEDIA_TYPE]
    return [a.id for a in kept if a.name.startswith(f"{run} trace ")]


def runs_with_trace(shop: ShopFile, job: str) -> list[str]:
    """Runs of a job whose raw lines were kept."""
    kept = [a.name for a in shop.attachments(job) if a.media_type == MEDIA_TYPE]
    return sorted({name.partition(" trace ")[0] for name in kept})


def load(shop: ShopFile, job: str, run: str) -> list[Trace]:
    """The whole trace of a run, one for each time it was gone on with.

    Clocks count from the start of a computer, so stretches of different sessions stay apart.

    Raises
    ------
    NotFoundError
        It was entered by hand.
    """
    found = [unpack(shop.attachment_data(i), f"A trace of run {run}") for i in _ids(shop, job, run)]
    if not found:
        raise NotFoundError(
            f"Run {run} has no trace.", "Only sweeps taken live from instruments have one."
        )
    joined: list[Trace] = []
    for piece in found:
        if joined and joined[-1].header["session"] == piece.header["session"]:
            joined[-1] = Trace(joined[-1].header, joined[-1].entries + piece.entries)
        else:
            joined.append(piece)
    return joined


def as_text(traces: Sequence[Trace]) -> str:
    """A trace as JSON lines, to be read by any program; :func:`from_text` gives it back."""
    return "".join(gzip.decompress(pack(t.header, t.entries)).decode("utf-8") for t in traces)


def export(traces: Sequence[Trace], file: Path) -> None:
    """Write the raw lines without loss, for any program to read.

    Raises
    ------
    ArchiveWriteError
    """
    try:
        file.write_text(as_text(traces), encoding="utf-8", newline="\n")
    except OSError as error:
        raise ArchiveWriteError(
            f"{file} cannot be written: {error.strerror or error}.", "Choose another place."
        ) from error


def from_text(text: str) -> list[Trace]:
    """Read what :func:`as_text` wrote."""
    parts: list[list[str]] = []
    for row in text.splitlines():
        if row.startswith('{"format"'):
            parts.append([])
        if not parts:
            raise ImportFileError("This is no exported trace.", "It begins with its format.")
        parts[-1].append(row)
    return [unpack(gzip.compress("\n".join(rows).encode("utf-8"))) for rows in parts]
