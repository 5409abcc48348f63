"""How often a settled reading is right, on simulated lifts whose truth is known.

``python benchmarks/settling.py`` prints the table and rewrites it in ``docs/theory/settling.md``;
``--runs N`` sets the number of lifts, ``--dry`` only prints.  Every lift has a bench of its own:
motor, lags, noise, hunting, drift, leak and flow that separates are drawn anew.  Once a rule has
taken its reading the valve is opened by another millimetre, and what it learned at the lift before
may serve it there.

What is left to choose in the rules is chosen on the lifts of ``CHOOSING`` (``--choosing``, which
never writes the page); reported are the lifts of ``REPORTING``, which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import copy
import math
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.practice_bench import (
    Habits,
    PracticeBench,
    drawn_habits,
    settled_area,
)
from portwright.core.settling.rule import FIXED_TEN, FIXED_THREE, STANDARD, STRICT, SettleRule
from portwright.core.settling.watch import Judgement, Watch

PAGE = Path(__file__).resolve().parents[1] / "docs" / "theory" / "settling.md"
BEGIN, END = "<!-- settling: begin -->", "<!-- settling: end -->"
CHOOSING, REPORTING = 20260312, 20261128  # seeds of the lifts rules are chosen and reported on
RATE = 20.0
LOOK = 5  # readings from one judgement to the next
BEFORE, LIMIT = 12.0, 45.0  # time at the lift before, and given up after [s]
HALF = 1.96  # standard uncertainties in half a 95 % interval
WRONG = 0.005  # a settled mean further off than this is called falsely settled [-]
HEADINGS = (
    "| Rule | Lifts with | Number | Taken | Bias of the mean | Its spread | Falsely settled | "
    "95 % interval holds | half of it, median | Waited, median / 9 in 10 | Against a fixed 10 s |"
)
RULES = (STANDARD, STRICT, FIXED_TEN, FIXED_THREE)
KINDS = ("steady bench", "hunting that dies away", "hunting that goes on", "flow that separates")
NEXT = ", next lift"
NEXT_KINDS = (f"{KINDS[0]}{NEXT}", f"{KINDS[3]}{NEXT}")


@dataclass(frozen=True)
class Outcome:
    """What one rule did at one lift."""

    kind: str
    taken: bool
    waited: float = math.nan
    error: float = math.nan
    stated: float = math.nan
    unsteady: bool = False


def kind_of(habits: Habits) -> str:
    if habits.flutter > 0.0:
        return KINDS[3]
    if habits.hunting > 0.0:
        return KINDS[2] if math.isinf(habits.hunting_fades) else KINDS[1]
    return KINDS[0]


def outcome(judged: Judgement, kind: str, truth: float) -> Outcome:
    mean = judged.area
    if mean is None:
        raise RuntimeError("taken without a mean")
    area = math.exp(mean.value) * math.sqrt(REFERENCE_DENSITY / 2.0)
    return Outcome(
        kind,
        True,
        judged.waited,
        area / truth - 1.0,
        mean.error,
        judged.unsteady,
    )


def one_lift(
    seed: int, rules: tuple[SettleRule, ...] = RULES, lifts: int = REPORTING
) -> dict[str, list[Outcome]]:
    """Turn the valve, let every rule take its reading, and turn it once more for each."""
    dice = np.random.default_rng([lifts, seed])
    habits = drawn_habits(dice)
    bench = PracticeBench(habits, dice)
    bench.switch(on=True)
    lift = float(dice.uniform(1e-3, 12e-3))
    bench.put_lift(lift)
    for _ in range(round(BEFORE * RATE)):
        bench.step(1.0 / RATE)
    bench.put_lift(lift + 1e-3)
    kind = kind_of(habits)
    waiting = {r.name: Watch(r, bench.time) for r in rules}
    done: dict[str, list[Outcome]] = {r.name: [] for r in rules}
    for name, judged in readings(bench, waiting):
        done[name].append(outcome(judged, kind, settled_area(bench)))
        if f"{kind}{NEXT}" in NEXT_KINDS:
            done[name].append(next_lift(bench, waiting[name], lift + 2e-3, f"{kind}{NEXT}"))
    return {name: found or [Outcome(kind, taken=False)] for name, found in done.items()}


def readings(bench: PracticeBench, watches: dict[str, Watch]) -> Iterator[tuple[str, Judgement]]:
    """Let time pass until every rule has taken its reading or waited too long."""
    waiting = dict(watches)
    for step in range(round(LIMIT * RATE)):
        seen = bench.step(1.0 / RATE)
        for name, watch in list(waiting.items()):
            watch.push(seen.time, seen.pressure, seen.flow)
            if step % LOOK == LOOK - 1 and (judged := watch.judge()).may_be_taken:
                del waiting[name]
                yield name, judged
        if not waiting:
            return


def next_lift(bench: PracticeBench, watch: Watch, lift: float, kind: str) -> Outcome:
    """Open the valve further as soon as the reading is taken."""
    mine = copy.deepcopy(bench)
    mine.put_lift(lift)
    watch.restart(mine.time)
    for _, judged in readings(mine, {"": watch}):
        return outcome(judged, kind, settled_area(mine))
    return Outcome(kind, taken=False)


@dataclass(frozen=True)
class Summary:
    """One row of the table."""

    rule: str
    kind: str
    lifts: int
    taken: float
    bias: float
    deviation: float
    false: float
    covered: float
    half: float
    waited: float
    late: float


def summary(rule: str, kind: str, outcomes: list[Outcome]) -> Summary:
    """Figures of one rule on one kind of lift."""
    taken = [o for o in outcomes if o.taken]
    if not taken:
        nan = math.nan
        return Summary(rule, kind, len(outcomes), 0.0, nan, nan, 0.0, nan, nan, nan, nan)
    error = np.array([o.error for o in taken])
    inside = [abs(o.error) <= HALF * o.stated for o in taken]
    hunts = kind == KINDS[2]
    false = [not o.unsteady and (hunts or abs(o.error) > WRONG) for o in taken]
    waited = np.array([o.waited for o in taken])
    return Summary(
        rule,
        kind,
        len(outcomes),
        len(taken) / len(outcomes),
        float(error.mean()),
        float(error.std()),
        sum(false) / len(outcomes),
        float(np.mean(inside)),
        HALF * float(np.median([o.stated for o in taken])),
        float(np.median(waited)),
        float(np.percentile(waited, 90)),
    )


def study(
    runs: int, rules: tuple[SettleRule, ...] = RULES, lifts: int = REPORTING
) -> list[Summary]:
    """All rules on so many lifts."""
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        work = partial(one_lift, rules=rules, lifts=lifts)
        every = list(pool.map(work, range(runs), chunksize=25))
    rows = []
    for rule in rules:
        outcomes = [o for lift in every for o in lift[rule.name]]
        kinds = KINDS if rule.fixed_wait > 0.0 else (*KINDS, *NEXT_KINDS)
        rows += [summary(rule.name, k, [o for o in outcomes if o.kind == k]) for k in kinds]
    return rows


def percent(value: float, digits: int = 2) -> str:
    return "–" if math.isnan(value) else f"{100.0 * value:.{digits}f} %"


def seconds(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1f} s"


def table(rows: list[Summary], runs: int, lifts: int) -> str:
    """As it stands in the page."""
    lines = [
        HEADINGS,
        "|---" * 11 + "|",
    ]
    for r in rows:
        added = "–" if math.isnan(r.waited) else f"{r.waited - 10.0:+.1f} s"
        covered = percent(r.covered, 0)
        lines.append(
            f"| {r.rule} | {r.kind} | {r.lifts} | {percent(r.taken, 0)} | {percent(r.bias)} | "
            f"{percent(r.deviation)} | {percent(r.false)} | {covered} | ±{percent(r.half)} | "
            f"{seconds(r.waited)} / {seconds(r.late)} | {added} |"
        )
    lines += ["", f"{runs} simulated lifts, {RATE:.0f} readings a second, seed {lifts}."]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5000)
    parser.add_argument("--dry", action="store_true")
    parser.add_argument("--choosing", action="store_true")
    asked = parser.parse_args()
    lifts = CHOOSING if asked.choosing else REPORTING
    text = table(study(asked.runs, lifts=lifts), asked.runs, lifts)
    print(text)
    if not (asked.dry or asked.choosing):
        page = PAGE.read_text(encoding="utf-8")
        before, _, rest = page.partition(BEGIN)
        after = rest.partition(END)[2]
        PAGE.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
