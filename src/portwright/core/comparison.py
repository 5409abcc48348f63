"""Did that cut do anything: gain by lift, by band and over a cam, each with what it is worth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from portwright.core.alignment import align, common_lifts, is_tested, joint_covariances
from portwright.core.bench import LeakTreatment, leak_corrected
from portwright.core.cam import LiftTable, LiftWeights, PistonDemand, time_at_lift
from portwright.core.curve import Array, FlowCurve, make_curve
from portwright.core.lift_bands import LiftBand, band_weights, lift_bands
from portwright.core.repeatability import SAME_LIFT, Repeatability, with_own_scatter
from portwright.core.uncertainty import (
    coverage_factor,
    sum_of_students,
    sweep_budget,
)
from portwright.errors import Finding, InputError, RangeError, Severity


class Verdict(StrEnum):
    """What can honestly be said about a change."""

    REAL = "real"  # the 95 % interval excludes no change
    PROBABLY = "probably"  # the 90 % interval does
    CANT_TELL = "can't tell"


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """One sweep with what is needed to compare it.

    Parameters
    ----------
    curve : FlowCurve
    repeatability : Repeatability
        Of the bench it was taken on.
    calibration : str
        Bench and calibration version; sweeps that share it share its error.
    calibration_uncertainty : float
        Relative standard uncertainty of that calibration. [-]
    session : str
        Session at the bench, usually the day; what shifts between sessions does not cancel
        between sweeps of different ones.
    air_uncertainty : float
        Relative standard uncertainty of area from the air readings of this sweep, beyond what
        repeats already show. [-]
    """

    curve: FlowCurve
    repeatability: Repeatability
    calibration: str
    calibration_uncertainty: float
    session: str = ""
    air_uncertainty: float = 0.0


@dataclass(frozen=True, slots=True)
class Gain:
    """One change with its uncertainty.

    Parameters
    ----------
    before, after : float
        Effective area, geometric mean of the repeats. [m2]
    gain : float
        Relative change, ``after / before - 1``. [-]
    low, high : float
        Ends of the 95 % interval of the gain. [-]
    deviation : float
        Standard uncertainty of the logarithm of the ratio. [-]
    degrees_of_freedom : float
        Effective degrees of freedom behind it. [-]
    verdict : Verdict
    """

    before: float
    after: float
    gain: float
    low: float
    high: float
    deviation: float
    degrees_of_freedom: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class LiftGain:
    """Gain at one lift.

    Parameters
    ----------
    lift : float
        Valve lift. [m]
    gain : Gain
    interpolated : bool
        At least one sweep had to be read between its lifts.
    """

    lift: float
    gain: Gain
    interpolated: bool


@dataclass(frozen=True, slots=True)
class BandGain:
    """Gain of the mean area over a lift band.

    Parameters
    ----------
    band : LiftBand
    low, high : float
        Stretch of lift really covered. [m]
    gain : Gain
    """

    band: LiftBand
    low: float
    high: float
    gain: Gain


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Everything a before/after says.

    Parameters
    ----------
    lifts : tuple of LiftGain
    bands : tuple of BandGain
        Empty without a valve diameter.
    over_cam : Gain or None
        Gain of the mean area over the open time of a cam.
    cam_weights : LiftWeights or None
        The weights behind it.
    findings : tuple of Finding
        What limits the comparison.
    """

    lifts: tuple[LiftGain, ...]
    bands: tuple[BandGain, ...]
    over_cam: Gain | None
    cam_weights: LiftWeights | None
    findings: tuple[Finding, ...]


def _leak_treated(curve: FlowCurve, leak: LeakTreatment) -> FlowCurve:
    if leak is LeakTreatment.AS_UNCERTAINTY:
        return curve
    area = leak_corrected(curve.area, np.nan_to_num(curve.leak), leak)
    if not np.all(np.isfinite(area)):
        raise RangeError(
            "The recorded leak is as large as the flow at the lowest lift.",
            "Check its unit, or count the leak as uncertainty.",
        )
    return make_curve(
        curve.lift,
        area,
        resolution=curve.resolution,
        scatter=curve.scatter,
        leak=curve.leak,
        range_number=curve.range_number,
    )


def _gains(before: Array, after: Array, variances: Array, free: Array) -> list[Gain]:
    """Turn areas and grouped variances of the log ratio, shape (g, f), into gains."""
    log_ratio = np.log(after / before)
    deviation, freedom = sum_of_students(variances, free)
    wide = coverage_factor(freedom, 0.95) * deviation
    narrow = coverage_factor(freedom, 0.90) * deviation
    gains = []
    for i, value in enumerate(log_ratio):
        if abs(value) > wide[i]:
            verdict = Verdict.REAL
        elif abs(value) > narrow[i]:
            verdict = Verdict.PROBABLY
        else:
            verdict = Verdict.CANT_TELL
        gains.append(
            Gain(
                before=float(before[i]),
                after=float(after[i]),
                gain=math.expm1(value),
                low=math.expm1(value - wide[i]),
                high=math.expm1(value + wide[i]),
                deviation=float(deviation[i]),
                degrees_of_freedom=float(freedom[i]),
                verdict=verdict,
            )
        )
    return gains


