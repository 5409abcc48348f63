"""Reduce, compare and check many runs: throughput on one core, and against a plain loop.

``python benchmarks/pipeline.py`` prints the table and rewrites it in
``docs/benchmarks/pipeline.md``; ``--runs N`` sets the number of runs.  Everything is measured in
one process, one after the other, so that the ratios hold whatever else the machine does.
"""

from __future__ import annotations

import argparse
import os
import platform
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np

from portwright.core.bench import effective_area
from portwright.model.bench import Calibration, Metering
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement, Stage
from portwright.model.run import Reading, Run
from portwright.services.compare import choose, compare_groups
from portwright.services.findings import CheckedJob, check_contents, learn_repeatability
from portwright.services.reduce import reduce_runs
from portwright.units import Kind, read, to_si, typed

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "pipeline.md"
BEGIN, END = "<!-- pipeline: begin -->", "<!-- pipeline: end -->"
LIFTS = np.linspace(1.0, 12.0, 12)
RUNS_PER_JOB = 60
CALIBRATION = Calibration(
    "B",
    1,
    "2020-01-01",
    Metering.DIRECT,
    read("28 inH2O", Kind.PRESSURE),
    relative_uncertainty=0.01,
)
PRESSURE = to_si(28.0, "inH2O", Kind.PRESSURE)


def make_run(dice: np.random.Generator, number: int) -> Run:
    """An invented sweep with the noise of a well-run bench."""
    port, stage, repeat = number % 5, number // 15 % 4, number // 5 % 3
    size = 170.0 + 3.0 * port + 6.0 * stage
    flow = size * np.tanh(LIFTS / 8.0) * (1.0 + 0.003 * dice.standard_normal(LIFTS.size))
    flow *= 1.0 + 0.003 * dice.standard_normal()
    pressure = read("28.0", Kind.PRESSURE, "inH2O")
    readings = tuple(
        Reading(
            lift=typed(float(lift), "mm", Kind.LENGTH),
            flow=read(f"{q:.1f}", Kind.FLOW, "cfm"),
            test_pressure=pressure,
        )
        for lift, q in zip(LIFTS, flow, strict=True)
    )
    return Run(
        f"R{number}", "J", f"I{port + 1}", f"S{stage}", "B", repeat=repeat + 1,
        date="2026-01-02", readings=readings,
    )  # fmt: skip


def make_job(runs: list[Run], number: int) -> JobContents:
    """One job of ordinary size around some runs."""
    ports = sorted({r.port for r in runs})
    return JobContents(
        Job(f"J{number}"),
        ports=tuple(Port(p, Side.INTAKE) for p in ports),
        stages=tuple(Stage(s) for s in sorted({r.stage for r in runs})),
        measurements=tuple(
            Measurement(p, "valve head diameter", read("42 mm", Kind.LENGTH)) for p in ports
        ),
        runs=tuple(runs),
    )


def plain_loop(runs: list[Run]) -> None:
    """The same effective areas, reading by reading."""
    for run in runs:
        for reading in run.readings:
            if reading.flow is not None:
                effective_area(reading.flow.si, PRESSURE)


def compare_stages(checked: CheckedJob) -> int:
    """Compare every stage of every port with the one before."""
    done = 0
    for port in checked.contents.ports:
        stages = sorted({r.run.stage for r in checked.reduced if r.run.port == port.code})
        for before, after in pairwise(stages):
            sides = [(checked, choose(checked, None, port.code, s)) for s in (before, after)]
            compare_groups(sides[0], sides[1], PRESSURE)
            done += 1
    return done


def timed(work: Callable[[], object]) -> tuple[float, object]:
    """Processor seconds of this process for some work, and its result."""
    start = time.process_time()
    result = work()
    return time.process_time() - start, result


def main() -> None:
    """Measure and write the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--dry", action="store_true", help="print only")
    options = parser.parse_args()
    dice = np.random.default_rng(7)
    runs = [make_run(dice, i) for i in range(options.runs)]
    loop_s, _ = timed(lambda: plain_loop(runs))
    reduce_s, _ = timed(lambda: reduce_runs(runs, [CALIBRATION]))
    jobs = [
        make_job(runs[i : i + RUNS_PER_JOB], i // RUNS_PER_JOB)
        for i in range(0, len(runs), RUNS_PER_JOB)
    ]
    repeatability = learn_repeatability(reduce_runs(runs[:400], [CALIBRATION]))
    check_s, checked = timed(
        lambda: [check_contents(j, [CALIBRATION], {"B": repeatability}) for j in jobs]
    )
    compare_s, counts = timed(lambda: [compare_stages(c) for c in checked])  # type: ignore[attr-defined]
    compared = sum(counts)  # type: ignore[call-overload]
    rows = [
        ("plain loop, one reading at a time", len(runs) / loop_s, "runs/s", "1.0"),
        (
            "reduce, all readings at once",
            len(runs) / reduce_s,
            "runs/s",
            f"{loop_s / reduce_s:.1f}",
        ),
        ("reduce and check for faults", len(runs) / check_s, "runs/s", f"{loop_s / check_s:.2f}"),
        ("compare two stages", compared / compare_s, "comparisons/s", ""),
    ]
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    about = (
        f"{len(runs):,} runs of {LIFTS.size} lifts in jobs of {RUNS_PER_JOB}; processor time of "
        f"one process; {machine}."
    )
    lines = [
        about,
        "",
        "| work | per second | against the loop |",
        "| --- | ---: | ---: |",
        *(f"| {name} | {rate:,.0f} {unit} | {ratio} |" for name, rate, unit, ratio in rows),
    ]
    text = "\n".join(lines)
    print(text)
    if not options.dry:
        page = PAGE.read_text(encoding="utf-8")
        head, _, rest = page.partition(BEGIN)
        _, _, tail = rest.partition(END)
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
