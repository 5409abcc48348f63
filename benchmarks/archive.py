"""How the shop file grows: time to open, list and save jobs with 100 to 100,000 runs stored.

``python benchmarks/archive.py`` prints the table and rewrites it in ``docs/benchmarks/archive.md``;
``--runs N [N ...]`` chooses the sizes, ``--dry`` only prints.  The data are invented: ordinary jobs
of up to 60 runs with 12 lifts and eight values to a reading, written through the same
``Archive.save`` that an import uses.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import platform
import random
import sqlite3
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from portwright.archive.archive import Archive
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Head, Port, Side
from portwright.model.job import Job, Measurement, Stage
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading, Run

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "archive.md"
BEGIN, END = "<!-- archive: begin -->", "<!-- archive: end -->"
SIZES = (100, 1_000, 10_000, 100_000)
RUNS_PER_JOB = 60
LIFTS = 12
STAGES = 5
REPEATS = 2
JOBS_PER_SAVE = 20  # a bulk load needs not wait for the disk after every job
SEED = 20260210


def typed(value: float, digits: int, unit: str, factor: float, offset: float = 0.0) -> AsTyped:
    """A value as the bench shows it."""
    text = f"{value:.{digits}f}"
    return AsTyped(text, unit, float(text) * factor + offset)


def reading(dice: random.Random, lift: int, size: float) -> Reading:
    """One row of an invented sweep."""
    flow = 280.0 * size * math.tanh(lift / 7.0) * dice.gauss(1.0, 0.005)
    return Reading(
        lift=typed(lift, 0, "mm", 1e-3),
        flow=typed(flow, 1, "cfm", 4.719474432e-4),
        test_pressure=typed(28.0, 1, "inH2O", 249.08891),
        air_temperature=typed(dice.uniform(15, 25), 1, "degC", 1.0, 273.15),
        barometer=typed(dice.uniform(99, 103), 1, "kPa", 1e3),
        humidity=typed(dice.uniform(30, 70), 0, "percent", 1e-2),
        leak=typed(dice.uniform(0.2, 0.8), 1, "cfm", 4.719474432e-4),
        scatter=typed(dice.uniform(0.3, 1.5), 1, "percent", 1e-2),
    )


def job(number: int, runs: int) -> JobContents:
    """An ordinary job: six ports of each side at most, five stages, two repeats."""
    dice = random.Random(SEED + number)  # noqa: S311 - repeatable, not secret
    name = f"B-{number:06d}"
    opened = f"{2009 + number % 17}-{1 + number % 12:02d}-{1 + number % 28:02d}"
    ports = [Port(f"I{n}", Side.INTAKE, "L", n) for n in range(1, 7)]
    ports += [Port(f"E{n}", Side.EXHAUST, "L", n) for n in range(1, 7)]
    stages = [Stage(f"S{n}", f"cut {n}", opened) for n in range(STAGES)]
    sweeps = []
    for index in range(runs):
        port = ports[index // (STAGES * REPEATS) % len(ports)]
        size = (1.0 if port.side is Side.INTAKE else 0.75) * dice.uniform(0.9, 1.1)
        sweeps.append(
            Run(
                f"R{number * RUNS_PER_JOB + index}",
                name,
                port.code,
                stages[index // REPEATS % STAGES].code,
                f"B{1 + number % 2}",
                repeat=1 + index % REPEATS,
                date=opened,
                time=f"{8 + index // 8:02d}:{index % 8 * 7:02d}",
                readings=tuple(reading(dice, lift, size) for lift in range(1, LIFTS + 1)),
            )
        )
    measured = [
        Measurement(port.code, quantity, typed(dice.uniform(30, 50), 2, "mm", 1e-3), stage="S0")
        for port in ports
        for quantity in ("throat diameter", "valve diameter", "seat width", "stem diameter")
    ]
    return JobContents(
        job=Job(
            name,
            opened=opened,
            customer=f"Customer {number % 400}",
            casting=f"C-{number % 90}",
            facts={"fuel": "98 RON", "induction": "throttles", "bore": f"{dice.uniform(80, 100)}"},
        ),
        heads=(Head("L", f"C-{number % 90}"),),
        ports=tuple(ports),
        stages=tuple(stages),
        measurements=tuple(measured),
        runs=tuple(sweeps),
    )


def fill(archive: Archive, runs: int) -> list[str]:
    """Store that many runs and give the numbers of their jobs."""
    sizes = [min(RUNS_PER_JOB, runs - start) for start in range(0, runs, RUNS_PER_JOB)]
    for start in range(0, len(sizes), JOBS_PER_SAVE):
        part = enumerate(sizes[start : start + JOBS_PER_SAVE], start)
        archive.save(ShopContents(jobs=tuple(job(number, size) for number, size in part)))
    return [f"B-{number:06d}" for number, size in enumerate(sizes) if size == RUNS_PER_JOB]


@dataclass
class Timing:
    """Times of one kind of step. [s]"""

    times: list[float] = field(default_factory=list)
    work: list[float] = field(default_factory=list)

    def take(self, step: Callable[[], Any]) -> Any:
        """Time one step, on the clock and on the processor."""
        start, work = time.perf_counter(), time.process_time()
        outcome = step()
        self.times.append(time.perf_counter() - start)
        self.work.append(time.process_time() - work)
        return outcome

    @property
    def processor(self) -> float:
        """Median processor time, which other programs on the machine hardly change. [s]"""
        return sorted(self.work)[len(self.work) // 2]

    def __str__(self) -> str:
        ordered = sorted(self.times)
        middle, high = (ordered[math.ceil(share * len(ordered)) - 1] for share in (0.5, 0.99))
        return f"{middle * 1e3:.3g} / {high * 1e3:.3g}"


def plain_rows(connection: sqlite3.Connection, number: str) -> int:
    """The least any program could do: fetch a job's readings and decode them."""
    query = (
        "SELECT reading.* FROM reading JOIN run ON run.id = reading.run_id "
        "JOIN job ON job.id = run.job_id WHERE job.number = ?"
    )
    return sum(len(json.loads(row[-4])) for row in connection.execute(query, [number]))


