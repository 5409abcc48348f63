"""Photos of a job: kept as taken, marked with arrows, rings and words, given away without data."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from portwright.archive.attachments import Attachment
from portwright.errors import InputError, NotFoundError
from portwright.io.picture_marks import ARROW, RING, WORDS, Mark, marked_jpeg
from portwright.io.pictures import open_picture, plain_jpeg
from portwright.model.contents import JobContents
from portwright.model.entry import EntryKind
from portwright.services.card_entries import current, enter
from portwright.services.files import write_file
from portwright.services.shop_file import ShopFile

FLOW_SHEET = "flow sheet"
"""What a photo shows that is no part of the head: the paper sweeps were written on."""

THUMBNAIL, SHARED = 360, 2048  # px
_KINDS = (ARROW, RING, WORDS)
_MOST_MARKS, _LONGEST = 60, 80
_TYPES = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))

# A photo as it is kept, under a name screens may use.
KeptPhoto = Attachment


@dataclass(frozen=True, slots=True)
class Marked:
    """What was drawn on a photo and written under it.

    Parameters
    ----------
    marks : tuple of Mark
    caption : str
    key : str
        Of the newest entry, "" where nothing was drawn yet.
    """

    marks: tuple[Mark, ...] = ()
    caption: str = ""
    key: str = ""


def photos_of(shop: ShopFile, job: str) -> list[Attachment]:
    """Photos kept with a job, in the order they came."""
    return [a for a in shop.attachments(job) if a.media_type.startswith("image/")]


def photo_of(shop: ShopFile, job: str, photo: int) -> Attachment:
    """One photo of a job.

    Raises
    ------
    NotFoundError
    """
    found = next((a for a in photos_of(shop, job) if a.id == photo), None)
    if found is None:
        raise NotFoundError(f"Job {job} has no photo {photo}.", "Choose one on the job page.")
    return found


def keep_photo(shop: ShopFile, job: str, data: bytes, name: str, **about: str) -> int:
    """Keep a photo exactly as the camera made it, and give its id.

    Parameters
    ----------
    about : str
        ``subject``, ``stage`` and ``caption``.

    Raises
    ------
    ImportFileError
        Neither JPEG nor PNG, or damaged.
    InputError, UnknownNameError
    """
    open_picture(data, name)
    kind = next(kind for magic, kind in _TYPES if data.startswith(magic))
    return shop.add_attachment(job, data, name[:120], kind, **about)


def marked(contents: JobContents, photo: Attachment) -> Marked:
    """What was drawn on a photo last."""
    newest = Marked()
    for entry in current(contents.entries):
        if entry.kind is EntryKind.MARKS and entry.cells.get("photo") == photo.sha256:
            drawn = read_marks(json.loads(entry.cells.get("marks", "[]")))
            newest = Marked(drawn, entry.cells.get("caption", ""), entry.key)
    return newest


def read_marks(sent: Sequence[dict[str, Any]]) -> tuple[Mark, ...]:
    """Marks as a browser sends them.

    Raises
    ------
    InputError
        Something that is no mark, or too many.
    """
    if len(sent) > _MOST_MARKS:
        raise InputError("There are too many marks on this photo.", "Take some off.")
    return tuple(_mark(m) for m in sent)


def _mark(sent: dict[str, Any]) -> Mark:
    try:
        x, y, x2, y2 = (float(sent[name]) for name in ("x", "y", "x2", "y2"))
        kind, words = str(sent["kind"]), str(sent.get("words", ""))[:_LONGEST]
    except (KeyError, TypeError, ValueError) as error:
        raise InputError("That is no mark on a photo.", "Reload the photo.") from error
    if kind not in _KINDS or not all(math.isfinite(v) and -0.5 <= v <= 1.5 for v in (x, y, x2, y2)):
        raise InputError("That is no mark on a photo.", "Reload the photo.")
    return Mark(kind, x, y, x2, y2, words)


def keep_marks(
    shop: ShopFile, job: str, photo: Attachment, marks: Sequence[Mark], caption: str = ""
) -> None:
    """Keep what was drawn; the photo itself stays as it was taken."""
    plain = [{"kind": m.kind, **m.place(), "words": m.words} for m in marks]
    cells = {"photo": photo.sha256, "marks": json.dumps(plain), "caption": caption.strip()}
    enter(shop, job, EntryKind.MARKS, cells)


def shared_jpeg(shop: ShopFile, job: str, photo: Attachment, edge: int = SHARED) -> bytes:
    """A photo to give away: marks drawn in, everything the camera wrote left behind."""
    drawn = marked(shop.job(job), photo)
    data = shop.attachment_data(photo.id)
    return marked_jpeg(data, drawn.marks, edge, photo.name)


def thumbnail(shop: ShopFile, photo: int) -> bytes:
    """A small picture of a photo."""
    return _thumbnail(shop, photo)


@lru_cache(maxsize=400)
def _thumbnail(shop: ShopFile, photo: int) -> bytes:
    return plain_jpeg(shop.attachment_data(photo), THUMBNAIL)


def export_photos(shop: ShopFile, job: str, folder: Path) -> list[Path]:
    """Write every photo of a job to a folder, fit to be given away.

    Raises
    ------
    ReportError
        The folder may not be written.
    """
    written = []
    for place, photo in enumerate(photos_of(shop, job), start=1):
        about = "-".join(t for t in (job, photo.subject, photo.stage, f"{place:03d}") if t)
        path = folder / f"{re.sub(r'[^A-Za-z0-9_-]+', '_', about)}.jpg"
        write_file(shared_jpeg(shop, job, photo), path)
        written.append(path)
    return written
