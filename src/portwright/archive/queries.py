"""What can be looked up in a shop file."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from sqlalchemy import select

from portwright.archive import (
    attachments,
    condition,
    edit,
    fetch,
    joblist,
    live,
    overview,
    overview_stamp,
    results,
    searching,
    tables,
    who,
)
from portwright.archive.attachments import Attachment
from portwright.archive.joblist import JobLine
from portwright.archive.live import Contested, StoredReading
from portwright.archive.results import RunResult
from portwright.archive.shopfile import ShopFile
from portwright.archive.who import Change
from portwright.model.bench import Bench, Calibration, PlateCheck
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Casting
from portwright.model.job import Job, Shop
from portwright.model.run import Run


class Queries(ShopFile):
    """Looking things up; every method reads one consistent state."""

    def contents(self) -> ShopContents:
        """The whole shop."""
        with self._reading() as connection:
            return fetch.contents(connection)

    def shop(self) -> Shop | None:
        """The shop's own facts."""
        with self._reading() as connection:
            return fetch.shop(connection)

    def jobs(self) -> list[Job]:
        """Every job, newest first."""
        with self._reading() as connection:
            return fetch.jobs(connection)

    def job_list(self, limit: int = 200, search: Iterable[str] = ()) -> list[JobLine]:
        """Jobs that contain every search word, newest first, with their number of runs."""
        with self._reading() as connection:
            return joblist.job_list(connection, limit, search)

    def job(self, number: str) -> JobContents:
        """One job with everything on it."""
        with self._reading() as connection:
            return fetch.job_contents(connection, number, self._kept)

    def job_version(self, number: str) -> int:
        """How many times the job's own fields were written; name it when changing them."""
        with self._reading() as connection:
            return edit.job_version(connection, number)

    def run(self, name: str) -> Run:
        """One run by code or "job/code"."""
        with self._reading() as connection:
            return fetch.find_run(connection, name)

    def numbers_of(self, kind: str) -> list[tuple[str, str]]:
        """Job and number of every quote or invoice of the shop."""
        with self._reading() as connection:
            return edit.numbers_of(connection, kind)

    def next_run_code(self, prefix: str) -> str:
        """The run code after the highest numbered one with this prefix."""
        with self._reading() as connection:
            return joblist.next_run_code(connection, prefix)

    def runs_of_bench(self, bench: str, limit: int = 5000) -> tuple[Run, ...]:
        """The newest runs on a bench, oldest of them first."""
        with self._reading() as connection:
            return fetch.runs_of_bench(connection, bench, limit, self._kept)

    def states_on_both(self, one: str, other: str) -> list[tuple[str, str, str]]:
        """Job, port and stage of everything swept on both benches."""
        with self._reading() as connection:
            return fetch.states_on_both(connection, one, other)

    def bench_state(self) -> str:
        """Changes whenever a reading, a sweep or a plate check was added."""
        with self._reading() as connection:
            return fetch.bench_state(connection)

    def benches(self) -> list[Bench]:
        """Every bench."""
        with self._reading() as connection:
            return fetch.benches(connection)

    def castings(self) -> list[Casting]:
        """Every casting the shop wrote something about."""
        with self._reading() as connection:
            return fetch.castings(connection)

    def casting_version(self, number: str) -> int:
        """How many times a casting was written, 0 while it is not; name it when changing it."""
        with self._reading() as connection:
            return edit.casting_version(connection, number)

    def calibrations(self) -> list[Calibration]:
        """Every calibration version."""
        with self._reading() as connection:
            return fetch.calibrations(connection)

    def plate_checks(self) -> list[PlateCheck]:
        """Every plate check."""
        with self._reading() as connection:
            return fetch.plate_checks(connection)

    def readings(self, job: str, run: str) -> list[StoredReading]:
        """Current readings of a run with their row ids."""
        with self._reading() as connection:
            return live.stored_readings(connection, live.run_id(connection, job, run))

    def set_aside(self, job: str, run: str) -> list[Contested]:
        """Readings that came second for their lift and wait for a person to choose."""
        with self._reading() as connection:
            return live.set_aside(connection, live.run_id(connection, job, run))

    def results(self, job: str, run: str | None = None) -> list[RunResult]:
        """Stored results of a job, or of one of its runs."""
        with self._reading() as connection:
            return results.results(connection, job, run)

    def attachments(self, job: str) -> list[Attachment]:
        """Files kept with a job, without their bytes."""
        with self._reading() as connection:
            return attachments.attachments(connection, job)

    def attachment_data(self, attachment: int) -> bytes:
        """Bytes of a file kept with a job."""
        with self._reading() as connection:
            return attachments.attachment_data(connection, attachment)

    def changed_jobs(self, method: str) -> tuple[overview_stamp.Stamp, list[str] | None]:
        """State of the file, and jobs whose kept overview is older; None if it is that state."""
        with self._reading() as connection:
            now = overview_stamp.stamp(connection, method)
            return now, overview_stamp.changed_jobs(connection, now)

    def port_overviews(self, wanted: overview.Wanted) -> list[overview.PortOverview]:
        """Kept overviews of the ports that fit."""
        with self._reading() as connection:
            return overview.find(connection, wanted)

    def count_jobs(self, wanted: overview.Wanted, but: str) -> int:
        """Number of jobs, but for one, with a kept port that fits."""
        with self._reading() as connection:
            return overview.count_jobs(connection, wanted, but)

    def port_locations(self) -> list[str]:
        """Port locations there are among the kept ports."""
        with self._reading() as connection:
            return overview.locations(connection)

    def port_table(self, wanted: overview.Wanted, jobs: Sequence[int]) -> overview.PortTable:
        """Kept overviews of the ports of these jobs that fit, as columns."""
        with self._reading() as connection:
            return overview.port_table(connection, wanted, jobs)

    def port_rows(self, rows: Sequence[int]) -> dict[int, overview.PortOverview]:
        """Kept overviews by the names of their rows."""
        with self._reading() as connection:
            return overview.port_rows(connection, rows)

    def search(
        self, wanted: Sequence[Sequence[str]], since: str = "", until: str = ""
    ) -> tuple[list[int], list[tuple[int, int]]]:
        """Jobs with every wanted word, newest first, and the lines the words stand in."""
        with self._reading() as connection:
            return searching.search(connection, wanted, since, until)

    def hits(self, places: Sequence[tuple[int, int]], jobs: Collection[int]) -> list[searching.Hit]:
        """What stands in the lines a search found, of these jobs only."""
        with self._reading() as connection:
            return searching.hits(connection, places, jobs)

    def jobs_of_rows(self, rows: Sequence[int]) -> dict[int, Job]:
        """Jobs by their names inside the shop file."""
        with self._reading() as connection:
            return fetch.jobs_of_rows(connection, rows)

    def changes(self, limit: int = 200, by: str | None = None) -> list[Change]:
        """The newest lines of the log of changes, newest first; of one person if named."""
        with self._reading() as connection:
            return who.changes(connection, limit, by)

    def condition(self) -> condition.Condition:
        """Whether the stored shop is sound, every page and reference looked at."""
        with self._reading() as connection:
            return condition.look(connection, self.path)

    def settings(self) -> dict[str, Any]:
        """Every stored setting by name, secrets among them."""
        table = tables.setting
        with self._reading() as connection:
            return {str(n): v for n, v in connection.execute(select(table.c.name, table.c.value))}

    def setting(self, name: str) -> Any:
        """A stored setting, None where there is none."""
        table = tables.setting
        with self._reading() as connection:
            return connection.execute(select(table.c.value).where(table.c.name == name)).scalar()
