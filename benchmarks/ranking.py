"""How often translations, percentiles and attributions are right, on shops whose truth is known.

``python -m benchmarks.ranking`` prints the tables and rewrites them in
``docs/benchmarks/ranking.md``; ``--shops N`` sets the number of shops, ``--dry`` only prints.
The attribution called real most often where nothing was done is drawn again ten times as often,
with other numbers: the highest of a score of shares is high by chance alone.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator, Sequence
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from benchmarks.simulated_benches import two_benches
from portwright.core.attribution import attribute
from portwright.core.comparison import Sweep, Verdict
from portwright.core.curve import Array, make_curve
from portwright.core.ranking import standing
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.core.translation import relate_benches

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "ranking.md"
BEGIN, END = "<!-- ranking: begin -->", "<!-- ranking: end -->"
SEED = 20260312
VALVE = 42e-3
LIFT = np.arange(1.0, 12.5) * 1e-3


def translations(shops: int) -> Iterator[str]:
    """Coverage of the interval of a further head's reading on the other bench."""
    yield "| heads on both | plates on both | scatter between heads | covered, % | half width, % |"
    yield "|---:|---:|---|---:|---:|"
    cases = [(n, 5, None) for n in (0, 1, 2, 4)] + [(3, 0, None), (4, 5, 0.004), (4, 5, 0.012)]
    overall = []
    for number, (heads, plates, scatter) in enumerate(cases):
        dice = np.random.default_rng([SEED, number])
        inside, width = [], []
        for _ in range(shops if scatter is None else shops // 4):
            shop = two_benches(dice, heads=heads, plates=plates, scatter=scatter)
            predicted = relate_benches(shop.points).predict(shop.new_here, shop.covariance)
            low, high = predicted.interval()
            off = shop.new_there - predicted.log_area
            inside.append(float(np.mean((off >= low) & (off <= high))))
            width.append(float(np.mean(high - low)) / 2.0)
        if scatter is None:
            overall += inside
        drawn = "as assumed of shops" if scatter is None else f"{100 * scatter:.1f} % always"
        yield (
            f"| {heads} | {plates} | {drawn} | {100 * np.mean(inside):.1f} "
            f"| {100 * np.mean(width):.1f} |"
        )
    yield ""
    yield (
        f"Over all {len(overall)} shops drawn as assumed: {100 * np.mean(overall):.1f} % "
        f"(± {196 * np.std(overall) / len(overall) ** 0.5:.1f})."
    )


def percentiles(classes: int) -> Iterator[str]:
    """Coverage of the interval of a head's share of its class."""
    yield "| heads in the class | own error over spread | covered, % | width, % |"
    yield "|---:|---:|---:|---:|"
    spread, overall = 0.06, []
    for number, (size, error) in enumerate(product((5, 13, 40, 150), (0.005, 0.01, 0.02))):
        dice = np.random.default_rng([SEED, 100 + number])
        inside, width = [], []
        for _ in range(classes):
            truth, members = dice.normal(0.0, spread), dice.normal(0.0, spread, size)
            seen = members + dice.normal(0.0, error, size)
            found = standing(truth + dice.normal(0.0, error), error, seen, np.full(size, error))
            inside.append(found.low <= ndtr(truth / spread) <= found.high)
            width.append(found.high - found.low)
        overall += inside
        yield (
            f"| {size} | {error / spread:.2f} | {100 * np.mean(inside):.1f} "
            f"| {100 * np.mean(width):.0f} |"
        )
    yield ""
    yield (
        f"Over all {len(overall)} classes: {100 * np.mean(overall):.1f} % "
        f"(± {196 * np.std(overall) / len(overall) ** 0.5:.1f})."
    )


Port = Callable[[Array], Array]


class _Shop:
    """True errors of one shop, drawn from what is assumed of shops, and its sweeps."""

    def __init__(self, dice: np.random.Generator) -> None:
        def drawn(deviation: float, free: float) -> float:
            return deviation * math.sqrt(free / dice.chisquare(free))

        rep, self.dice = SHOP_DEFAULT, dice
        self.common = drawn(rep.common, rep.degrees_of_freedom)
        self.lift = drawn(rep.lift_setting, rep.degrees_of_freedom)
        self.reading = drawn(rep.reading, rep.degrees_of_freedom)
        session = drawn(rep.session, rep.session_degrees_of_freedom)
        self.shift = {day: dice.normal(0.0, session) for day in ("Monday", "Tuesday")}

    def sweeps(self, port: Port, days: Sequence[str]) -> list[Sweep]:
        """One sweep for each day named, the head refitted before each."""
        dice, out = self.dice, []
        for day in days:
            noise = dice.normal(0.0, self.common) + dice.normal(0.0, self.reading, LIFT.size)
            seen = port(LIFT + dice.normal(0.0, self.lift)) * np.exp(noise + self.shift[day])
            out.append(Sweep(make_curve(LIFT, seen), SHOP_DEFAULT, "B 1", 0.0, day))
        return out


def _port(coefficient: float, port: float, bend: float) -> Port:
    """Two resistances in series, with a port that leaves the model by ``bend`` at high lift."""

    def area(lift: Array) -> Array:
        ideal = ((coefficient * math.pi * VALVE * lift) ** -2.0 + port**-2.0) ** -0.5
        bent: Array = ideal * (1.0 - bend * (lift / LIFT[-1]) ** 3)
        return bent

    return area


def attributions(cuts: int) -> Iterator[str]:
    """How often seat and port are called real, and their intervals hold."""
    heads = ("true gain, seat / port", "ports off the model by", "swept after", "seat real, %")
    heads = (*heads, "port real, %", "seat covered, %", "port covered, %")
    yield f"| {' | '.join(heads)} |"
    yield "|---|---:|---|---:|---:|---:|---:|"
    gains = ((0.0, 0.0), (0.03, 0.0), (0.0, 0.04))
    cases = [*product(("the same day", "another day"), gains, (0.0, 0.04))]
    overall, wrong = [], []
    worst, again = -1.0, (0, 0)
    for number, case in enumerate(cases):
        when, true, bend = case
        real, inside = _split(np.random.default_rng([SEED, 200 + number]), cuts, *case)
        overall += inside.tolist()
        for side in (0, 1):
            if true[side] == 0.0:
                wrong += real[:, side].tolist()
                share = float(real[:, side].mean())
                worst, again = max((worst, again), (share, (number, side)))
        shares = [*(100 * real.mean(axis=0)), *(100 * inside.mean(axis=0))]
        cells = " | ".join(f"{v:.1f}" for v in shares)
        true_ = " / ".join(f"{100 * g:.0f} %" for g in true)
        yield f"| {true_} | {100 * bend:.0f} % | {when} | {cells} |"
    yield ""
    yield (
        f"Over all {len(overall)} cuts: seat {100 * np.mean(overall, axis=0)[0]:.1f} %, port "
        f"{100 * np.mean(overall, axis=0)[1]:.1f} % covered; called real where nothing was done: "
        f"{100 * np.mean(wrong):.1f} %."
    )
    number, side = again
    real, _ = _split(np.random.default_rng([SEED, 300 + number]), 10 * cuts, *cases[number])
    share, count = float(real[:, side].mean()), real.shape[0]
    yield ""
    yield (
        f"The highest share called real where nothing was done, {100 * worst:.1f} %, drawn again "
        f"{count} times with other numbers: {100 * share:.1f} % "
        f"(± {196 * math.sqrt(share * (1 - share) / count):.1f})."
    )


def _split(
    dice: np.random.Generator, cuts: int, when: str, true: tuple[float, float], bend: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether seat and port were called real, and their intervals held, for each cut."""
    real, inside = [], []
    later = "Monday" if when == "the same day" else "Tuesday"
    seat, port = true
    for _ in range(cuts):
        shop = _Shop(dice)
        cv, area = dice.uniform(0.55, 0.68), dice.uniform(6e-4, 9e-4)
        before = shop.sweeps(_port(cv, area, bend), ("Monday",) * 2)
        after = shop.sweeps(_port(cv * (1 + seat), area * (1 + port), bend), (later,) * 2)
        found = attribute(before, after, valve_diameter=VALVE)
        if found is None:
            continue
        parts = ((found.seat, seat), (found.port, port))
        real.append([g.verdict is Verdict.REAL for g, _ in parts])
        inside.append([g.low <= gain <= g.high for g, gain in parts])
    return np.array(real), np.array(inside)


PARTS = {
    "Reading on another bench": translations,
    "Share of the class": percentiles,
    "Seat and port": attributions,
}


def main() -> None:
    """Run every study and put its tables into the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=2000)
    parser.add_argument("--dry", action="store_true")
    asked = parser.parse_args()
    lines: list[str] = []
    for title, study in PARTS.items():
        lines += [f"### {title}", "", *study(asked.shops), ""]
        print("\n".join(lines[-20:]), flush=True)
    if not asked.dry:
        before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
        after = rest.partition(END)[2]
        text = f"{before}{BEGIN}\n" + "\n".join(lines) + f"{END}{after}"
        PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
