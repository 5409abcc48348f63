"""Checks on what was noted beside a sweep, and on coefficients no port can have."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from portwright.core.curve import Array
from portwright.core.detection import wording
from portwright.core.detection.limits import Limits
from portwright.core.detection.sweeps import Group, SweepRecord, label
from portwright.errors import Finding, Severity, Where


def missing(group: Group, limits: Limits) -> list[Finding]:
    """One finding for each condition not recorded, naming the run if only one lacks it."""
    names = dict.fromkeys(name for sweep in group.sweeps for name in sweep.missing)
    out = []
    for name in names:
        without = [sweep for sweep in group.sweeps if name in sweep.missing]
        one = len(without) == 1
        essential = name in limits.essential_conditions
        who = label(without[0]) if one else ", ".join(label(s) for s in without)
        out.append(
            Finding(
                code="missing-condition",
                severity=Severity.WARNING if essential else Severity.NOTE,
                message=f"The {name} was not recorded for {who}.",
                hint="Add it from the bench notes if it is known; without it the result can only "
                "be compared with sweeps made in the same sitting.",
                where=without[0].where if one else group.where,
            )
        )
    return out


def pressure(group: Group, limits: Limits) -> list[Finding]:
    """Test pressure changed inside a sweep or between repeats."""
    out = []
    middles = [_middle(sweep.test_pressure) for sweep in group.sweeps]
    usual = _middle(np.array(middles))
    for sweep, middle in zip(group.sweeps, middles, strict=True):
        if not np.isfinite(middle):
            continue
        inside = np.abs(np.atleast_1d(sweep.test_pressure) / middle - 1.0)
        worst = int(np.nanargmax(inside))
        if inside[worst] > limits.pressure_change:
            at = float(sweep.curve.lift[worst])
            size = float(np.atleast_1d(sweep.test_pressure)[worst] / middle - 1.0)
            seen = f"changed by {wording.percent(size)} at {wording.lift(at)} in {label(sweep)}"
            out.append(_wrong_pressure(seen, size, replace(sweep.where, lift=at)))
        elif abs(middle / usual - 1.0) > limits.pressure_change:
            size = middle / usual - 1.0
            seen = f"of {label(sweep)} is {wording.percent(size)} off that of its repeats"
            out.append(_wrong_pressure(seen, size, sweep.where))
    return out


def _wrong_pressure(seen: str, size: float, where: Where) -> Finding:
    return Finding(
        code="wrong-pressure",
        severity=Severity.WARNING,
        message=f"The test pressure {seen}.",
        hint="Hold one test pressure through a job; check the number on the sheet and that the "
        "flow was corrected for it.",
        where=where,
        size=size,
    )


def _middle(values: Array) -> float:
    known = np.atleast_1d(values)
    known = known[np.isfinite(known)]
    return float(np.median(known)) if known.size else float("nan")


def usual_leak(sweeps: Sequence[SweepRecord]) -> dict[str, float]:
    """Median of the recorded leak checks of each bench. [m2]"""
    seen: dict[str, list[float]] = {}
    for sweep in sweeps:
        leak = _middle(sweep.curve.leak)
        if np.isfinite(leak):
            seen.setdefault(sweep.bench, []).append(leak)
    return {bench: float(np.median(leaks)) for bench, leaks in seen.items()}


def recorded_leak(sweep: SweepRecord) -> float:
    """Leak check of a sweep, NaN if none was recorded. [m2]"""
    return _middle(sweep.curve.leak)


def leak_check(sweep: SweepRecord, limits: Limits) -> Finding | None:
    """Leak check above what a tight set-up shows."""
    leak = recorded_leak(sweep)
    if not leak > limits.recorded_leak:
        return None
    share = leak / float(sweep.curve.area[0])
    at = float(sweep.curve.lift[0])
    return Finding(
        code="leak",
        severity=Severity.WARNING,
        message=f"The leak check of {label(sweep)} shows {wording.leak(leak)}, "
        f"{wording.percent(share)} of the flow at {wording.lift(at)}.",
        hint="Find the leak (gasket, adapter, plug hole, valve) with the port blanked, then sweep "
        "again; low lifts suffer most.",
        where=sweep.where,
        size=leak,
    )


def coefficients(sweep: SweepRecord, limits: Limits) -> list[Finding]:
    """Discharge coefficients above the usual, or above what is possible."""
    impossible = _too_high(
        sweep,
        sweep.minimum_area,
        limits.minimum_coefficient,
        "true minimum area",
        Severity.FAULT,
        "more than any port passes",
    )
    if impossible:
        return [impossible]
    checks = (
        _too_high(
            sweep,
            sweep.curtain_area,
            limits.curtain_coefficient,
            "curtain area",
            Severity.WARNING,
            f"above the usual {limits.curtain_coefficient:.2f}",
        ),
        _too_high(
            sweep,
            sweep.net_throat_area,
            limits.throat_coefficient,
            "net throat area",
            Severity.WARNING,
            f"above the usual {limits.throat_coefficient:.2f}",
        ),
    )
    return [finding for finding in checks if finding is not None]


def _too_high(
    sweep: SweepRecord, reference: Array, limit: float, name: str, severity: Severity, remark: str
) -> Finding | None:
    ratio = np.nan_to_num(sweep.curve.area / reference)
    worst = int(np.argmax(ratio))
    if not ratio[worst] > limit:
        return None
    at = float(sweep.curve.lift[worst])
    return Finding(
        code="coefficient-too-high",
        severity=severity,
        message=f"{wording.start(sweep)} has a discharge coefficient on {name} of "
        f"{ratio[worst]:.2f} at {wording.lift(at)}, {remark}.",
        hint="Check flow unit, test pressure, valve and throat size, number of valves, and leak.",
        where=replace(sweep.where, lift=at),
        size=float(ratio[worst]),
    )
