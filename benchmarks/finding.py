"""How fast a head is ranked and a word found among 1,000 to 100,000 runs.

``python -m benchmarks.finding`` prints the tables and rewrites them in
``docs/benchmarks/finding.md``; ``--runs N [N ...]`` chooses the sizes, ``--dry`` only prints;
``--kept N`` makes a shop of that size with what is kept ready but without its sweeps;
``--folder`` keeps the shops, so that the next measurement need not fill them again.  The shops are
those of ``benchmarks/archive.py`` with a valve to each port.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import math
import os
import platform
import random
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from unittest import mock

import numpy as np

from benchmarks.archive import RUNS_PER_JOB, SEED, job, typed
from portwright.archive.archive import Archive
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Casting
from portwright.model.job import Measurement
from portwright.services import overviews
from portwright.services.classes import HeadClass
from portwright.services.display import Display
from portwright.services.find import find
from portwright.services.findings import CheckedJob, check_contents, learn_repeatability
from portwright.services.head_facts import PORT_LOCATIONS
from portwright.services.jobs import Wanted, search
from portwright.services.rank import rank
from portwright.services.reduce import reduce_runs

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "finding.md"
BEGIN, END = "<!-- finding: begin -->", "<!-- finding: end -->"
SIZES = (1_000, 10_000, 100_000)
ROUNDS = 100
JOBS_PER_SAVE = 20
QUESTIONS = (
    "44 mm intake over 150 at 11",
    "customer 17",
    "C-42 intake over 200",
    "98 RON throttles since 2020",
)


def with_valves(contents: JobContents) -> JobContents:
    """The job with nothing measured but the valve size of each port."""
    dice = random.Random(contents.job.number)  # noqa: S311 - repeatable, not secret
    sizes = [typed(dice.choice((42.0, 43.0, 44.0, 44.5)), 2, "mm", 1e-3) for _ in contents.ports]
    valves = tuple(
        Measurement(p.code, "valve head diameter", size, stage="S0")
        for p, size in zip(contents.ports, sizes, strict=True)
    )
    return replace(contents, measurements=valves)


def castings_of(jobs: Sequence[JobContents]) -> tuple[Casting, ...]:
    """Castings of these jobs; three of four say how their valves stand and where the ports are."""
    found = []
    for number in sorted({c.job.casting for c in jobs}):
        dice = random.Random(number)  # noqa: S311
        angle = typed(dice.uniform(0.0, 25.0), 1, "deg", math.pi / 180.0)
        place = dice.choice(PORT_LOCATIONS)
        said = dice.random() < 0.75
        found.append(
            Casting(number, intake_valve_angle=angle, intake_port_location=place)
            if said
            else Casting(number)
        )
    return tuple(found)


def fill(archive: Archive, runs: int) -> list[str]:
    """Store that many runs and give the numbers of their jobs."""
    count = -(-runs // RUNS_PER_JOB)
    for start in range(0, count, JOBS_PER_SAVE):
        numbers = range(start, min(start + JOBS_PER_SAVE, count))
        made = tuple(with_valves(job(n, RUNS_PER_JOB)) for n in numbers)
        archive.save(ShopContents(castings=castings_of(made), jobs=made))
    return [f"B-{n:06d}" for n in range(count)]


def unchecked(contents: JobContents, calibrations, repeatability) -> CheckedJob:  # type: ignore[no-untyped-def]
    """As the check of a job, without the search for faulty sweeps."""
    reduced = reduce_runs(contents.runs, calibrations)
    return CheckedJob(contents, tuple(reduced), repeatability, ())


def timed(step: Callable[[int], object], rounds: int = ROUNDS) -> tuple[float, float, float]:
    """Median and 99th percentile of a step, and the median of its processor time. [ms]"""
    step(0)
    times, work = [], []
    for number in range(rounds):
        start, busy = time.perf_counter(), time.process_time()
        step(number)
        times.append(1e3 * (time.perf_counter() - start))
        work.append(1e3 * (time.process_time() - busy))
    p50, p99 = np.percentile(times, [50, 99])
    return float(p50), float(p99), float(np.median(work))


def fill_kept(archive: Archive, runs: int) -> list[str]:
    """As :func:`fill` without the sweeps: jobs, and what would be kept ready of them."""
    names = fill(archive, RUNS_PER_JOB)
    calibrations = archive.calibrations()
    with mock.patch.object(overviews, "check_contents", unchecked):
        rows = overviews.port_overviews(archive.job(names[0]), calibrations, {})
    dice = np.random.default_rng(SEED)
    count = -(-runs // RUNS_PER_JOB)
    for start in range(1, count, JOBS_PER_SAVE):
        numbers = range(start, min(start + JOBS_PER_SAVE, count))
        made = [with_valves(replace(job(n, 0), runs=())) for n in numbers]
        archive.save(ShopContents(jobs=tuple(made)))
        archive.keep_overviews(
            (
                c.job.number,
                [
                    replace(
                        row,
                        job=c.job.number,
                        valve_diameter=float(dice.choice((0.042, 0.043, 0.044, 0.0445))),
                        areas=row.areas * dice.uniform(0.9, 1.1),
                        valve_angle=float(dice.uniform(0.0, 0.4)),
                        port_location=str(dice.choice(PORT_LOCATIONS)),
                    )
                    for row in rows
                ],
                overviews.search_lines(c),
            )
            for c in made
        )
    archive.keep_stamp(archive.changed_jobs(overviews.METHOD)[0])
    return [f"B-{n:06d}" for n in range(count)]


def job_costs(archive: Archive, names: list[str]) -> str:
    """Processor time to look a job over for faulty sweeps, and to keep its overview. [ms]"""
    calibrations = archive.calibrations()
    figures = {
        b: learn_repeatability(reduce_runs(archive.runs_of_bench(b, 400), calibrations))
        for b in ("B1", "B2")
    }
    jobs = [archive.job(name) for name in names[:10]]
    start = time.process_time()
    for contents in jobs:
        check_contents(contents, calibrations, figures)
    checked = time.process_time()
    with mock.patch.object(overviews, "check_contents", unchecked):
        archive.keep_overviews(
            (
                c.job.number,
                overviews.port_overviews(c, calibrations, figures),
                overviews.search_lines(c),
            )
            for c in jobs
        )
    kept = time.process_time()
    return f"{1e3 * (checked - start) / len(jobs):.0f} + {1e3 * (kept - checked) / len(jobs):.0f}"


def plans(archive: Archive) -> Iterator[str]:
    """What SQLite says it does for each question."""
    ranked = (
        "SELECT job.number, areas FROM port_overview JOIN job ON job.id = job_id "
        "WHERE side = 'intake' AND place IN ('head last', 'recorded') AND valve_count = 1 "
        "AND valve_diameter BETWEEN 0.0419 AND 0.0441"
    )
    kind = (
        "SELECT job.number, areas FROM port_overview JOIN job ON job.id = job_id "
        "WHERE side = 'intake' AND place IN ('head last', 'recorded') "
        "AND valve_angle BETWEEN 0.08 AND 0.36 AND port_location = 'down draft'"
    )
    numbers = (
        "SELECT id, job_id, place, valve_diameter, top_lift, top_area, areas FROM port_overview "
        "WHERE job_id IN (1, 2, 3) AND side || '' = 'intake' "
        "AND place || '' IN ('first', 'between', 'last', 'recorded') "
        "AND valve_diameter BETWEEN 0.04375 AND 0.04425"
    )
    words = (
        "SELECT id, job_id FROM search_line WHERE id IN "
        "(SELECT rowid FROM search_index WHERE search_index MATCH '\"customer 17\"')"
    )
    newest = "SELECT id, opened FROM job ORDER BY opened DESC, id DESC"
    history = "SELECT id FROM run WHERE bench = 'B1' ORDER BY date DESC, id DESC LIMIT 400"
    unread = (
        "SELECT run_id, max(id), count(*) FROM reading WHERE run_id IN (1, 2, 3) GROUP BY run_id"
    )
    asked = {
        "rank": ranked,
        "rank, by valve angle and port location": kind,
        "find, ports of the newest jobs": numbers,
        "find, words": words,
        "find, newest first": newest,
        "history, newest runs": history,
        "history, whether a run was read before": unread,
    }
    with contextlib.closing(sqlite3.connect(archive.path)) as connection:
        for name, query in asked.items():
            yield f"    {name}:"
            for row in connection.execute(f"EXPLAIN QUERY PLAN {query}"):
                yield f"        {row[3]}"


def made(folder: Path, runs: int, *, kept_only: bool) -> tuple[Archive, list[str]]:
    """The shop of that size with its job numbers; one that lies there from before is taken."""
    path = folder / f"{runs}{'-kept' if kept_only else ''}.shop"
    if path.exists():
        return Archive.open(path), [f"B-{n:06d}" for n in range(-(-runs // RUNS_PER_JOB))]
    archive = Archive.create(path)
    if kept_only:
        return archive, fill_kept(archive, runs)
    names = fill(archive, runs)
    with mock.patch.object(overviews, "check_contents", unchecked):
        overviews.refresh(archive)
    return archive, names


def cold(path: Path) -> str:
    """Processor time of the first history after the shop was opened. [ms]"""
    times = []
    for _ in range(5):
        with Archive.open(path) as archive:
            archive.benches()
            start = time.process_time()
            archive.runs_of_bench("B1", 400)
            times.append(1e3 * (time.process_time() - start))
    return f"{np.median(times):.0f}"


def measure(folder: Path, runs: int, *, kept_only: bool) -> tuple[str, list[str]]:
    """One line of the table, and the query plans."""
    dice = random.Random(SEED)  # noqa: S311
    archive, names = made(folder, runs, kept_only=kept_only)
    with archive:
        chosen = HeadClass(valves=1, valve_from="42 mm", valve_to="44 mm")
        whole = HeadClass(valves=1)
        kind = HeadClass(angle_from="5 deg", angle_to="20 deg", location="down draft")
        display = Display()
        for name in names[:2]:  # how the benches read against each other is learned once
            rank(archive, name, whole)
        # as the program does once it has started
        gc.collect()
        gc.freeze()
        steps: list[Callable[[int], object]] = [
            lambda _: rank(archive, dice.choice(names), chosen),
            lambda _: rank(archive, dice.choice(names), whole),
            lambda _: rank(archive, dice.choice(names), kind),
            lambda n: find(archive, QUESTIONS[n % len(QUESTIONS)], display),
            lambda n: search(archive, Wanted(words=f"customer {n}")),
            lambda _: archive.runs_of_bench("B1", 400),
        ]
        shown = []
        for step in steps[: -1 if kept_only else None]:
            p50, p99, work = timed(step)
            shown.append(f"{p50:.0f} / {p99:.0f} ({work:.0f})")
        gc.unfreeze()
        shown += ["–"] * 3 if kept_only else [cold(archive.path), job_costs(archive, names)]
        plan = list(plans(archive))
        size = archive.path.stat().st_size / 1e6
    name = f"{runs:,}" + ("*" if kept_only else "")
    return f"| {name} | {' | '.join(shown)} | {size:.0f} |", plan


def main() -> None:
    """Measure every size and put the table into the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, nargs="+", default=SIZES)
    parser.add_argument("--kept", type=int, nargs="*", default=())
    parser.add_argument("--folder", type=Path, help="keep the shops here, or take those there")
    parser.add_argument("--dry", action="store_true")
    asked = parser.parse_args()
    heads = [
        *("runs", "rank, one size", "rank, all", "rank, one kind", "find", "words on job sheets"),
        *("400 runs of a bench", "the first time", "check + keep a job", "size, MB"),
    ]
    lines = [f"| {' | '.join(heads)} |", "|---:" * len(heads) + "|"]
    plan: list[str] = []
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.folder or Path(scratch)
        for runs in sorted({*asked.runs, *asked.kept}):
            line, plan = measure(folder, runs, kept_only=runs in asked.kept)
            lines.append(line)
            print(line, flush=True)
    load = ""
    with contextlib.suppress(AttributeError, OSError):
        load = f" Load at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors."
    lines += [
        "",
        (
            "Milliseconds, median / 99th percentile (processor time, median). Python "
            f"{platform.python_version()}, SQLite {sqlite3.sqlite_version}.{load}"
        ),
        "",
        "What SQLite does at the largest size:",
        "",
        *plan,
        "",
    ]
    print("\n".join(lines))
    if not asked.dry:
        before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
        after = rest.partition(END)[2]
        PAGE.write_text(f"{before}{BEGIN}\n" + "\n".join(lines) + f"{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
