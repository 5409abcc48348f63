"""Earlier sweeps of a port as the bench screen needs them: worked out once, then kept."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np

from portwright import units
from portwright.core.bench import PressureLaw
from portwright.core.curve import Array, FlowCurve
from portwright.core.detection.sweeps import SweepRecord
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.core.uncertainty import coverage_factor, sum_of_students
from portwright.model.bench import Calibration
from portwright.model.contents import JobContents
from portwright.model.run import Reading, Run
from portwright.services.compare import archive_pressure, at_pressure
from portwright.services.findings import CheckedJob, check_job
from portwright.services.reduce import ReducedRun, method_named, reduce_runs
from portwright.services.shop_file import ShopFile
from portwright.services.sweeps import configuration, session_of, sweep_record
from portwright.units import Kind

T = TypeVar("T")
_TOO_FEW = 2  # readings of a sweep that has no curve yet


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """One reading worked out.

    Parameters
    ----------
    reading : Reading
    flow : float
        At the pressure the shop shows, NaN where it cannot be worked out. [m3/s]
    """

    reading: Reading
    flow: float


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """Mean curve of earlier sweeps, with the band in which one more would land unchanged.

    Parameters
    ----------
    stage : str
    sweeps : int
    lift : ndarray, shape (n,)
        [m]
    flow : ndarray, shape (n,)
        [m3/s]
    half : ndarray, shape (n,)
        Half width of the 95 % band, relative. [-]
    curve : FlowCurve
        The same as effective area.
    """

    stage: str
    sweeps: int
    lift: Array
    flow: Array
    half: Array
    curve: FlowCurve

    def at(self, lift: Array) -> tuple[Array, Array]:
        """Flow [m3/s] and relative half width at lifts, NaN outside the lifts swept."""
        velocity = self.flow[0] / self.curve.area[0]
        return self.curve.at(lift) * velocity, np.interp(lift, self.lift, self.half)


@dataclass(frozen=True, slots=True, eq=False)
class Earlier:
    """What a sweep is seen against.

    Parameters
    ----------
    pressure : float
        Test pressure flows are shown at. [Pa]
    repeatability : Repeatability
    same : tuple of ReducedRun
        Sound sweeps of this port, stage and set-up.
    before : tuple of ReducedRun
        Sound sweeps of the nearest earlier stage in this set-up.
    sisters : tuple of ReducedRun
        One sound sweep each of other ports of this side at this stage.
    left_out : dict of str to str
        Sweeps of this port not used, with the cause.
    contents : JobContents
    session : str
        Session of the sweep under way.
    """

    pressure: float
    repeatability: Repeatability = SHOP_DEFAULT
    same: tuple[ReducedRun, ...] = ()
    before: tuple[ReducedRun, ...] = ()
    sisters: tuple[ReducedRun, ...] = ()
    left_out: dict[str, str] = field(default_factory=dict)
    contents: JobContents | None = None
    session: str = ""
    _kept: dict[Hashable, Any] = field(default_factory=dict, repr=False)

    def remember(self, key: Hashable, work: Callable[[], T]) -> T:
        """What ``work`` gives, worked out once: a reading must not wait for it again."""
        if key not in self._kept:
            self._kept[key] = work()
        found: T = self._kept[key]
        return found

    def flow(self, area: float) -> float:
        """Flow of an effective area at the pressure shown. [m3/s]"""
        return area * float(jet_velocity(REFERENCE_DENSITY, self.pressure))

    def shown_curve(self, item: ReducedRun) -> FlowCurve | None:
        """Curve of a sweep at the pressure shown."""
        if item.curve is None:
            return None
        law = PressureLaw(method_named(item.run.method).pressure_law)
        return at_pressure(item, item.curve, self.pressure, law)[0]

    def reference(self, *, previous_stage: bool) -> Reference | None:
        """Mean of the sweeps of this stage, or of the one before; None where there are none."""
        members = self.before if previous_stage else self.same
        curves = [c for c in map(self.shown_curve, members) if c is not None]
        if not curves:
            return None
        lift = curves[0].lift
        logs = np.array([np.log(c.at(lift)) for c in curves])
        area = np.exp(np.nanmean(logs, axis=0))  # the first curve has a value everywhere
        mean = replace(curves[0], area=area)
        sessions = [session_of(m.run) for m in members]
        half = _half_width(self.repeatability, mean, sessions, self.session)
        velocity = float(jet_velocity(REFERENCE_DENSITY, self.pressure))
        stage = members[0].run.stage
        return Reference(stage, len(curves), lift, area * velocity, half, mean)

    def points(self, run: Run, calibration: Calibration) -> list[Point]:
        """Readings of a sweep under way with their flow."""
        flows = flows_of(run, calibration, self.pressure)
        return [Point(r, f) for r, f in zip(run.readings, flows, strict=True)]


def _half_width(
    rep: Repeatability, mean: FlowCurve, sessions: Sequence[str], session: str
) -> Array:
    """Half width of the 95 % band round a mean in which one more sweep lands. [-]

    The mean has its own error, and another day at the bench shifts all of its sweeps together.
    """
    slope = rep.lift_setting * mean.log_slope()
    single = rep.common**2 + slope**2 + rep.reading**2
    inside = single * (1.0 + 1.0 / len(sessions))
    days = len(set(sessions))
    apart = 0.0 if set(sessions) == {session} else rep.session**2 * (1.0 + 1.0 / days)
    free = np.array([rep.degrees_of_freedom, rep.session_degrees_of_freedom])
    variances = np.array([inside, np.full_like(inside, apart)])
    known = variances.max(axis=1) > 0.0
    deviation, freedom = sum_of_students(variances[known], free[known])
    return coverage_factor(freedom, 0.95) * deviation


def reduced_sweep(run: Run, calibration: Calibration) -> ReducedRun:
    """A sweep under way, reduced."""
    return reduce_runs([run], [calibration])[0]


def flows_of(run: Run, calibration: Calibration, pressure: float) -> list[float]:
    """Flow of each reading at a pressure, NaN where it cannot be worked out. [m3/s]"""
    flows = [float("nan")] * len(run.readings)
    if not run.readings:
        return flows
    # A curve needs two lifts, and the first reading shall be shown too: a copy makes up the pair.
    top = max(r.lift.si for r in run.readings)
    copy = replace(run.readings[-1], lift=units.typed(top * 2000.0, "mm", Kind.LENGTH))
    item = reduced_sweep(replace(run, readings=(*run.readings, copy)), calibration)
    view = Earlier(pressure)
    curve = view.shown_curve(item)
    if curve is None:
        return flows
    for place, area in zip(item.order, curve.area, strict=True):
        if place < len(flows):
            flows[place] = view.flow(float(area))
    return flows


def record_of(item: ReducedRun, contents: JobContents, order: float = 0.0) -> SweepRecord | None:
    """A sweep as the checks want it."""
    return sweep_record(item, contents, order)


class Bookshelf:
    """Checked jobs kept while nothing in them changed, shared by all tablets.

    Checking a big job takes a second; a reading must not wait for it.

    Parameters
    ----------
    shop : ShopFile
    """

    def __init__(self, shop: ShopFile) -> None:
        self._shop = shop
        self._turn = threading.Lock()
        self._kept: dict[str, CheckedJob] = {}

    def earlier(self, run: Run) -> Earlier:
        """Everything a sweep is seen against; slow the first time, to be called in a thread."""
        with self._turn:
            checked = self._checked(run)
        return _sorted_out(checked, run, archive_pressure(self._shop))

    def _checked(self, run: Run) -> CheckedJob:
        known = self._kept.get(run.job)
        now = self._shop.job(run.job)
        if known is None or _finished(known.contents, run) != _finished(now, run):
            known = check_job(self._shop, run.job)
            self._kept[run.job] = known
        return known


def _finished(contents: JobContents, run: Run) -> list[tuple[str, str, tuple[Reading, ...]]]:
    """Sweeps other than this one that have a curve; others under way come and go."""
    return [
        (r.code, r.left_out, r.readings)
        for r in contents.runs
        if r.code != run.code and len(r.readings) >= _TOO_FEW
    ]


def _sorted_out(checked: CheckedJob, run: Run, pressure: float) -> Earlier:
    faulty = checked.faulty
    mounted = configuration(run.conditions)
    others = [r for r in checked.reduced if r.run.code != run.code and r.curve is not None]
    alike = [
        r
        for r in others
        if (r.run.bench, r.run.calibration) == (run.bench, run.calibration)
        and configuration(r.run.conditions) == mounted
    ]
    sound = [r for r in alike if not r.run.left_out and r.run.code not in faulty]
    own = [r for r in others if r.run.port == run.port]
    left_out = {r.run.code: r.run.left_out for r in own if r.run.left_out}
    left_out |= {r.run.code: faulty[r.run.code].message for r in own if r.run.code in faulty}
    return Earlier(
        pressure,
        checked.repeatability.get(run.bench, SHOP_DEFAULT),
        same=tuple(r for r in sound if (r.run.port, r.run.stage) == (run.port, run.stage)),
        before=_stage_before(sound, run, [s.code for s in checked.contents.stages]),
        sisters=_sisters(sound, run, checked.contents),
        left_out=left_out,
        contents=checked.contents,
        session=session_of(run),
    )


def _stage_before(
    sound: Sequence[ReducedRun], run: Run, stages: Sequence[str]
) -> tuple[ReducedRun, ...]:
    if run.stage not in stages:
        return ()
    for stage in reversed(stages[: stages.index(run.stage)]):
        found = tuple(r for r in sound if (r.run.port, r.run.stage) == (run.port, stage))
        if found:
            return found
    return ()


def _sisters(
    sound: Sequence[ReducedRun], run: Run, contents: JobContents
) -> tuple[ReducedRun, ...]:
    sides = {p.code: p.side for p in contents.ports}
    newest: dict[str, ReducedRun] = {}
    for item in sound:
        other = item.run.port != run.port and sides.get(item.run.port) is sides.get(run.port)
        if other and item.run.stage == run.stage:
            newest[item.run.port] = item
    return tuple(newest.values())
