"""Photos, reports and other files kept with a job."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from sqlalchemy import Connection, RowMapping, select

from portwright.archive import merge, tables
from portwright.archive.fetch import job_row
from portwright.archive.live import now
from portwright.errors import CorruptArchiveError, InputError, NotFoundError

LARGEST = 100_000_000  # bytes; a photo has some millions, and the shop file must stay easy to copy


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file kept with a job, without its bytes.

    Parameters
    ----------
    id : int
        By which :meth:`Archive.attachment_data` gives the bytes.
    name, media_type : str
        File name and kind ("image/jpeg").
    subject, stage, caption : str
        Port or head it shows, stage at which it was made, and what to see.
    size : int
        [bytes]
    sha256 : str
    added_at : str
        UTC.
    """

    id: int
    name: str
    media_type: str
    subject: str
    stage: str
    caption: str
    size: int
    sha256: str
    added_at: str


def add_attachment(connection: Connection, job: str, data: bytes, about: dict[str, str]) -> int:
    """Store a file with a job and give its id; the same bytes are stored once.

    Raises
    ------
    InputError
        The file is empty or larger than the limit.
    """
    name = about["name"] or "The file"
    if not data:
        raise InputError(f"{name} is empty.", "Choose the file again.")
    if len(data) > LARGEST:
        raise InputError(
            f"{name} has {len(data) / 1e6:.0f} MB, more than {LARGEST / 1e6:.0f} MB.",
            "Store a smaller copy.",
        )
    job_id = int(job_row(connection, job)["id"])
    sha256 = hashlib.sha256(data).hexdigest()
    row = about | {"job_id": job_id, "sha256": sha256}
    known = merge.find(connection, tables.attachment, row)
    if known is not None:
        return int(known["id"])
    blob = tables.blob
    if connection.execute(select(blob.c.size).where(blob.c.sha256 == sha256)).first() is None:
        connection.execute(blob.insert().values(sha256=sha256, size=len(data), data=data))
    return merge.add(connection, tables.attachment, row | {"added_at": now()})


def attachments(connection: Connection, job: str) -> list[Attachment]:
    """Files of a job in the order added, without their bytes."""
    query = (
        select(tables.attachment, tables.blob.c.size)
        .join(tables.blob, tables.blob.c.sha256 == tables.attachment.c.sha256)
        .where(tables.attachment.c.job_id == job_row(connection, job)["id"])
        .order_by(tables.attachment.c.id)
    )
    return [_attachment(row) for row in connection.execute(query).mappings()]


def _attachment(row: RowMapping) -> Attachment:
    return Attachment(**{name: row[name] for name in Attachment.__dataclass_fields__})


def attachment_data(connection: Connection, attachment: int) -> bytes:
    """Bytes of a file, checked against their checksum.

    Raises
    ------
    NotFoundError
    CorruptArchiveError
        The bytes are not those once stored.
    """
    query = (
        select(tables.blob.c.data, tables.blob.c.sha256)
        .join(tables.attachment, tables.blob.c.sha256 == tables.attachment.c.sha256)
        .where(tables.attachment.c.id == attachment)
    )
    found = connection.execute(query).first()
    if found is None:
        raise NotFoundError(f"There is no stored file {attachment}.", "Reload the job.")
    data, sha256 = bytes(found[0]), str(found[1])
    if hashlib.sha256(data).hexdigest() != sha256:
        raise CorruptArchiveError(
            f"Stored file {attachment} is damaged.", "Take it from a backup copy."
        )
    return data
