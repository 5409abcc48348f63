"""The list of jobs: light rows, searched and counted by the database."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, TextClause, func, select, text

from portwright.archive import rows, tables
from portwright.model.job import Job


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job as it stands in the list.

    Parameters
    ----------
    job : Job
    runs : int
        Number of runs on it.
    newest_run : str
        ISO date of its newest run, "" while it has none.
    """

    job: Job
    runs: int
    newest_run: str


def job_list(connection: Connection, limit: int, words: Iterable[str]) -> list[JobLine]:
    """Jobs that contain every word somewhere, newest first."""
    job, run = tables.job, tables.run
    query = select(*rows.JOB_COLUMNS).order_by(job.c.opened.desc(), job.c.id.desc()).limit(limit)
    server = connection.dialect.name == "postgresql"
    for word in words:
        query = query.where(_mentions(word, _SERVER_SHEET if server else _FILE_SHEET))
    found = connection.execute(query).all()
    ids = [row[0] for row in found]
    counted = (
        select(run.c.job_id, func.count(), func.max(run.c.date))
        .where(run.c.job_id.in_(ids))
        .group_by(run.c.job_id)
    )
    counts: dict[int, tuple[int, str]] = {
        job_id: (number, newest) for job_id, number, newest in connection.execute(counted)
    }
    return [JobLine(rows.job_from(row), *counts.get(row[0], (0, ""))) for row in found]


# What stands on the job sheet counts too, without the names of its fields.
_FILE_SHEET = text("(SELECT group_concat(value, ' ') FROM json_each(job.facts))")
_SERVER_SHEET = text("(SELECT string_agg(value, ' ') FROM json_each_text(job.facts))")


def _mentions(word: str, sheet: TextClause) -> ColumnElement[bool]:
    job = tables.job.c
    columns = (job.number, job.opened, job.customer, job.vehicle, job.casting, job.goal)
    # put together first: folding each by itself calls back to the program seven times a job;
    # a word has no space in it, so none is found across two of them
    everything: ColumnElement[str] = func.coalesce(sheet, "")
    for column in columns:
        everything = everything + " " + column
    found: ColumnElement[bool] = func.fold(everything).contains(word.casefold(), autoescape=True)
    return found


def next_run_code(connection: Connection, prefix: str) -> str:
    """The run code after the highest numbered one with this prefix, anywhere in the shop."""
    code: ColumnElement[str] = tables.run.c.code
    if connection.dialect.name == "postgresql":
        code = code.collate("C")  # by the letters' numbers, as in a file
    query = select(code).where(code >= prefix, code < prefix + "\U0010ffff")
    pattern = re.compile(re.escape(prefix) + r"(\d+)")
    highest, width = 0, 1
    for found in connection.execute(query).scalars():
        match = pattern.fullmatch(found)
        if match and int(match[1]) >= highest:
            highest, width = int(match[1]), len(match[1])
    return f"{prefix}{highest + 1:0{width}d}"
