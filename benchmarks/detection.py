"""How often the checks on sweeps are right, by mistake and size, and how fast they are.

Run ``python -m benchmarks.detection`` for the tables on the screen, add ``--write`` to put them
into docs/theory/bad-runs.md. Seeds are fixed: the rates come out the same again, the times do not.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # times are per core

import argparse
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.detection_jobs import Job, job, swapped
from portwright.core.detection import SweepRecord, find, from_cfm28
from portwright.core.repeatability import estimate_repeatability
from portwright.errors import Finding

PAGE = Path(__file__).parents[1] / "docs" / "theory" / "bad-runs.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"

# Findings that come from comparing sweeps: the ones that can be wrong.
HISTORY = 40  # pairs of repeats in the file of a shop that has worked with it for a while
COMPARED = frozenset(
    (
        "lift-zero-offset",
        "leak",
        "constant-factor",
        "range-step",
        "odd-reading",
        "outlier-repeat",
        "repeats-disagree",
        "swapped-port",
        "swapped-side",
    )
)
MM, CFM, PERCENT = "mm", "cfm", "%"
SIZES: dict[str, tuple[str, tuple[float, ...]]] = {
    "lift-zero-offset": (MM, (0.05, 0.10, 0.15, 0.25)),
    "leak": (CFM, (0.7, 1.3, 2.0, 3.0)),
    "constant-factor": (PERCENT, (1.0, 1.5, 2.0, 3.0)),
    "range-step": (PERCENT, (1.0, 2.0, 3.0, 5.0)),
    "odd-reading": (PERCENT, (1.5, 2.0, 3.0, 5.0)),
}


def in_si(size: float, unit: str) -> float:
    """Size of a mistake in SI or as a fraction."""
    return from_cfm28(size) if unit == CFM else size * (1e-3 if unit == MM else 1e-2)


def compared(simulated: Job, *, history: bool = True) -> list[Finding]:
    """Findings of a job from comparison, with repeatability learned from it and its history."""
    earlier = simulated.history if history else ()
    known = estimate_repeatability([*simulated.repeat_groups(), *earlier])
    findings = find(simulated.records, known, learned_here=True)
    return [f for f in findings if f.code in COMPARED]


@dataclass(slots=True)
class Clean:
    """What was called faulty in sound jobs."""

    jobs: int = 0
    sweeps: int = 0
    jobs_with_alarm: int = 0
    alarms: Counter[str] = field(default_factory=Counter)


def clean_rate(
    jobs: int,
    seed: int,
    *,
    ports: int | None = None,
    repeats: int | None = None,
    stages: int | None = None,
    history: int = 0,
) -> Clean:
    """False alarms in jobs without a mistake."""
    rng = np.random.default_rng(seed)
    out = Clean()
    for _ in range(jobs):
        simulated = job(rng, ports=ports, repeats=repeats, stages=stages, history=history)
        found = compared(simulated)
        out.jobs += 1
        out.sweeps += len(simulated.records)
        out.jobs_with_alarm += bool(found)
        out.alarms.update(f.code for f in found)
    return out


def fault_rates(
    kind: str, size: float, repeats: int, *, jobs: int, seed: int, history: int = HISTORY
) -> tuple[Counter[str], Counter[str]]:
    """What was said about sweeps with a mistake of this size [SI], two in each job.

    First by a shop that knows this job only, then by one with a history on the bench.
    """
    rng = np.random.default_rng(seed)
    out: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
    for _ in range(jobs):
        simulated = job(rng, repeats=repeats, faults=[(kind, size)] * 2, history=history)
        for known, said in zip((False, True), out, strict=True):
            found = compared(simulated, history=known)
            said.update(
                _outcome(simulated.records, found, fault.run, kind) for fault in simulated.faults
            )
    return out


def swap_rate(side: bool, repeats: int, jobs: int, seed: int) -> Iterator[tuple[float, str]]:
    """Difference between the two ports at high lift, and what was said about the swapped sweep."""
    rng = np.random.default_rng(seed)
    for _ in range(jobs):
        simulated = swapped(rng, job(rng, repeats=repeats, ports=4, stages=1), side=side)
        for fault in simulated.faults:
            outcome = _outcome(simulated.records, compared(simulated), fault.run, fault.kind)
            yield abs(fault.size), outcome


def _outcome(records: Sequence[SweepRecord], found: Sequence[Finding], run: str, kind: str) -> str:
    """``right``, ``other cause``, ``pair`` (named together with a sound repeat) or ``missed``."""
    faulty = next(r for r in records if r.where.run == run)
    own = [f.code for f in found if f.where.run == run]
    if kind in own:
        return "right"
    if own:
        return "other cause"
    for f in found:
        if f.code == "repeats-disagree" and (f.where.port, f.where.stage) == (
            faulty.port,
            faulty.stage,
        ):
            return "pair"
    return "missed"


def throughput(sweeps: int, per_job: int) -> float:
    """Sweeps of 12 lifts checked per second of one core's time, this many in one call."""
    rng = np.random.default_rng(12)
    pool: list[SweepRecord] = []
    number = 0
    while len(pool) < max(2 * per_job, 1000):
        simulated = job(rng, ports=6, stages=2, repeats=3)
        if simulated.records[0].curve.lift.size != 12:
            continue
        number += 1
        pool += [replace(r, configuration=f"job {number}") for r in simulated.records]
    known = estimate_repeatability(job(rng, ports=6, stages=2, repeats=3).repeat_groups())
    done, start = 0, time.process_time()
    while done < sweeps:
        first = done % (len(pool) - per_job)
        part = pool[first : first + per_job]
        find(part, known)
        done += len(part)
    return done / (time.process_time() - start)


