"""How often a settled reading is right, on simulated lifts whose truth is known.

``python benchmarks/settling.py`` prints the table and rewrites it in ``docs/theory/settling.md``;
``--runs N`` sets the number of lifts, ``--dry`` only prints.  Every lift has a bench of its own:
motor, lags, noise, hunting, drift, leak and flow that separates are drawn anew.
"""

from __future__ import annotations

import argparse
import math
import os
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
SEED = 20260312
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


def one_lift(seed: int, rules: tuple[SettleRule, ...] = RULES) -> dict[str, Outcome]:
    """Turn the valve once, and let every rule take its reading."""
    dice = np.random.default_rng([SEED, seed])
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
    done: dict[str, Outcome] = {}
    for step in range(round(LIMIT * RATE)):
        seen = bench.step(1.0 / RATE)
        for name, watch in list(waiting.items()):
            watch.push(seen.time, seen.pressure, seen.flow)
            if step % LOOK == LOOK - 1:
                judged = watch.judge()
                if judged.may_be_taken:
                    done[name] = outcome(judged, kind, settled_area(bench))
                    del waiting[name]
        if not waiting:
            break
    return {r.name: done.get(r.name, Outcome(kind, taken=False)) for r in rules}


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


def study(runs: int, rules: tuple[SettleRule, ...] = RULES) -> list[Summary]:
    """All rules on so many lifts."""
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        every = list(pool.map(partial(one_lift, rules=rules), range(runs), chunksize=25))
    rows = []
    for rule in rules:
        outcomes = [lift[rule.name] for lift in every]
        rows += [summary(rule.name, k, [o for o in outcomes if o.kind == k]) for k in KINDS]
    return rows


def percent(value: float, digits: int = 2) -> str:
    return "–" if math.isnan(value) else f"{100.0 * value:.{digits}f} %"


def seconds(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1f} s"


def table(rows: list[Summary], runs: int) -> str:
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
    lines += ["", f"{runs} simulated lifts, {RATE:.0f} readings a second, seed {SEED}."]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5000)
    parser.add_argument("--dry", action="store_true")
    asked = parser.parse_args()
    text = table(study(asked.runs), asked.runs)
    print(text)
    if not asked.dry:
        page = PAGE.read_text(encoding="utf-8")
        before, _, rest = page.partition(BEGIN)
        after = rest.partition(END)[2]
        PAGE.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
