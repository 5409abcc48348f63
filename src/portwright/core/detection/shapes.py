"""What the curve of a port tells by itself: separated flow, falling flow, late rise."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.curve import Array
from portwright.core.detection import wording
from portwright.core.detection.limits import Limits
from portwright.core.detection.roughness import Roughness
from portwright.core.detection.sweeps import Group, SweepRecord
from portwright.core.repeatability import Repeatability
from portwright.errors import Finding, Severity, Where

# A change of flow is believed from this many standard deviations on. [-]
_BELIEVED = 3.5


@dataclass(frozen=True, slots=True, eq=False)
class _Mean:
    """Mean curve of the sweeps of a port that share their lifts."""

    lift: Array
    log_area: Array
    variance: Array  # of a reading of the mean; what shifts all readings together is left out
    scatter: Array
    where: Where


def _mean(
    group: Group, faulty: Collection[SweepRecord], rough: Sequence[Roughness], reading: float
) -> _Mean | None:
    sound = [
        (sweep, noise + reading**2 + _extra(sweep, rough))
        for sweep, noise in zip(group.sweeps, group.noise, strict=True)
        if not any(sweep is f for f in faulty)
    ]
    if not sound:
        return None
    lift = sound[0][0].curve.lift
    same = [(s.curve, v) for s, v in sound if np.array_equal(s.curve.lift, lift)]
    curves, noise = [c for c, _ in same], [v for _, v in same]
    noted = np.array([c.scatter for c in curves])
    count = np.sum(np.isfinite(noted), axis=0)
    total = np.sum(np.nan_to_num(noted), axis=0)
    return _Mean(
        lift=lift,
        log_area=np.mean([np.log(c.area) for c in curves], axis=0),
        variance=np.mean(noise, axis=0) / len(noise),
        scatter=np.where(count > 0, total / np.maximum(count, 1), np.nan),
        where=group.where,
    )


def _extra(sweep: SweepRecord, rough: Sequence[Roughness]) -> Array:
    """Relative variance of scatter nobody had noted. [-]"""
    extra = np.zeros(sweep.curve.lift.size)
    for found in rough:
        if any(sweep is s for s in found.sweeps):
            extra += np.where(sweep.curve.lift >= found.begin - 1e-9, found.spread**2, 0.0)
    return extra


def curve_shapes(
    group: Group,
    faulty: Collection[SweepRecord],
    rough: Sequence[Roughness],
    repeatability: Repeatability,
    limits: Limits,
) -> list[Finding]:
    """Notes on the shape of a port's curve, faulty sweeps left out.

    Parameters
    ----------
    group : Group
    faulty : collection of SweepRecord
    rough : sequence of Roughness
        Scatter found by comparison that nobody had noted.
    repeatability : Repeatability
    limits : Limits
    """
    mean = _mean(group, faulty, rough, repeatability.reading)
    if mean is None:
        return []
    deviation = np.sqrt(mean.variance)
    found = (
        _unsteady(mean, limits),
        _falling(mean, deviation, limits),
        _late_rise(mean, deviation, limits),
    )
    return [finding for finding in found if finding is not None]


def _unsteady(mean: _Mean, limits: Limits) -> Finding | None:
    """Longest stretch of two lifts or more with high scatter."""
    high = np.nan_to_num(mean.scatter) >= limits.unsteady_scatter
    edges = np.flatnonzero(np.diff(np.concatenate([[0], high.astype(int), [0]])))
    stretches = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 2]
    if not stretches:
        return None
    a, b = max(stretches, key=lambda s: s[1] - s[0])
    size = float(np.max(mean.scatter[a:b]))
    return _note(
        "unsteady-flow",
        f"{_who(mean)}flow is unsteady from {wording.lift(float(mean.lift[a]))} to "
        f"{wording.lift(float(mean.lift[b - 1]))}: readings move by up to "
        f"±{wording.percent(size)}.",
        "Separated flow, usually off the short side. It is data, not a mistake: listen for "
        "flutter, and look at the short side.",
        mean=mean,
        at=int(a),
        size=size,
    )


def _falling(mean: _Mean, deviation: Array, limits: Limits) -> Finding | None:
    top = int(np.argmax(mean.log_area))
    if top == mean.lift.size - 1:
        return None
    fall = mean.log_area[top + 1 :] - mean.log_area[top]
    sigma = np.hypot(deviation[top + 1 :], deviation[top])
    low = int(np.argmin(fall))
    size = float(fall[low])
    if -size < max(limits.falling, _BELIEVED * float(sigma[low])):
        return None
    return _note(
        "falling-flow",
        f"{_who(mean)}flow falls by {wording.percent(size)} from "
        f"{wording.lift(float(mean.lift[top]))} to "
        f"{wording.lift(float(mean.lift[top + 1 + low]))}.",
        "The port backs up: usually separation off the short side. Repeat the lifts around the "
        "peak going up and going down to be sure.",
        mean=mean,
        at=top + 1 + low,
        size=size,
    )


def _late_rise(mean: _Mean, deviation: Array, limits: Limits) -> Finding | None:
    """A flat or falling interval followed by a rise beyond its level."""
    rise = np.diff(mean.log_area)
    steepness = rise / np.diff(np.log(mean.lift))
    for k in range(1, rise.size):
        if steepness[k - 1] > limits.flat:
            continue
        level = float(np.max(mean.log_area[: k + 1]))
        gain = mean.log_area[k + 1 :] - level
        steep = rise[k:] / np.diff(np.log(mean.lift[k:])) - max(float(steepness[k - 1]), 0.0)
        sigma = np.sqrt(deviation[k + 1 :] ** 2 + 2.0 * float(np.mean(deviation**2)))
        clear = (gain > np.maximum(limits.late_rise, _BELIEVED * sigma)) & (steep > 2 * limits.flat)
        if clear.any():
            at = k + 1 + int(np.argmax(clear))
            size = float(mean.log_area[at] - level)
            return _note(
                "late-rise",
                f"{_who(mean)}flow is flat at {wording.lift(float(mean.lift[k]))} and rises again "
                f"by {wording.percent(size)} up to {wording.lift(float(mean.lift[at]))}.",
                "Two flow patterns, or a lift or range slip at the flat part. Repeat these lifts "
                "going up and going down.",
                mean=mean,
                at=at,
                size=size,
            )
    return None


def _who(mean: _Mean) -> str:
    where = mean.where
    name = " ".join(part for part in (where.port, where.stage) if part)
    return f"{name}: " if name else "The "


def _note(code: str, message: str, hint: str, mean: _Mean, at: int, size: float) -> Finding:
    where = mean.where
    place = Where(where.job, where.run, where.port, where.stage, where.repeat, float(mean.lift[at]))
    return Finding(code, Severity.NOTE, message, hint, place, size)
