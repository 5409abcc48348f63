"""Does one new reading fit what is known of the port, and if not, why not.

The reading is compared with everything at hand in one step: the readings of its own sweep, sweeps
of the same stage, the stage before and sister ports.  The model is that of the bad-run checks
(:mod:`portwright.core.detection.model`); leaving the reading out, it says what to expect.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from portwright.core.detection import DEFAULT_LIMITS, Limits
from portwright.core.detection.model import build
from portwright.core.detection.sweeps import SweepRecord, grouped
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.core.valve import curtain_area
from portwright.errors import Finding, PortwrightError
from portwright.model.run import Reading
from portwright.services import causes
from portwright.services.capture import OpenSweep
from portwright.services.causes import Doubt
from portwright.services.display import Display
from portwright.services.earlier import Earlier, record_of, reduced_sweep
from portwright.services.reduce import ReducedRun
from portwright.services.valves import valve_at
from portwright.units import Kind

# Chance that a sound reading is questioned: about once in 150 sweeps of 13 lifts. (our choice)
_CHANCE = 0.0005
_MOST = 4  # sweeps of each kind looked at: more would not change the answer
# Standard deviation of ln A between stages and between sister ports at one lift, used for the
# first reading of a sweep only. (from memory, meant wide)
_STAGE_SPREAD = 0.10
_SISTER_SPREAD = 0.05
# Discharge coefficient on curtain area of any open valve. (from memory, meant wide)
_COEFFICIENT = (0.25, 0.92)
_USUAL_COEFFICIENT = 0.60


@dataclass(frozen=True, slots=True)
class _Expected:
    """What a reading should be.

    Parameters
    ----------
    difference : float
        ln of the area read over the area expected. [-]
    deviation : float
        Standard deviation of it. [-]
    against : str
        What it is judged by, in words.
    """

    difference: float
    deviation: float
    against: str


def question(
    sweep: OpenSweep,
    reading: Reading,
    earlier: Earlier | None,
    display: Display,
    limits: Limits = DEFAULT_LIMITS,
) -> Finding | None:
    """Ask about a reading before it is stored; None where it fits.

    Parameters
    ----------
    sweep : OpenSweep
        Without the new reading.
    reading : Reading
    earlier : Earlier or None
        None while earlier sweeps are not worked out yet.
    display : Display
        Units of the words.
    limits : Limits

    Returns
    -------
    Finding or None
        With the likely cause as hint.
    """
    readings = [r for r in sweep.run.readings if abs(r.lift.si - reading.lift.si) > 1e-6]
    run = replace(sweep.run, readings=(*readings, reading))
    item = reduced_sweep(run, sweep.calibration)
    seen = earlier or Earlier(math.nan)
    expected = _expected(sweep, item, reading, seen, limits)
    if expected is None or _fits(expected, seen, limits):
        return None
    doubt = Doubt(
        sweep,
        reading,
        seen,
        expected.difference,
        expected.deviation,
        expected.against,
        exponent=0.5 if sweep.kind is Kind.PRESSURE else 1.0,
    )
    return causes.explained(doubt, display)


def _fits(expected: _Expected, earlier: Earlier, limits: Limits) -> bool:
    freedom = max(earlier.repeatability.degrees_of_freedom, SHOP_DEFAULT.degrees_of_freedom)
    wide = float(stdtrit(freedom, 1.0 - _CHANCE / 2.0)) * expected.deviation
    return abs(expected.difference) < max(wide, limits.reading)


def _expected(
    sweep: OpenSweep, item: ReducedRun, reading: Reading, earlier: Earlier, limits: Limits
) -> _Expected | None:
    contents = earlier.contents or sweep.contents
    if item.curve is None:
        return _first(sweep, reading, earlier)
    own = record_of(item, contents)
    place = int(np.argmin(np.abs(item.curve.lift - reading.lift.si)))
    if own is None or abs(item.curve.lift[place] - reading.lift.si) > 1e-6:
        return None  # its flow cannot be worked out, which is said elsewhere
    family = [own, *_family(own, earlier)]
    if len(family) == 1 and len(item.curve.lift) == 2:
        return _by_coefficient(sweep, reading, float(item.curve.area[place]))
    groups = grouped(family)
    cluster = build(groups, earlier.repeatability, limits)
    row = next(
        block.start + place
        for (g, k), block in zip(cluster.members, cluster.blocks, strict=True)
        if groups[g].sweeps[k] is own
    )
    weight = float(cluster.precision[row, row])
    # The conditional mean and variance of one element of a Gaussian vector.
    difference = float(cluster.precision[row] @ cluster.deviation) / weight
    return _Expected(difference, weight**-0.5, _against(earlier))


def _family(own: SweepRecord, earlier: Earlier) -> list[SweepRecord]:
    contents = earlier.contents
    if contents is None:
        return []
    chosen = (*earlier.same[-_MOST:], *earlier.before[-_MOST:], *earlier.sisters[-_MOST:])
    records = [record_of(r, contents, float(i + 1)) for i, r in enumerate(chosen)]
    return [
        r
        for r in records
        if r is not None
        and (r.bench, r.side, r.configuration) == (own.bench, own.side, own.configuration)
    ]


def _against(earlier: Earlier) -> str:
    if earlier.same:
        return "earlier sweeps of this stage"
    if earlier.before:
        return f"the shape of {earlier.before[0].run.stage}"
    if earlier.sisters:
        return "the sister ports"
    return "the readings so far"


def _first(sweep: OpenSweep, reading: Reading, earlier: Earlier) -> _Expected | None:
    """The first reading of a sweep, against the earlier curves at that lift alone."""
    area = _area_of(sweep, reading)
    if area is None:
        return None
    spreads = (0.0, _STAGE_SPREAD, _SISTER_SPREAD)
    for members, spread in zip(
        (earlier.same, earlier.before, earlier.sisters), spreads, strict=True
    ):
        at = np.array([reading.lift.si])
        curves = [r.curve for r in members if r.curve is not None]
        values = [float(np.log(c.at(at)[0])) for c in curves]
        known = [v for v in values if math.isfinite(v)]
        if not known:
            continue
        slope = float(np.median([np.interp(at[0], c.lift, c.log_slope()) for c in curves]))
        rep = earlier.repeatability
        single = rep.common**2 + (slope * rep.lift_setting) ** 2 + rep.reading**2
        deviation = math.sqrt(single * (1.0 + 1.0 / len(known)) + spread**2)
        return _Expected(math.log(area) - float(np.mean(known)), deviation, _against(earlier))
    return _by_coefficient(sweep, reading, area)


def _area_of(sweep: OpenSweep, reading: Reading) -> float | None:
    """Effective area of one reading. [m2]"""
    other = replace(reading, lift=replace(reading.lift, si=reading.lift.si * 2.0))
    run = replace(sweep.run, readings=(reading, other))
    curve = reduced_sweep(run, sweep.calibration).curve
    return None if curve is None else float(curve.area[0])


def _by_coefficient(sweep: OpenSweep, reading: Reading, area: float) -> _Expected | None:
    """Nothing to compare with: any open valve passes a share of its curtain area."""
    shape = valve_at(sweep.contents, sweep.run.port, sweep.run.stage)
    if shape is None:
        return None
    try:
        curtain = float(curtain_area(shape, np.array([reading.lift.si]))[0])
    except PortwrightError:
        return None
    low, high = _COEFFICIENT
    if low <= area / curtain <= high:
        return None
    usual = math.log(area / curtain / _USUAL_COEFFICIENT)
    return _Expected(usual, 0.1, "what a valve of this size can pass")
