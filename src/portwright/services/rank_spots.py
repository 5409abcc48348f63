"""Reading heads of different valve sizes at one lift, one L/D or over one band."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

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


def areas_at(where: Spot, members: Sequence[Member], own: Member) -> tuple[Array, Array]:
    """Area of each member there [m2] and the L/D it was read at, NaN where not swept. [-]

    Over a band only the stretch that ``own`` covers counts, and only members that cover it.
    """
    diameter = np.array([m.diameter for m in members])
    table = np.array([m.areas for m in members]).reshape(len(members), STEPS.size)
    if where.band is not None:
        return _over(where.band, table, own)
    if where.lift is None and where.ratio is None:
        top = np.array([m.top_lift for m in members])
        return np.array([m.top_area for m in members]), top / diameter
    ratio = (
        np.full(diameter.size, where.ratio) if where.ratio is not None else where.lift / diameter
    )
    top_ratio = np.array([m.top_lift for m in members]) / diameter
    top_area = np.array([m.top_area for m in members])
    area = kept_area_at(table, ratio, top_ratio, top_area)
    # an old sheet's single figure counts near its lift
    alone = np.isnan(area) & (np.abs(ratio - top_ratio) < _NEAR)
    return np.where(alone, top_area, area), ratio


def _over(band: tuple[float, float], table: Array, own: Member) -> tuple[Array, Array]:
    known = STEPS[np.isfinite(own.areas)]
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


def by_measure(measure: Measure, area: Array, ratio: Array, members: Sequence[Member]) -> Array:
    """What heads are ranked by, from area [m2] and L/D: an area [m2], or a ratio. [-]"""
    diameter = np.array([m.diameter for m in members])
    valves = np.array([m.valves for m in members])
    if measure is Measure.FLOW:
        return area
    disc = valves * math.pi / 4.0 * diameter**2
    reference: Array = disc if measure is Measure.PER_VALVE_AREA else disc * 4.0 * ratio
    per: Array = area / reference
    return per
