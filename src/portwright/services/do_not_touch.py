"""Where no more metal may go: notes and walls at their limit, carried on to later jobs."""

from __future__ import annotations

import re
from dataclasses import dataclass

from portwright.archive.archive import Archive
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.job import Note
from portwright.services.jobs import today
from portwright.services.metal import earlier_thin_walls, metal_findings

MARK = "Do not touch"
_SAID = re.compile(r"do\s*n[o']t\s+(?:touch|cut|grind)|leave\s+(?:it\s+)?alone", re.IGNORECASE)
_MOST = 20  # earlier jobs of the casting looked through


@dataclass(frozen=True, slots=True)
class Kept:
    """One place that must be left as it is.

    Parameters
    ----------
    place : str
        Port, cylinder or head.
    text : str
    job : str
        Job it was found on; another one than at hand when it was carried on by the casting.
    """

    place: str
    text: str
    job: str


def do_not_touch(archive: Archive, number: str) -> list[Kept]:
    """Places to leave alone: of this job first, then of earlier jobs of the same casting.

    Raises
    ------
    UnknownNameError
        No such job.
    """
    contents = archive.job(number)
    found = _notes(contents)
    found += [
        Kept(f.where.port, f.message, number)
        for f in metal_findings(contents)
        if f.code == "wall-at-limit"
    ]
    casting = contents.job.casting.strip().casefold()
    if casting:
        others = [
            j.number
            for j in archive.jobs()
            if j.casting.strip().casefold() == casting and j.number != number
        ]
        for other in others[:_MOST]:
            found += _notes(archive.job(other))
        thin = earlier_thin_walls(archive, contents)
        found += [Kept(f.where.port, f.message, f.where.job) for f in thin]
    return found


def _notes(contents: JobContents) -> list[Kept]:
    number = contents.job.number
    return [Kept(n.subject, n.text, number) for n in contents.notes if _SAID.search(n.text)]


def leave_alone(archive: Archive, number: str, place: str, why: str, by: str = "") -> Note:
    """Note that a place must be left as it is; it is shown on every later job of the casting.

    Raises
    ------
    InputError
        No place or no reason.
    """
    if not place.strip() or not why.strip():
        raise InputError("Which place, and why?", "Like: I5 pinch, wall 2.6 mm.")
    note = Note(f"{MARK}: {why.strip()}", today(), place.strip(), "", by.strip())
    archive.add_note(number, note)
    return note
