"""How often the verdicts are right, on simulated shops whose truth is known.

``python benchmarks/verdicts.py`` prints the tables and rewrites them in
``docs/theory/uncertainty.md``; ``--shops N`` sets the number of shops, ``--dry`` only prints.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from portwright.core.comparison import Comparison, Sweep, Verdict, compare
from portwright.core.curve import FlowCurve, make_curve
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability, estimate_repeatability

PAGE = Path(__file__).resolve().parents[1] / "docs" / "theory" / "uncertainty.md"
BEGIN, END = "<!-- verdicts: begin -->", "<!-- verdicts: end -->"
SEED = 20260211
LIFT = np.arange(1.0, 14.0) * 1e-3
VALVE = 40e-3
GAINS = (0.005, 0.01, 0.02, 0.03)
REPEATS = (1, 2, 3)
LEAK = 1.8e-6  # m2, about 0.4 cubic feet per minute at 28 inches of water
CALIBRATION = 0.01
STUDY_GROUPS, STUDY_REPEATS = 6, 3


@dataclass(frozen=True)
class Shop:
    """True standard deviations of one shop, and its own dice."""

    truth: Repeatability
    dice: np.random.Generator


def draw_shop(dice: np.random.Generator) -> Shop:
    """Draw a shop from the very distribution the start value stands for."""
    free = SHOP_DEFAULT.degrees_of_freedom

    def drawn(deviation: float) -> float:
        return deviation * math.sqrt(free / dice.chisquare(free))

    truth = Repeatability(
        drawn(SHOP_DEFAULT.common),
        drawn(SHOP_DEFAULT.lift_setting),
        drawn(SHOP_DEFAULT.reading),
        math.inf,
        "truth",
    )
    return Shop(truth, dice)


def port(lift: np.ndarray, size: float) -> np.ndarray:
    """A smooth invented port: proportional to lift near the seat, levelling off above."""
    return size * np.tanh(lift / 7e-3)


def sweep(
    shop: Shop, size: float, factor: float = 1.0, *, lift_fault: float = 0.0, leak: float = LEAK
) -> FlowCurve:
    """Refit the head and sweep once."""
    truth, dice = shop.truth, shop.dice
    lift = LIFT + dice.normal(0.0, truth.lift_setting) + lift_fault
    noise = dice.normal(0.0, truth.common) + dice.normal(0.0, truth.reading, LIFT.size)
    area = port(lift, size) * factor * np.exp(noise) + dice.uniform(0.0, leak)
    return make_curve(LIFT, area, leak=leak)


def study(shop: Shop) -> Repeatability:
    """What the shop learns from repeats of six ports, one sweep of which is faulty."""
    sizes = shop.dice.uniform(4e-4, 8e-4, STUDY_GROUPS)
    groups = [[sweep(shop, size) for _ in range(STUDY_REPEATS)] for size in sizes]
    groups[0][0] = sweep(shop, sizes[0], lift_fault=-0.25e-3)
    return estimate_repeatability(groups)


def before_after(
    shop: Shop, known: Repeatability, repeats: int, gain: float, *, benches: int = 1
) -> Comparison:
    """Sweep before and after a uniform gain and compare."""
    size = shop.dice.uniform(4e-4, 8e-4)
    sides = []
    # two benches are two sessions, each with its shift
    free = SHOP_DEFAULT.session_degrees_of_freedom
    session = (
        SHOP_DEFAULT.session * math.sqrt(free / shop.dice.chisquare(free)) if benches > 1 else 0
    )
    for side, factor in enumerate((1.0, 1.0 + gain)):
        name = f"bench {min(side, benches - 1)}"
        bench_error = 1.0
        if benches > 1:
            bench_error = math.exp(shop.dice.normal(0.0, math.hypot(CALIBRATION, session)))
        sides.append(
            [
                Sweep(sweep(shop, size, factor * bench_error), known, name, CALIBRATION)
                for _ in range(repeats)
            ]
        )
    return compare(*sides, valve_diameter=VALVE)


@dataclass
class Tally:
    """Shares over shops, one row per shop."""

    lifts: list[float]
    bands: list[float]
    real: list[float]
    probably: list[float]

    def add(self, result: Comparison, gain: float) -> None:
        """Count one comparison whose true gain is known everywhere."""
        lifts = [x.gain for x in result.lifts]
        bands = [x.gain for x in result.bands]
        self.lifts.append(float(np.mean([g.low <= gain <= g.high for g in lifts])))
        self.bands.append(float(np.mean([g.low <= gain <= g.high for g in bands])))
        self.real.append(float(np.mean([g.verdict is Verdict.REAL for g in bands])))
        self.probably.append(float(np.mean([g.verdict is Verdict.PROBABLY for g in bands])))


def simulate(
    shops: int, repeats: int, gain: float, *, studied: bool, benches: int = 1, seed: int = SEED
) -> Tally:
    """Compare before and after in many shops."""
    tally = Tally([], [], [], [])
    # One stream per shop, so that the tables share their shops and rows can be compared.
    for stream in np.random.SeedSequence(seed).spawn(shops):
        shop = draw_shop(np.random.default_rng(stream))
        known = study(shop) if studied else SHOP_DEFAULT
        tally.add(before_after(shop, known, repeats, gain, benches=benches), gain)
    return tally


def percent(values: list[float]) -> str:
    """Mean with the standard error over shops, in percent."""
    mean, error = np.mean(values), np.std(values) / math.sqrt(len(values))
    return f"{100 * mean:.1f} ± {100 * error:.1f}"


def tables(shops: int) -> str:
    """Both tables as Markdown."""
    lines = [
        f"{shops} simulated shops per row, seed {SEED}; per cent with standard error.",
        "",
        "| Shop figures from | Benches | Repeats | Lifts covered | Bands covered | False real |",
        "|---|---|---|---|---|---|",
    ]
    for studied, benches in ((False, 1), (True, 1), (False, 2)):
        for repeats in REPEATS:
            t = simulate(shops, repeats, 0.0, studied=studied, benches=benches)
            source = "own study" if studied else "start value"
            lines.append(
                f"| {source} | {benches} | {repeats} | {percent(t.lifts)} | {percent(t.bands)} | "
                f"{percent(t.real)} |"
            )
    lines += [
        "",
        "| True gain | Repeats before and after | Called real | Called probably | Can't tell |",
        "|---|---|---|---|---|",
    ]
    for gain in GAINS:
        for repeats in REPEATS:
            t = simulate(shops, repeats, gain, studied=True)
            rest = [1.0 - a - b for a, b in zip(t.real, t.probably, strict=True)]
            lines.append(
                f"| {100 * gain:.1f} % | {repeats} | {percent(t.real)} | {percent(t.probably)} | "
                f"{percent(rest)} |"
            )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=2000)
    parser.add_argument("--dry", action="store_true", help="print only")
    options = parser.parse_args()
    text = tables(options.shops)
    print(text)
    if not options.dry:
        page = PAGE.read_text(encoding="utf-8")
        head, rest = page.split(BEGIN)
        _, tail = rest.split(END)
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
