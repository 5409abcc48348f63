"""Invented shops with two benches whose difference is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.core.translation import USUAL_SCATTER, CommonPoints

LIFTS = 7
_PLATES = np.log(np.array([75.0, 170.0, 300.0, 475.0, 680.0]) * 1e-6)  # m2


@dataclass(frozen=True, slots=True, eq=False)
class TwoBenches:
    """One shop.

    Parameters
    ----------
    points : CommonPoints
        What it tested on both.
    new_here, new_there : ndarray, shape (n,)
        A further head: as read here with errors, and truly there. [ln m2]
    covariance : ndarray, shape (n, n)
        Of the errors here. [-]
    """

    points: CommonPoints
    new_here: Array
    new_there: Array
    covariance: Array


def two_benches(
    dice: np.random.Generator, *, heads: int, plates: int = 5, scatter: float | None = None
) -> TwoBenches:
    """Draw a shop; the scatter between heads from what is assumed of shops unless given.

    Parameters
    ----------
    heads, plates : int
        Tested on both benches.
    scatter : float, optional
        Standard deviation of a head's own shift. [-]
    """
    usual = USUAL_SCATTER
    level, tilt = dice.normal(0.0, 0.05), dice.normal(0.0, 0.015)
    offset = dice.normal(0.0, usual.offset)
    free = usual.degrees_of_freedom
    own = usual.head * math.sqrt(free / dice.chisquare(free)) if scatter is None else scatter

    def there(x: Array, shift: float) -> Array:
        return level + x + tilt * (x - math.log(3e-4)) + shift

    truth, article, head = [], [], []
    for number in range(plates):
        x = _PLATES[number : number + 1]
        truth.append((x, there(x, dice.normal(0.0, usual.plate))))
        article.append(np.full(1, number))
        head.append(np.zeros(1, dtype=bool))
    for number in range(heads):
        x = _head(dice)
        truth.append((x, there(x, offset + dice.normal(0.0, own))))
        article.append(np.full(LIFTS, plates + number))
        head.append(np.ones(LIFTS, dtype=bool))
    x, y = (np.concatenate(column) for column in zip(*truth, strict=True))
    names, is_head = np.concatenate(article), np.concatenate(head)
    errors = [_errors(names, is_head) for _ in range(2)]
    points = CommonPoints(
        dice.multivariate_normal(x, errors[0]),
        dice.multivariate_normal(y, errors[1]),
        errors[0],
        errors[1],
        names.astype(np.int64),
        is_head,
        np.zeros(x.size),
    )
    new = _head(dice)
    covariance = _errors(np.zeros(LIFTS), np.ones(LIFTS, dtype=bool))
    return TwoBenches(
        points,
        dice.multivariate_normal(new, covariance),
        there(new, offset + dice.normal(0.0, own)),
        covariance,
    )


def _head(dice: np.random.Generator) -> Array:
    """A head's curve inside the flows of the plates. [ln m2]"""
    top = dice.uniform(450.0, 640.0) * 1e-6
    lift = np.linspace(1.5, 11.0, LIFTS)
    return np.log(top * np.tanh(lift / 6.5) / math.tanh(11.0 / 6.5))


def _errors(article: Array, head: Array) -> Array:
    """Errors on one bench: one session for all, one refit for each article, each reading."""
    rep = SHOP_DEFAULT
    same = article[:, None] == article[None, :]
    heads = np.outer(head, head)
    reading = np.where(head, rep.reading, 0.0015)
    total: Array = rep.session**2 + rep.common**2 / 2.0 * (same & heads) + np.diag(reading**2)
    return total
