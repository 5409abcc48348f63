"""Values to try within limits: every one of them, or the best found by a search.

Values stand on a grid of steps.  Finer steps than can be built or told apart only cost time, and
equal values are simulated once.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import differential_evolution

from portwright.core.curve import Array
from portwright.errors import RangeError

Point = tuple[float, ...]
MOST_COMBINATIONS = 2000
_SEED = 20260210  # any fixed number: a search that is continued takes the same way again
_POPULATION = 4  # combinations tried together for each thing that is varied


@dataclass(frozen=True, slots=True)
class Range:
    """Limits and steps of one thing that is varied.

    Parameters
    ----------
    name : str
    low, high, step : float
        First and last value and the distance between values. The last is reached only when a
        whole number of steps lies between.
    """

    name: str
    low: float
    high: float
    step: float

    def __post_init__(self) -> None:
        numbers = (self.low, self.high, self.step)
        if not (all(map(math.isfinite, numbers)) and self.step > 0.0 and self.high > self.low):
            raise RangeError(
                f"{self.name}: {self.low:g} to {self.high:g} by {self.step:g} is no range.",
                "Give a lower limit, a higher one and a step above zero.",
            )
        if self.count > MOST_COMBINATIONS:
            raise RangeError(f"{self.name}: {self.count} values are too many.", "Use larger steps.")

    @property
    def count(self) -> int:
        """Values in the range. [-]"""
        return 1 + math.floor((self.high - self.low) / self.step + 1e-6)

    def value(self, step: int) -> float:
        """Value after so many steps, without the rounding that adding up would leave."""
        return float(f"{self.low + step * self.step:.9g}")

    def values(self) -> tuple[float, ...]:
        """Every value."""
        return tuple(self.value(k) for k in range(self.count))


def every(ranges: Sequence[Range]) -> list[Point]:
    """Every combination of the values.

    Raises
    ------
    RangeError
        More than :data:`MOST_COMBINATIONS`.
    """
    count = math.prod(r.count for r in ranges)
    if count > MOST_COMBINATIONS:
        raise RangeError(
            f"{count} combinations are too many to try each.",
            f"Use larger steps, fewer ranges, or search; at most {MOST_COMBINATIONS}.",
        )
    return list(itertools.product(*(r.values() for r in ranges)))


def search(
    ranges: Sequence[Range], worth: Callable[[list[Point]], Array], tries: int, start: Point
) -> list[Point]:
    """Look for the combination that is worth most.

    Differential evolution on whole steps (Storn and Price 1997, as in SciPy), whole generations
    at once so that they can be simulated side by side.  The draw is fixed: asked again, it takes
    the same way, and what is already known need not be simulated again.

    Parameters
    ----------
    ranges : sequence of Range
    worth : callable
        Worth of each combination of a list, NaN where there is no answer. [any]
    tries : int
        Combinations to try at most; about, as generations are whole. [-]
    start : tuple of float
        One that is tried first, in the limits.

    Returns
    -------
    list of tuple of float
        Every combination that was tried, once, in order.
    """
    tried: dict[Point, None] = {}
    size = max(5, _POPULATION * len(ranges))

    def cost(steps: Array) -> Array:
        points = [
            tuple(r.value(round(float(k))) for r, k in zip(ranges, column, strict=True))
            for column in steps.T
        ]
        tried.update(dict.fromkeys(points))
        found = worth(points)
        return np.where(np.isfinite(found), -found, np.inf)

    first = [
        min(max(round((v - r.low) / r.step), 0), r.count - 1)
        for r, v in zip(ranges, start, strict=True)
    ]
    differential_evolution(
        cost,
        [(0, r.count - 1) for r in ranges],
        x0=first,
        integrality=[True] * len(ranges),
        popsize=_POPULATION if len(ranges) > 1 else size,
        maxiter=max(1, round(tries / size) - 1),
        tol=0.0,
        atol=0.0,
        seed=_SEED,
        polish=False,
        vectorized=True,
        updating="deferred",
    )
    return list(tried)
