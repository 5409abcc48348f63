"""A shop at work: every way of writing to a shop file, in random order, each told when stored."""

from __future__ import annotations

import contextlib
import hashlib
import random
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np

from portwright.archive.archive import Archive
from portwright.archive.results import RunResult
from portwright.errors import ConflictError
from portwright.model.bench import Bench, Calibration, Metering
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Cam, Port, Side
from portwright.model.job import Job, Measurement, Note, Shop, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run

JOB = "J-1"
IMPORTED = 4  # runs in one import


def mm(text: str) -> AsTyped:
    """A length as typed."""
    return AsTyped(text, "mm", float(text) / 1000.0)


def cfm(text: str) -> AsTyped:
    """A flow as typed."""
    return AsTyped(text, "cfm", float(text) * 4.719474432e-4)


def run(code: str, job: str = JOB, flows: tuple[str, ...] = ()) -> Run:
    """A sweep with these flows, one a millimetre."""
    readings = tuple(Reading(lift=mm(str(n)), flow=cfm(f)) for n, f in enumerate(flows, 1))
    return Run(code, job, "I1", "S0", "B1", date="2026-02-10", readings=readings)


def job_contents(number: str, runs: tuple[Run, ...] = ()) -> JobContents:
    """A job with one port and one stage."""
    return JobContents(
        job=Job(number), ports=(Port("I1", Side.INTAKE),), stages=(Stage("S0"),), runs=runs
    )


def begin(path: Path) -> None:
    """Make a shop file to work in."""
    with Archive.create(path) as archive:
        archive.save(
            ShopContents(
                shop=Shop("Workshop (invented)"),
                benches=(Bench("B1", "bench"),),
                calibrations=(Calibration("B1", 1, "2019-05-01", Metering.DIRECT, None),),
                jobs=(job_contents(JOB, (run("R0", flows=("1", "2", "3")),)),),
            )
        )


class Writer:
    """Writes one thing after another; every one carries a number nothing else has.

    Parameters
    ----------
    archive : Archive
    first : int
        First number to use.
    """

    def __init__(self, archive: Archive, first: int, dice: random.Random) -> None:
        self._archive, self._next, self._dice = archive, first, dice
        self._run = ""
        self._lift = 0
        self._ways: tuple[Callable[[str], str], ...] = (
            self.reading,
            self.reading,
            self.reading,
            self.correction,
            self.taken_back,
            self.left_out,
            self.measurement,
            self.measurement_corrected,
            self.note,
            self.attachment,
            self.new_job,
            self.stage,
            self.port,
            self.job_sheet,
            self.import_sheet,
            self.setting,
            self.result,
        )

    def step(self) -> str:
        """Write something; its token, once it is stored."""
        number = str(self._next)
        self._next += 1
        return self._dice.choice(self._ways)(number)

    def reading(self, number: str) -> str:
        """The next reading of a sweep."""
        if not self._run or self._lift >= 12:
            self._run, self._lift = f"R{number}", 0
            self._archive.add_run(run(self._run))
        self._lift += 1
        reading = Reading(lift=mm(str(self._lift)), flow=cfm(number))
        self._archive.add_reading(JOB, self._run, reading)
        return f"reading {number}"

    def correction(self, number: str) -> str:
        """The newest reading, corrected."""
        if self._lift == 0:
            return self.reading(number)
        last = self._archive.readings(JOB, self._run)
        if not last:
            return self.reading(number)
        corrected = Reading(lift=last[-1].reading.lift, flow=cfm(number))
        self._archive.add_reading(JOB, self._run, corrected, last[-1].id, "misread")
        return f"reading {number}"

    def taken_back(self, number: str) -> str:
        """The newest reading, taken back."""
        last = self._archive.readings(JOB, self._run) if self._run else []
        if not last:
            return self.reading(number)
        self._archive.withdraw_reading(JOB, self._run, last[-1].id, number)
        return f"reason {number}"

    def left_out(self, number: str) -> str:
        """A run left out of comparisons."""
        self._archive.mark_run(JOB, "R0", number)
        return f"mark {number}"

    def measurement(self, number: str) -> str:
        """A measurement."""
        taken = Measurement("I1", "throat diameter", mm("38.1"), note=number)
        self._archive.add_measurements(JOB, [taken])
        return f"measurement {number}"

    def measurement_corrected(self, number: str) -> str:
        """A measurement and its correction."""
        taken = Measurement("I1", "seat width", mm("1.2"), note=number)
        self._archive.add_measurements(JOB, [taken])
        self._archive.replace_measurement(JOB, taken, mm("1.3"), f"again {number}")
        return f"measurement again {number}"

    def note(self, number: str) -> str:
        """A remark."""
        self._archive.add_note(JOB, Note(number, "2026-02-10T11:00"))
        return f"note {number}"

    def attachment(self, number: str) -> str:
        """A photo."""
        data = self._dice.randbytes(self._dice.randrange(1, 60_000))
        self._archive.add_attachment(JOB, data, "photo", "image/jpeg", caption=number)
        return f"photo {number}"

    def new_job(self, number: str) -> str:
        """A job."""
        self._archive.add_job(Job(f"N{number}"))
        return f"job N{number}"

    def stage(self, number: str) -> str:
        """A stage."""
        self._archive.add_stage(JOB, Stage(number))
        return f"stage {number}"

    def port(self, number: str) -> str:
        """A port."""
        self._archive.add_port(JOB, Port(number, Side.EXHAUST))
        return f"port {number}"

    def job_sheet(self, number: str) -> str:
        """A change of the job sheet, which replaces the last one."""
        while True:
            version = self._archive.job_version(JOB)
            with contextlib.suppress(ConflictError):  # another program was quicker: look again
                self._archive.update_job(JOB, {"goal": number}, version)
                return f"goal {number}"

    def import_sheet(self, number: str) -> str:
        """A whole sheet, all of it or nothing."""
        name = f"S{number}"
        runs = tuple(run(f"{name}-{n}", name, ("1", "2", "3")) for n in range(IMPORTED))
        cam = Cam("card 7", rocker_ratio=1.5)
        contents = replace(job_contents(name, runs), cams=(cam,))
        self._archive.save(ShopContents(jobs=(contents,)))
        return f"job {name}"

    def setting(self, number: str) -> str:
        """A setting, which replaces the last one."""
        self._archive.save_setting("newest", int(number))
        return f"setting {number}"

    def result(self, number: str) -> str:
        """A computed result."""
        numbers = np.arange(3.0)
        result = RunResult(
            JOB, "R0", "standard-1", "B1 calibration 1", number, "d", numbers, numbers, numbers
        )
        self._archive.save_results([result])
        return f"result {number}"


