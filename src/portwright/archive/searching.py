"""Words of the shop file, found by an index where the database has one.

The only place that knows SQLite's FTS5; on any other database the same questions are answered by
plain comparison of text.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, column, func, select, table, text

from portwright.archive import tables

SHEET = "job"
_LINES_EACH = 8  # shown for a job, on average
# the hidden column of the same name is the whole index
_INDEX = table("search_index", column("rowid"), column("search_index"))


@dataclass(frozen=True, slots=True)
class SearchLine:
    """One thing that can be found.

    Parameters
    ----------
    kind : str
        "job", "note", "stage", "run", "sheet", "measurement" or "file".
    place : str
        Where in the job: port, stage, run or file name.
    words : str
    """

    kind: str
    place: str
    words: str


@dataclass(frozen=True, slots=True)
class Hit:
    """A line that was found, with the name of its job inside the shop file."""

    job: int
    kind: str
    place: str
    words: str


def has_index(connection: Connection) -> bool:
    """Whether this database can search by an index of words."""
    return connection.dialect.name == "sqlite"


def keep(connection: Connection, job: int, version: int, lines: Sequence[SearchLine]) -> None:
    """Replace the lines of one job."""
    t = tables.search_line
    if has_index(connection):
        connection.execute(
            text(
                "INSERT INTO search_index(search_index, rowid, words) "
                "SELECT 'delete', id, words FROM search_line WHERE job_id = :job"
            ),
            {"job": job},
        )
    connection.execute(t.delete().where(t.c.job_id == job))
    if lines:
        connection.execute(
            t.insert(),
            [
                {
                    "job_id": job,
                    "kind": line.kind,
                    "place": line.place,
                    "words": line.words,
                    "job_version": version if line.kind == SHEET else None,
                }
                for line in lines
            ],
        )
    if has_index(connection):
        connection.execute(
            text(
                "INSERT INTO search_index(rowid, words) "
                "SELECT id, words FROM search_line WHERE job_id = :job"
            ),
            {"job": job},
        )


def _match(phrase: str) -> str:
    """A phrase as the index wants it: its words in order, the last one may go on."""
    words = [w for w in re.split(r"[\W_]+", phrase) if w]
    if not words:
        return '""'
    # "4" is not "43", but "weld" is also "welded"
    more = "" if words[-1].isdigit() else " *"
    return f'"{" ".join(words)}"{more}'


def _lines_with(connection: Connection, alternatives: Sequence[str]) -> Select[Any]:
    """Row ids of lines that hold any of these phrases."""
    t = tables.search_line.c
    if has_index(connection):
        asked = " OR ".join(_match(a) for a in alternatives)
        return select(_INDEX.c.rowid).where(_INDEX.c.search_index.op("MATCH")(asked))
    found = func.lower(t.words).contains(alternatives[0].lower(), autoescape=True)
    for other in alternatives[1:]:
        found |= func.lower(t.words).contains(other.lower(), autoescape=True)
    return select(t.id).where(found)


def jobs_with(connection: Connection, phrase: str) -> Select[Any]:
    """Row ids of the jobs in which a phrase stands, as a question to put into another."""
    t = tables.search_line.c
    return select(t.job_id).where(t.id.in_(_lines_with(connection, [phrase])))


def search(
    connection: Connection, wanted: Sequence[Sequence[str]], since: str = "", until: str = ""
) -> tuple[list[int], list[tuple[int, int]]]:
    """Jobs in which every wanted word stands, newest first, and where the words stand.

    Parameters
    ----------
    wanted : sequence of sequence of str
        For each word its equivalents, any of which will do.
    since, until : str
        Years a job was opened in; a job of no known year fits neither.

    Returns
    -------
    tuple
        Names of the jobs inside the shop file, and pairs of a line and its job.
    """
    t, job = tables.search_line.c, tables.job.c
    newest = select(job.id, job.opened).order_by(job.opened.desc(), job.id.desc())
    jobs = [
        int(number)
        for number, opened in connection.execute(newest)
        if not (since or until) or _in_years(opened, since, until)
    ]
    lines: list[tuple[int, int]] = []
    for alternatives in wanted:
        query = select(t.id, t.job_id).where(t.id.in_(_lines_with(connection, alternatives)))
        found = [(int(line), int(number)) for line, number in connection.execute(query)]
        here = {number for _, number in found}
        jobs = [number for number in jobs if number in here]
        lines += found
    return jobs, lines


def _in_years(opened: str, since: str, until: str) -> bool:
    year = opened[:4]
    if not re.fullmatch(r"\d{4}", year):
        return False
    return (not since or year >= since) and (not until or year <= until)


def hits(
    connection: Connection, places: Sequence[tuple[int, int]], jobs: Collection[int]
) -> list[Hit]:
    """What stands in lines that :func:`search` found, of these jobs only."""
    t, wanted = tables.search_line.c, set(jobs)
    ids = [line for line, job in places if job in wanted][: len(wanted) * _LINES_EACH]
    query = select(t.job_id, t.kind, t.place, t.words).where(t.id.in_(ids)).order_by(t.id)
    return [Hit(r[0], r[1], r[2], r[3]) for r in connection.execute(query)]
