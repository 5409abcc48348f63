"""Faults survived: each tried many times, counting what was acknowledged and what was lost.

``python -m benchmarks.faults`` prints the table and rewrites it in ``docs/benchmarks/faults.md``;
``--kills``, ``--cuts`` and ``--others`` choose how often, ``--dry`` only prints.
"""

from __future__ import annotations

import argparse
import platform
import random
import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from pathlib import Path

from benchmarks import fault_copies as copies
from benchmarks import fault_trials as trials
from benchmarks.fault_trials import Outcome
from benchmarks.pages import BENCHMARKS, processors, put, system

SEED = 20260210


def study(folder: Path, kills: int, cuts: int, others: int) -> dict[str, Outcome]:
    """Every fault, so many times each."""
    dice = random.Random(SEED)  # noqa: S311 - repeatable, not secret
    plan: dict[str, Callable[[Path], Outcome]] = {
        "program killed (kill -9) while writing": lambda f: trials.killed(f, kills, dice),
        "program killed while backing up": lambda f: copies.backing_up(f, kills // 5, dice),
        "program killed while restoring": lambda f: copies.restoring(f, kills // 5, dice),
        "program killed while upgrading": lambda f: copies.upgrading(f, kills // 5, dice),
        "power cut, unsynchronised writes dropped or torn": (
            lambda f: trials.power_cuts(f, cuts, dice)
        ),
        "disk full": lambda f: trials.refusing_disk(f, others, dice, trials.FULL),
        "disk refuses, as one turned read-only": (
            lambda f: trials.refusing_disk(f, others, dice, trials.BROKEN)
        ),
        "file cut off": lambda f: trials.damaged(f, others, dice, trials.cut_off(dice)),
        "one bit flipped": lambda f: trials.damaged(f, others, dice, trials.flipped(dice, 1)),
        "1000 bits flipped": lambda f: trials.damaged(f, others, dice, trials.flipped(dice, 1000)),
        "clock set back": lambda f: trials.clock_set_back(f, others, dice),
        "two programs on one file": lambda f: trials.programs_together(
            f, max(2, others // 10), dice
        ),
    }
    found = {}
    for number, (name, trial) in enumerate(plan.items()):
        place = folder / str(number)
        place.mkdir()
        found[name] = trial(place)
        print(row(name, found[name]), flush=True)
    return found


def row(name: str, outcome: Outcome) -> str:
    """A line of the table."""
    noticed = "" if outcome.noticed is None else f"{outcome.noticed}"
    worst = 1000 * max(outcome.recovery)
    middle = 1000 * statistics.median(outcome.recovery)
    return (
        f"| {name} | {outcome.tried:,} | {outcome.acknowledged:,} | {len(outcome.lost)} | "
        f"{middle:.0f} / {worst:.0f} | {noticed} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--cuts", type=int, default=1000)
    parser.add_argument("--others", type=int, default=200)
    parser.add_argument("--dry", action="store_true")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = study(Path(folder), chosen.kills, chosen.cuts, chosen.others)
        careless = Path(folder) / "careless"
        careless.mkdir()
        dice = random.Random(SEED)  # noqa: S311 - repeatable, not secret
        control = trials.power_cuts(careless, 100, dice, sync="OFF")
    for name, outcome in found.items():
        for what in outcome.lost[:10]:
            print(f"LOST {name}: {what}")
    lines = [
        "| fault | times tried | acknowledged writes | lost | time to recover, ms | noticed |",
        "|---|---:|---:|---:|---:|---:|",
        *[row(name, outcome) for name, outcome in found.items()],
        "",
        (
            "Time to recover: median / longest. The same power cuts on a file that does not wait "
            f"for the disk (`synchronous=OFF`, on purpose) lose or break {len(control.lost)} "
            f"things over {control.tried} cuts: the harness does see a loss. Measured on "
            f"{processors()}, Python {platform.python_version()}, "
            f"SQLite {sqlite3.sqlite_version}, {system()}."
        ),
    ]
    table = "\n".join(lines)
    print(table)
    if not chosen.dry:
        put(BENCHMARKS / "faults.md", "faults", table)


if __name__ == "__main__":
    main()