def work(path: Path, first: int, seed: int, steps: int, told: Connection) -> None:
    """Write step after step as a program of its own, telling of each only after it is stored."""
    dice = random.Random(seed)  # noqa: S311 - repeatable, not secret
    with Archive.open(path) as archive:
        writer = Writer(archive, first, dice)
        for _ in range(steps):
            told.send(writer.step())
    told.close()


_STORED = {
    "reading": "SELECT json_extract(typed, '$.flow[0]') FROM reading",
    "reason": "SELECT reason FROM reading",
    "mark": "SELECT left_out FROM run_mark",
    "measurement": "SELECT note FROM measurement",
    "note": "SELECT text FROM note",
    "photo": "SELECT caption FROM attachment",
    "job": "SELECT number FROM job",
    "stage": "SELECT code FROM stage",
    "port": "SELECT code FROM port",
}


def missing(path: Path, told: list[str]) -> list[str]:
    """Which of the acknowledged tokens a shop file does not hold; each half-done step as well."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        found = {
            f"{kind} {text}"
            for kind, query in _STORED.items()
            for (text,) in connection.execute(query)
        }
        again = connection.execute("SELECT reason FROM measurement WHERE reason <> ''")
        found |= {f"measurement {text}" for (text,) in again}
        lost = [t for t in told if t.split()[0] not in {"goal", "setting", "result"}]
        lost = [token for token in lost if token not in found]
        lost += _replaced(connection, told)
        lost += _half_done(connection)
    return lost


def _replaced(connection: sqlite3.Connection, told: list[str]) -> list[str]:
    """Values that a later one replaces: the stored one is the last acknowledged or a later one."""
    now = {
        "goal": (
            connection.execute("SELECT goal FROM job WHERE number = ?", (JOB,)).fetchone() or (0,)
        )[0],
        "setting": (
            connection.execute("SELECT value FROM setting WHERE name = 'newest'").fetchone() or (0,)
        )[0],
        "result": (
            connection.execute("SELECT max(CAST(program AS INTEGER)) FROM result").fetchone()[0]
        ),
    }
    lost = []
    for kind, stored in now.items():
        said = [int(t.split()[1]) for t in told if t.startswith(f"{kind} ")]
        if said and int(stored or 0) < said[-1]:
            lost.append(f"{kind} {said[-1]}")
    return lost


def _half_done(connection: sqlite3.Connection) -> list[str]:
    """Imports of which only a part is there, photos whose bytes are not what was added."""
    runs = connection.execute(
        "SELECT number, (SELECT count(*) FROM run WHERE run.job_id = job.id), "
        "(SELECT count(*) FROM reading JOIN run ON run.id = run_id WHERE run.job_id = job.id) "
        "FROM job WHERE number LIKE 'S%'"
    )
    half = [f"half of {name}" for name, n, m in runs if (n, m) != (IMPORTED, 3 * IMPORTED)]
    for digest, data in connection.execute("SELECT sha256, data FROM blob"):
        if hashlib.sha256(data).hexdigest() != digest:
            half.append(f"photo {digest}")
    return half
