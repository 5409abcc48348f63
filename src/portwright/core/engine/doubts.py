"""What is not known well about an engine, drawn at random: the same luck for both heads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm, qmc
from scipy.stats import t as student

from portwright.core.curve import Array
from portwright.core.engine.case import Doubt
from portwright.errors import RangeError

_COLUMNS = 15


@dataclass(frozen=True, slots=True)
class Unknowns:
    """Standard uncertainties of one engine; the defaults are our own judgement.

    Parameters
    ----------
    bench : float
        Of the bench against true flow, common to both heads. [-]
    gain_intake, gain_exhaust : float
        Of the gain in flow from one head to the other. [-]
    roughness : float
        Of the logarithm of wall roughness, which sets the friction factor. [-]
    heat, rubbing : float
        Of wall heat and of mechanical friction. [-]
    half_burned, burn_length : float
        Of the combustion, common to both heads. [deg]
    burn_efficiency : float
        [-]
    evaporated : float
        Of the share of fuel evaporated before the runner. [-]
    runner, primary, tail : float
        Of the lengths of runner, exhaust primary and pipe behind the collector; zero for what was
        measured. [-]
    """

    bench: float = 0.01
    gain_intake: float = 0.005
    gain_exhaust: float = 0.005
    roughness: float = 0.5
    heat: float = 0.10
    rubbing: float = 0.10
    half_burned: float = 2.0
    burn_length: float = 5.0
    burn_efficiency: float = 0.015
    evaporated: float = 0.1
    runner: float = 0.0
    primary: float = 0.0
    tail: float = 0.0


def draw(unknowns: Unknowns, samples: int, seed: int) -> tuple[tuple[Doubt, Doubt], ...]:
    """Draw pairs of guesses, one for each head.

    Parameters
    ----------
    unknowns : Unknowns
    samples : int
        Number of pairs, 4 or more.
    seed : int

    Returns
    -------
    tuple of (Doubt, Doubt)
        Before and after. What belongs to the engine or the bench is the same in both; the share
        of the smallest section that is filled is drawn for each head, and the gain's own
        uncertainty goes to the later one.

    Raises
    ------
    RangeError
        Too few samples.

    Notes
    -----
    Latin hypercube: every factor is spread evenly over its own range, so that few samples do.
    """
    if samples < 4:
        raise RangeError(f"{samples} samples say nothing about a range.", "Take 8 or more.")
    uniform = qmc.LatinHypercube(d=_COLUMNS, rng=np.random.default_rng(seed)).random(samples)
    return tuple(_pair(unknowns, row) for row in uniform)


def _pair(u: Unknowns, row: Array) -> tuple[Doubt, Doubt]:
    z = norm.ppf(np.clip(row, 1e-6, 1.0 - 1e-6))
    shared = {
        "flow": float(np.exp(u.bench * z[0])),
        "roughness": float(np.exp(u.roughness * z[5])),
        "heat": float(np.exp(u.heat * z[6])),
        "rubbing": float(np.exp(u.rubbing * z[7])),
        "half_burned": float(u.half_burned * z[8]),
        "burn_length": float(u.burn_length * z[9]),
        "burn_efficiency": float(np.exp(u.burn_efficiency * z[10])),
        "evaporated": float(u.evaporated * z[11]),
        "runner": float(np.exp(u.runner * z[12])),
        "primary": float(np.exp(u.primary * z[13])),
        "tail": float(np.exp(u.tail * z[14])),
    }
    before = Doubt(filled=float(row[3]), **shared)
    after = Doubt(
        filled=float(row[4]),
        own_intake=float(np.exp(u.gain_intake * z[1])),
        own_exhaust=float(np.exp(u.gain_exhaust * z[2])),
        **shared,
    )
    return before, after


def half_width(values: Array, about: Array) -> Array:
    """Half width of the 95 % range of sampled values about the best guess.

    Parameters
    ----------
    values : ndarray, shape (k, n)
        One row for each sample; NaN where it has no answer.
    about : ndarray, shape (n,)
        Best guess.

    Returns
    -------
    ndarray, shape (n,)
        NaN with fewer than four answers.

    Notes
    -----
    Root mean square distance from the best guess times Student's factor, so that a best guess to
    one side of the samples widens the range instead of hiding.
    """
    known = np.isfinite(values)
    count = known.sum(axis=0)
    square = np.where(known, values - about, 0.0) ** 2
    mean = square.sum(axis=0) / np.maximum(count - 1, 1)
    factor = student.ppf(0.975, np.maximum(count - 1, 1))
    width: Array = np.where(count >= 4, factor * np.sqrt(mean), np.nan)
    return width