def _pooled_repeatability(
    before: Sequence[Sweep],
    after: Sequence[Sweep],
    curves: tuple[list[FlowCurve], list[FlowCurve]],
) -> dict[Repeatability, Repeatability]:
    """Shop figures of each bench, weighed with the scatter of the sweeps being compared."""
    groups: dict[Repeatability, list[list[FlowCurve]]] = {}
    for side, side_curves in zip((before, after), curves, strict=True):
        together: dict[tuple[Repeatability, str, str], list[FlowCurve]] = {}
        for sweep, curve in zip(side, side_curves, strict=True):
            key = (sweep.repeatability, sweep.calibration, sweep.session)
            together.setdefault(key, []).append(curve)
        for (shop, _, _), group in together.items():
            groups.setdefault(shop, []).append(group)
    return {shop: with_own_scatter(shop, found) for shop, found in groups.items()}


def _findings(
    before: Sequence[Sweep],
    after: Sequence[Sweep],
    grid: Array,
    interpolated: NDArray[np.bool_],
    weights: LiftWeights | None,
) -> list[Finding]:
    found = []
    for word, side in (("before", before), ("after", after)):
        if len(side) == 1:
            found.append(
                Finding(
                    "single-sweep",
                    Severity.NOTE,
                    f"There is only one sweep {word}; its error is judged by the shop's figure.",
                    "Take the head off, refit it and sweep again.",
                )
            )
        ends = (min(s.curve.lift[0] for s in side), max(s.curve.lift[-1] for s in side))
        if ends[0] < grid[0] - SAME_LIFT or ends[1] > grid[-1] + SAME_LIFT:
            found.append(
                Finding(
                    "lift-range-differs",
                    Severity.NOTE,
                    f"Compared from {grid[0] * 1e3:.2f} to {grid[-1] * 1e3:.2f} mm only; the "
                    f"sweeps {word} go further.",
                    "Nothing is extended beyond the lifts tested on both sides.",
                )
            )
    if np.any(interpolated):
        found.append(
            Finding(
                "lifts-interpolated",
                Severity.NOTE,
                f"At {int(interpolated.sum())} of {grid.size} lifts a curve was read between its "
                "lifts.",
                "Test the same lifts before and after.",
            )
        )
    keys = {s.calibration: s.calibration_uncertainty for s in (*before, *after)}
    if {s.calibration for s in before} != {s.calibration for s in after}:
        unknown = [key for key, value in keys.items() if not value > 0.0]
        found.append(
            Finding(
                "different-bench",
                Severity.WARNING,
                "Before and after come from different benches or calibrations, so the bench error "
                "does not cancel"
                + (f"; it is not known for {', '.join(sorted(unknown))}." if unknown else "."),
                "Compare on one bench, or enter the uncertainty of each calibration.",
            )
        )
    if weights is not None and weights.held > 0.0:
        found.append(
            Finding(
                "cam-lifts-higher",
                Severity.NOTE,
                f"The cam holds the valve above the highest lift compared for {weights.held:.0%} "
                "of the open time; the area there is taken as that of the highest lift.",
                "Sweep up to the lift of the cam.",
                size=weights.held,
            )
        )
    return found


@dataclass(frozen=True, slots=True, eq=False)
class JoinedSweeps:
    """Sweeps of both sides at common lifts, with the covariance of all they say.

    Parameters
    ----------
    grid : ndarray, shape (n,)
        Valve lift. [m]
    before, after : ndarray, shape (n,)
        Effective area, geometric mean of the repeats. [m2]
    covariances : ndarray, shape (g, 2n, 2n)
        Of [ln after, ln before], by what one estimate of a variance stands behind. [-]
    degrees_of_freedom : ndarray, shape (g,)
        [-]
    interpolated : ndarray of bool, shape (n,)
        Where at least one sweep was read between its lifts. [-]
    """

    grid: Array
    before: Array
    after: Array
    covariances: Array
    degrees_of_freedom: Array
    interpolated: NDArray[np.bool_]


