"""How often translations, percentiles and attributions are right, on shops whose truth is known.

``python -m benchmarks.ranking`` prints the tables and rewrites them in
``docs/benchmarks/ranking.md``; ``--shops N`` sets the number of shops, ``--dry`` only prints.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks.simulated_benches import two_benches
from portwright.core.translation import relate_benches

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "ranking.md"
BEGIN, END = "<!-- ranking: begin -->", "<!-- ranking: end -->"
SEED = 20260312


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


PARTS = {"Reading on another bench": translations}


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
