"""Does one new reading fit what is known of the port, and if not, why not.

The reading is compared with everything at hand in one step: the readings of its own sweep, sweeps
of the same stage, the stage before and sister ports.  The model is that of the bad-run checks
(:mod:`portwright.core.detection.model`); leaving the reading out, it says what to expect.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from portwright.core.detection import DEFAULT_LIMITS, Limits
from portwright.core.detection.model import build
from portwright.core.detection.sweeps import Group, SweepRecord, grouped
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.core.valve import curtain_area
from portwright.errors import Finding, PortwrightError
from portwright.model.run import Reading
from portwright.services import causes
from portwright.services.capture import OpenSweep
from portwright.services.causes import Doubt
from portwright.services.display import Display
from portwright.services.earlier import Earlier, record_of, reduced_sweep
from portwright.services.valves import valve_at
from portwright.units import Kind

# Chance that a sound reading is questioned: about once in 150 sweeps of 13 lifts. (our choice)
_CHANCE = 0.0005
_MOST = 3  # sweeps of each kind looked at: more would hardly change the answer
# Standard deviation of ln A between stages and between sister ports at one lift, used for the
# first reading of a sweep only. (from memory, meant wide)
_STAGE_SPREAD = 0.10
_SISTER_SPREAD = 0.05
# Shift and lift error allowed to a sweep whose first reading was kept although it was off.
_OFF_COMMON, _OFF_LIFT = 0.05, 0.3e-3  # [-], [m] (from memory, meant wide)
_KEPT_ODD = 3  # single readings set aside at most
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
    seen = earlier or Earlier(math.nan)
    expected = _expected(sweep, reading, seen, limits)
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
    sweep: OpenSweep, reading: Reading, earlier: Earlier, limits: Limits
) -> _Expected | None:
    others = [r for r in sweep.run.readings if abs(r.lift.si - reading.lift.si) > 1e-6]
    if not others:
        return _first(sweep, reading, earlier)
    start = others[0]
    begun = earlier.remember(
        ("begun", sweep.run.code, start), lambda: _first(sweep, start, earlier)
    )
    rep = earlier.repeatability
    if begun is not None and not _fits(begun, earlier, limits):
        # A person kept a first reading that was off: the rest is judged by its own curve.
        rep = replace(rep, common=_OFF_COMMON, lift_setting=_OFF_LIFT)
    found, _ = _joint(sweep, [*others, reading], earlier, rep, limits)
    if found is None or _fits(found, earlier, limits):
        return found
    for _ in range(_KEPT_ODD):
        odd = _joint(sweep, others, earlier, rep, limits)[1]
        if odd is None:
            break
        others.remove(odd)  # kept although questioned: it shall not bend what comes after
        found, _ = _joint(sweep, [*others, reading], earlier, rep, limits)
    return found


def _joint(
    sweep: OpenSweep,
    readings: Sequence[Reading],
    earlier: Earlier,
    rep: Repeatability,
    limits: Limits,
) -> tuple[_Expected | None, Reading | None]:
    """The last reading against all others, and the one before it that fits least, if any."""
    contents = earlier.contents or sweep.contents
    run = replace(sweep.run, readings=tuple(readings))
    item = reduced_sweep(run, sweep.calibration)
    own = record_of(item, contents)
    places = [int(p) for p in item.order]
    if item.curve is None or own is None or len(readings) - 1 not in places:
        return None, None  # its flow cannot be worked out, which is said elsewhere
    place = places.index(len(readings) - 1)
    groups = _groups(own, earlier)
    family = [s for g in groups for s in g.sweeps]
    if len(family) == 1 and len(places) == 2:
        return _by_coefficient(sweep, readings[-1], float(item.curve.area[place])), None
    cluster = build(groups, _over_sessions(family, rep), limits)
    block = next(
        block
        for (g, k), block in zip(cluster.members, cluster.blocks, strict=True)
        if groups[g].sweeps[k] is own
    )
    # Conditional mean and variance of each element of a Gaussian vector, given all others.
    weight = np.diag(cluster.precision)[block]
    difference = (cluster.precision @ cluster.deviation)[block] / weight
    judged = [
        _Expected(float(d), float(w) ** -0.5, _against(earlier))
        for d, w in zip(difference, weight, strict=True)
    ]
    odd = [
        (abs(e.difference) / e.deviation, k)
        for k, e in enumerate(judged)
        if not _fits(e, earlier, limits)
    ]
    return judged[place], readings[places[max(odd)[1]]] if odd else None


def _groups(own: SweepRecord, earlier: Earlier) -> list[Group]:
    """The sweep with its repeats, then what else is known of the port and its sisters.

    The same set-up, chosen so; sweeps of another day count as well, with the day's own shift.
    """
    same, others = earlier.remember("records", lambda: _records(earlier))
    place = (own.bench, own.side)
    repeats = [replace(r, configuration=own.configuration) for r in same]
    mine = grouped([own, *(r for r in repeats if (r.bench, r.side) == place)])

    def rest() -> list[Group]:
        alike = [replace(r, configuration=own.configuration) for r in others]
        return grouped([r for r in alike if (r.bench, r.side) == place])

    return [*mine, *earlier.remember(("groups", place, own.configuration), rest)]


def _records(earlier: Earlier) -> tuple[list[SweepRecord], list[SweepRecord]]:
    contents = earlier.contents
    if contents is None:
        return [], []
    same = [record_of(r, contents, 1.0) for r in earlier.same[-_MOST:]]
    rest = (*earlier.before[-_MOST:], *earlier.sisters[-_MOST:])
    others = [record_of(r, contents, 1.0) for r in rest]
    return [r for r in same if r is not None], [r for r in others if r is not None]


def _over_sessions(family: list[SweepRecord], rep: Repeatability) -> Repeatability:
    """Repeatability of sweeps made in one session, or widened by what days differ."""
    if len({r.day for r in family}) == 1:
        return rep
    return replace(rep, common=math.hypot(rep.common, rep.session))


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
        single = rep.common**2 + rep.session**2 + (slope * rep.lift_setting) ** 2 + rep.reading**2
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