def _percent(count: int, of: int) -> str:
    return f"{100.0 * count / of:.0f} %" if of else "-"


def clean_table(jobs: int) -> list[str]:
    lines = [
        "| Clean jobs | jobs | sweeps | false alarms per sweep | jobs with one or more |",
        "|---|---|---|---|---|",
    ]
    shapes: list[tuple[str, dict[str, int]]] = [
        ("mixed: 1-4 repeats, 1-12 ports, 1-3 stages", {}),
        ("one sweep of everything", {"repeats": 1}),
        ("two repeats of everything", {"repeats": 2}),
        ("three repeats of everything", {"repeats": 3}),
        ("one port, three repeats, one stage", {"repeats": 3, "ports": 1, "stages": 1}),
        ("mixed, shop with history", {"history": HISTORY}),
    ]
    causes: Counter[str] = Counter()
    for number, (name, shape) in enumerate(shapes):
        rate = clean_rate(jobs, 100 + number, **shape)
        causes += rate.alarms
        alarms = sum(rate.alarms.values())
        lines.append(
            f"| {name} | {rate.jobs} | {rate.sweeps} | "
            f"{alarms} ({100 * alarms / rate.sweeps:.2f} %) | "
            f"{100 * rate.jobs_with_alarm / rate.jobs:.1f} % |"
        )
    said = ", ".join(f"{code} {count}" for code, count in causes.most_common())
    return [*lines, "", f"What the false alarms said, all rows together: {said or 'nothing'}."]


def fault_table(jobs: int) -> list[str]:
    lines = [
        (
            "| Mistake | size | repeats | sweeps | new shop: found | new shop: right cause | "
            "history: found | history: right cause | history: other cause | "
            "history: pair, cannot tell which |"
        ),
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind, (unit, sizes) in SIZES.items():
        for number, size in enumerate(sizes):
            for repeats in (1, 2, 3):
                seed = 1000 * repeats + number
                value = in_si(size, unit)
                new, old = fault_rates(kind, value, repeats, jobs=jobs, seed=seed)
                cells = [kind, f"{size:g} {unit}", str(repeats), str(old.total())]
                for said, outcomes in ((new, ("right",)), (old, ("right", "other cause", "pair"))):
                    total = said.total()
                    cells.append(_percent(total - said["missed"], total))
                    cells += [_percent(said[outcome], total) for outcome in outcomes]
                lines.append("| " + " | ".join(cells) + " |")
    return lines


def swap_table(jobs: int) -> list[str]:
    lines = [
        "| Swap | ports differ by | repeats | sweeps | right | other cause or pair | missed |",
        "|---|---|---|---|---|---|---|",
    ]
    for side in (True, False):
        for repeats in (2, 3):
            seen = list(swap_rate(side, repeats, jobs, 50 + repeats))
            for least, most in ((0.0, 0.03), (0.03, 10.0)):
                said = Counter(o for d, o in seen if least <= d < most)
                total = sum(said.values())
                if total < 10:
                    continue
                lines.append(
                    f"| {'side' if side else 'port'} | {'under' if most < 1 else 'over'} 3 % | "
                    f"{repeats} | {total} | {_percent(said['right'], total)} | "
                    f"{_percent(said['other cause'] + said['pair'], total)} | "
                    f"{_percent(said['missed'], total)} |"
                )
    return lines


def report(jobs: int, sweeps: int) -> str:
    """All tables as Markdown."""
    start = time.perf_counter()
    parts = [
        "### False alarms",
        "",
        *clean_table(5 * jobs),
        "",
        "### Mistakes in one sweep",
        "",
        *fault_table(jobs),
        "",
        "### Swapped sweeps",
        "",
        *swap_table(jobs),
        "",
        "### Speed",
        "",
        "| sweeps in one call | sweeps checked per second, one core |",
        "|---|---|",
    ]
    for per_job in (12, 48, 400):
        rate = throughput(sweeps, per_job)
        parts.append(f"| {per_job} | {rate:.0f} |")
    print(f"took {time.perf_counter() - start:.0f} s")
    return "\n".join(parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=150, help="simulated jobs per table row")
    parser.add_argument("--sweeps", type=int, default=10_000, help="sweeps for the speed figures")
    parser.add_argument("--write", action="store_true", help=f"put the tables into {PAGE.name}")
    options = parser.parse_args()
    tables = report(options.jobs, options.sweeps)
    print(tables)
    if options.write:
        text = PAGE.read_text(encoding="utf-8")
        head, rest = text.split(BEGIN)
        tail = rest.split(END)[1]
        PAGE.write_text(f"{head}{BEGIN}\n{tables}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