def measure(runs: int, folder: Path) -> str:
    """One row of the table."""
    path = folder / f"{runs}.shop"
    start = time.perf_counter()
    with Archive.create(path) as archive:
        numbers = fill(archive, runs)
    loading = time.perf_counter() - start
    size = path.stat().st_size
    dice = random.Random(SEED)  # noqa: S311
    opening, plain, listing, search = Timing(), Timing(), Timing(), Timing()
    saving, entering, first = Timing(), Timing(), Timing()
    with contextlib.closing(sqlite3.connect(path)) as raw:
        for _ in range(100):
            plain.take(lambda: plain_rows(raw, dice.choice(numbers)))
    for _ in range(10):
        first.take(lambda: open_both(path, dice.choice(numbers)))
    with Archive.open(path) as archive:
        for _ in range(300):
            opening.take(lambda: archive.job(dice.choice(numbers)))
        for number in range(30):
            listing.take(lambda: archive.job_list(100))
            search.take(lambda: archive.job_list(100, ["customer 7", "c-"]))
            new = job(900_000 + number, RUNS_PER_JOB)
            saving.take(partial(archive.save, ShopContents(jobs=(new,))))
            sweep = replace(new.runs[0], code=f"X{number}", job=numbers[0], readings=())
            archive.add_run(sweep)
            for lift in range(1, LIFTS + 1):
                one = reading(dice, lift, 1.0)
                entering.take(partial(archive.add_reading, numbers[0], sweep.code, one))
    ratio = opening.processor / plain.processor
    busy = os.getloadavg()[0] if hasattr(os, "getloadavg") else math.nan
    cells = [
        f"{runs:,}",
        f"{busy:.1f}",
        f"{opening}",
        f"{opening.processor * 1e3:.3g}",
        f"{ratio:.1f}",
        f"{first}",
        f"{listing}",
        f"{search}",
        f"{saving}",
        f"{entering}",
        f"{size / 1e6:.3g}",
        f"{runs / loading:.0f}",
    ]
    return "| " + " | ".join(cells) + " |"


def open_both(path: Path, number: str) -> None:
    """Open the file and a job in it, as a command does."""
    with Archive.open(path) as archive:
        archive.job(number)


HEAD = """\
| runs stored | load | open a job | of it processor | to plain rows | open file and job \
| list 100 jobs | search two words | save a job | enter a reading | size, MB | runs/s loaded |
|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|"""


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, nargs="+", default=SIZES)
    parser.add_argument("--dry", action="store_true", help="only print")
    options = parser.parse_args(arguments)
    lines = HEAD.splitlines()
    with tempfile.TemporaryDirectory() as folder:
        for runs in options.runs:
            lines.append(measure(runs, Path(folder)))
            print(lines[-1], flush=True)
    machine = (
        f"Times in milliseconds, median / 99th percentile, on {os.cpu_count()} processors that "
        "other programs used as well; load is how many wanted one when the row was measured. "
        f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, "
        f"{platform.system()} {platform.machine()}."
    )
    table = "\n".join([*lines, "", machine])
    print(table)
    if not options.dry:
        page = PAGE.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN)
        after = rest.split(END)[1]
        PAGE.write_text(f"{before}{BEGIN}\n{table}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