def join_sweeps(
    before: Sequence[Sweep],
    after: Sequence[Sweep],
    leak: LeakTreatment = LeakTreatment.AS_UNCERTAINTY,
) -> JoinedSweeps:
    """Bring sweeps of both sides to common lifts.

    Parameters as in :func:`compare`.

    Raises
    ------
    InputError
        No sweep on a side, or no lifts in common.
    RangeError
        Leak outside what is possible.
    """
    if not before or not after:
        raise InputError("A before/after needs at least one sweep on each side.")
    curves = (
        [_leak_treated(s.curve, leak) for s in before],
        [_leak_treated(s.curve, leak) for s in after],
    )
    grid = common_lifts(*curves)
    pooled = _pooled_repeatability(before, after, curves)
    sides = []
    for word, side, side_curves in zip(("b", "a"), (before, after), curves, strict=True):
        budgets = [
            sweep_budget(
                curve,
                pooled[sweep.repeatability],
                sweep=f"{word}{number}",
                bench=sweep.calibration,
                calibration=sweep.calibration,
                calibration_uncertainty=sweep.calibration_uncertainty,
                session=sweep.session,
                air_uncertainty=sweep.air_uncertainty,
                leak=leak,
            )
            for number, (sweep, curve) in enumerate(zip(side, side_curves, strict=True))
        ]
        sides.append(align(grid, side_curves, budgets))
    covariances, free = joint_covariances(sides[0], sides[1])
    interpolated: NDArray[np.bool_] = ~np.all(
        [is_tested(grid, c) for side in curves for c in side], axis=0
    )
    return JoinedSweeps(grid, sides[0].area, sides[1].area, covariances, free, interpolated)


def gains_of(functional: Array, joined: JoinedSweeps, widened: float = 1.0) -> list[Gain]:
    """Weighed sums of the logarithmic gains by lift, each with its interval and verdict.

    Parameters
    ----------
    functional : ndarray, shape (m, n)
        How each lift of ``joined.grid`` enters. [-]
    joined : JoinedSweeps
    widened : float
        Factor on all variances, for a model that does not quite fit. [-]

    Returns
    -------
    list of Gain
        With 1 before and the ratio after.
    """
    both = np.hstack([functional, -functional])
    variances = widened * np.sum((both @ joined.covariances) * both, axis=2)
    ratio = np.exp(functional @ np.log(joined.after / joined.before))
    return _gains(np.ones(ratio.size), ratio, variances, joined.degrees_of_freedom)


def compare(
    before: Sequence[Sweep],
    after: Sequence[Sweep],
    *,
    valve_diameter: float | None = None,
    bands: Sequence[LiftBand] | None = None,
    cam: LiftTable | None = None,
    demand: PistonDemand | None = None,
    leak: LeakTreatment = LeakTreatment.AS_UNCERTAINTY,
) -> Comparison:
    """Compare repeats before a cut with repeats after it.

    Parameters
    ----------
    before, after : sequence of Sweep
        One or more each; leave faulty sweeps out.
    valve_diameter : float or None
        Diameter the lift bands refer to; no bands without it. [m]
    bands : sequence of LiftBand or None
        The usual four when None.
    cam : LiftTable or None
        When given, the mean over its open time is compared as well.
    demand : PistonDemand or None
        Weights that mean by piston speed too.
    leak : LeakTreatment
        What is done with a recorded leak.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        No sweep on a side, or no lifts in common.
    RangeError
        Valve diameter or leak outside what is possible.

    Notes
    -----
    Definition.  With ``y`` the mean logarithm of the repeats, the gain is ``exp(y_after -
    y_before) - 1`` and its variance the full covariance of all readings, in which refit shift,
    lift error and leak are shared along a sweep and the bench calibration along all sweeps that
    carry its name (JCGM 100:2008, equation 13).  Means over bands and cams are weighted by
    ``w_j A_j / sum(w A)``, the first-order effect of a relative change at one lift.  The interval
    is that of :func:`~portwright.core.uncertainty.sum_of_students` over the kinds of error.
    """
    joined = join_sweeps(before, after, leak)
    grid, old_area, new_area = joined.grid, joined.before, joined.after

    spans = (
        ()
        if valve_diameter is None
        else band_weights(grid, valve_diameter, lift_bands() if bands is None else bands)
    )
    cam_weights = None if cam is None else time_at_lift(cam, grid, demand)
    rows = [np.eye(grid.size), *(s.weight[None, :] for s in spans)]
    if cam_weights is not None:
        rows.append(cam_weights.weight[None, :])
    weights = np.vstack(rows)
    area_before, area_after = weights @ old_area, weights @ new_area
    functional = np.hstack(
        [
            weights * new_area / area_after[:, None],
            -weights * old_area / area_before[:, None],
        ]
    )
    variances = np.sum((functional @ joined.covariances) * functional, axis=2)
    gains = _gains(area_before, area_after, variances, joined.degrees_of_freedom)

    interpolated = joined.interpolated
    span_gains = gains[grid.size : grid.size + len(spans)]
    return Comparison(
        lifts=tuple(
            LiftGain(float(x), g, bool(i))
            for x, g, i in zip(grid, gains[: grid.size], interpolated, strict=True)
        ),
        bands=tuple(
            BandGain(s.band, s.low, s.high, g) for s, g in zip(spans, span_gains, strict=True)
        ),
        over_cam=None if cam_weights is None else gains[-1],
        cam_weights=cam_weights,
        findings=tuple(_findings(before, after, grid, interpolated, cam_weights)),
    )
