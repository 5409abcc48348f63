"""Lift bands by L/D: which part of the port a stretch of the flow curve speaks about."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from portwright.core.curve import Array
from portwright.core.weights import span_weights
from portwright.errors import RangeError

# Common practice: limits of valve lift over valve diameter, and what rules the flow between them.
DEFAULT_EDGES = (0.10, 0.20, 0.30)
_MEANING = (
    "seat, back-cut and valve shape",
    "seat, chamber wall and throat",
    "short side, throat and bowl",
    "smallest section and pinch",
)


@dataclass(frozen=True, slots=True)
class LiftBand:
    """A stretch of the flow curve.

    Parameters
    ----------
    low, high : float
        Valve lift over valve diameter, from and to; ``high`` may be infinite. [-]
    meaning : str
        What usually rules the flow there; empty for limits other than the usual ones.
    """

    low: float
    high: float
    meaning: str = ""

    @property
    def name(self) -> str:
        """Band in words, as shown to people."""
        if self.low == 0.0:
            return f"L/D below {self.high:.2f}"
        if math.isinf(self.high):
            return f"L/D above {self.low:.2f}"
        return f"L/D {self.low:.2f} to {self.high:.2f}"


def lift_bands(edges: Sequence[float] = DEFAULT_EDGES) -> tuple[LiftBand, ...]:
    """Bands between limits of L/D, the first from zero and the last without end.

    Parameters
    ----------
    edges : sequence of float
        Increasing, above zero. [-]

    Returns
    -------
    tuple of LiftBand
        One more than there are limits.

    Raises
    ------
    RangeError
        Limits that do not increase, or are not above zero.
    """
    limits = (0.0, *edges, math.inf)
    if any(not a < b for a, b in pairwise(limits)):
        raise RangeError(
            "Limits of lift bands must be above zero and increase.", "Usual: 0.10, 0.20, 0.30."
        )
    meaning = _MEANING if tuple(edges) == DEFAULT_EDGES else ("",) * (len(edges) + 1)
    return tuple(
        LiftBand(low, high, text)
        for (low, high), text in zip(pairwise(limits), meaning, strict=True)
    )


@dataclass(frozen=True, slots=True, eq=False)
class BandWeights:
    """How the lifts of a sweep enter the mean area of a band.

    Parameters
    ----------
    band : LiftBand
    low, high : float
        Stretch of lift really covered. [m]
    weight : ndarray, shape (n,)
        Share of each lift; adds to 1. [-]
    """

    band: LiftBand
    low: float
    high: float
    weight: Array


def band_weights(
    lift: Array, valve_diameter: float, bands: Sequence[LiftBand]
) -> tuple[BandWeights, ...]:
    """Weights of each lift in each band, by the spacing of the lifts.

    Parameters
    ----------
    lift : ndarray, shape (n,)
        Increasing, two or more. [m]
    valve_diameter : float
        Diameter the lift is referred to. [m]
    bands : sequence of LiftBand

    Returns
    -------
    tuple of BandWeights
        Only bands the lifts reach into; nothing is extended beyond the lifts tested.

    Raises
    ------
    RangeError
        Valve diameter not above zero.
    """
    if not (math.isfinite(valve_diameter) and valve_diameter > 0.0):
        raise RangeError(f"A valve diameter must be above zero, not {valve_diameter}.")
    found = []
    for band in bands:
        low = max(band.low * valve_diameter, float(lift[0]))
        high = min(band.high * valve_diameter, float(lift[-1]))
        # A stretch below a thousandth of the valve is the limit of a band, not a part of it.
        if high - low > 1e-3 * valve_diameter:
            found.append(BandWeights(band, low, high, span_weights(lift, low, high)))
    return tuple(found)
