"""Reading heads of different valve sizes at one lift, one L/D or over one band."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

import numpy as np

from portwright.core.curve import Array
from portwright.core.weights import span_weights
from portwright.services.overviews import STEPS, kept_area_at
from portwright.units import Kind, read

TOP = "highest lift"
_NEAR = 0.01  # L/D


class Measure(StrEnum):
    """What heads are ranked by."""

    FLOW = "flow"
    PER_VALVE_AREA = "flow per valve area"
    COEFFICIENT = "coefficient against L/D"


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One head of the class.

    Parameters
    ----------
    job, bench : str
    translated : bool
        Swept on another bench and translated.
    recorded : bool
        A peak figure copied from an old job sheet.
    areas : ndarray, shape (n,)
        Effective area at the kept steps of L/D, as the chosen bench reads. [m2]
    top_lift, top_area, diameter : float
        [m], [m2], [m]
    valves : int
    deviation : float
        Relative standard uncertainty. [-]
    """

    job: str
    bench: str
    translated: bool
    recorded: bool
    areas: Array
    top_lift: float
    top_area: float
    diameter: float
    valves: int
    deviation: float


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """A lift or band every member is read at; the highest lift of each when all are None.

    Parameters
    ----------
    lift : float or None
        [m]
    ratio : float or None
        L/D. [-]
    band : tuple of float or None
        L/D from and to. [-]
    """

    lift: float | None = None
    ratio: float | None = None
    band: tuple[float, float] | None = None


def spot(at: str) -> Spot:
    """Understand "8 mm", "0.35 in", "0.25 L/D", "L/D 0.10 to 0.20" and "highest lift".

    Raises
    ------
    UnitError, InputError
    """
    text = at.strip()
    if text == TOP:
        return Spot()
    band = re.fullmatch(r"L/D (\d*\.\d+) to (\d*\.\d+)", text)
    if band:
        return Spot(band=(float(band[1]), float(band[2])))
    ratio = re.fullmatch(r"(\d*[.,]\d+)\s*L/D|L/D\s*(\d*[.,]\d+)", text)
    if ratio:
        return Spot(ratio=float((ratio[1] or ratio[2]).replace(",", ".")))
    return Spot(lift=read(text, Kind.LENGTH, "mm").si)


@dataclass(frozen=True, slots=True, eq=False)
class MemberTable:
    """Heads of a class side by side, each column of shape (n,) but ``areas``.

    Parameters
    ----------
    areas : ndarray, shape (n, k)
    top_lift, top_area, diameter, valves, deviation : ndarray
        As of :class:`Member`.
    """

    areas: Array
    top_lift: Array
    top_area: Array
    diameter: Array
    valves: Array
    deviation: Array

    @classmethod
    def of(cls, members: Sequence[Member]) -> Self:
        """These heads in their order."""
        columns = [
            (m.top_lift, m.top_area, m.diameter, float(m.valves), m.deviation) for m in members
        ]
        return cls(
            np.concatenate([m.areas for m in members]).reshape(len(members), STEPS.size),
            *np.array(columns).T,
        )


def areas_at(where: Spot, heads: MemberTable) -> tuple[Array, Array]:
    """Area of each head there [m2] and the L/D it was read at, NaN where not swept. [-]

    Over a band only the stretch that the first head covers counts, and only heads that cover it.
    """
    if where.band is not None:
        return _over(where.band, heads.areas)
    top_ratio = heads.top_lift / heads.diameter
    if where.lift is not None:
        ratio = where.lift / heads.diameter
    elif where.ratio is not None:
        ratio = np.full(heads.diameter.size, where.ratio)
    else:
        return heads.top_area, top_ratio
    area = kept_area_at(heads.areas, ratio, top_ratio, heads.top_area)
    # an old sheet's single figure counts near its lift
    alone = np.isnan(area) & (np.abs(ratio - top_ratio) < _NEAR)
    return np.where(alone, heads.top_area, area), ratio


def _over(band: tuple[float, float], table: Array) -> tuple[Array, Array]:
    known = STEPS[np.isfinite(table[0])]
    if known.size < 2:
        empty = np.full(table.shape[0], np.nan)
        return empty, empty
    low, high = max(band[0], float(known[0])), min(band[1], float(known[-1]))
    if high - low < 0.02:
        empty = np.full(table.shape[0], np.nan)
        return empty, empty
    weight = span_weights(np.array(STEPS), low, high)
    used = weight > 0.0
    return table[:, used] @ weight[used], np.full(table.shape[0], (low + high) / 2.0)


def by_measure(measure: Measure, area: Array, ratio: Array, heads: MemberTable) -> Array:
    """What heads are ranked by, from area [m2] and L/D: an area [m2], or a ratio. [-]"""
    if measure is Measure.FLOW:
        return area
    disc = heads.valves * math.pi / 4.0 * heads.diameter**2
    reference: Array = disc if measure is Measure.PER_VALVE_AREA else disc * 4.0 * ratio
    per: Array = area / reference
    return per
