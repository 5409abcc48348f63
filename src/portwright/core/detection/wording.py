"""What a finding says: plain words, both unit systems, no more digits than are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from portwright.core.curve import Array
from portwright.core.detection.explain import Explanation
from portwright.core.detection.limits import to_cfm28
from portwright.core.detection.roughness import Roughness
from portwright.core.detection.search import Verdict
from portwright.core.detection.swaps import Swap
from portwright.core.detection.sweeps import Group, Side, SweepRecord, label
from portwright.core.detection.templates import Cause
from portwright.errors import Finding, Severity, Where

_HINTS = {
    Cause.LIFT: "Likely cause: lift zero set with the valve not seated, or the dial or fixture "
    "moved. Check the zero on the closed valve with the checking spring in, then sweep again.",
    Cause.LEAK: "Likely cause: air getting in past the head gasket, adapter, plug hole or valve. "
    "Blank the port, read the leak at test pressure, then sweep again.",
    Cause.FACTOR: "Likely cause: bench not warmed up, wrong calibration or range constant, wrong "
    "test pressure or air temperature, or the head sitting differently on the adapter. Put a "
    "reference plate on, then sweep again.",
    Cause.STEP: "Likely cause: a range changed without its own constant, or the lift slipped. "
    "Read the lifts on both sides of the step again.",
    Cause.READING: "Likely cause: a misread or mistyped number, or the lift set wrong once. "
    "Read this lift again.",
}
_COLD = "This was the first sweep of the session: was the bench warm? "


def length(value: float) -> str:
    """Small length in mm and thou."""
    return f"{abs(value) * 1e3:.2f} mm ({abs(value) / 25.4e-6:.0f} thou)"


def lift(value: float) -> str:
    """Valve lift in mm and inch."""
    return f"{value * 1e3:.1f} mm ({value / 0.0254:.3f} in)"


def leak(area: float) -> str:
    """Leak as flow and as effective area."""
    return f"{to_cfm28(area):.1f} cfm at 28 inH2O ({area * 1e6:.1f} mm²)"


def percent(value: float) -> str:
    """Relative size without sign."""
    return f"{abs(value) * 100.0:.1f} %"


def verdict_findings(verdict: Verdict, cold: bool) -> list[Finding]:
    """Findings of one settled sweep."""
    if verdict.swap is not None:
        return [_swap(verdict, verdict.swap)]
    if verdict.rival is not None:
        return [_disagree(verdict, verdict.rival)]
    if verdict.explanation is None:
        return [_outlier(verdict)]
    explanation = verdict.explanation
    return [_mistake(verdict, explanation, place, cold) for place in range(len(explanation.causes))]


def _mistake(verdict: Verdict, explanation: Explanation, place: int, cold: bool) -> Finding:
    sweep = verdict.sweep
    cause, size = explanation.causes[place], float(explanation.sizes[place])
    at = float(sweep.curve.lift[explanation.at[place]])
    hint = _HINTS[cause]
    if cause is Cause.FACTOR and cold:
        hint = _COLD + hint
    if verdict.other is not None:
        also = " with ".join(_NAMES[c] for c in verdict.other.causes)
        hint += f" It could also be {also}."
    return Finding(
        code=cause.value,
        severity=Severity.WARNING,
        message=f"{start(sweep)} {_seen(sweep, cause, size, at)}.",
        hint=hint,
        where=_at(sweep.where, at),
        size=size,
    )


_NAMES = {
    Cause.LIFT: "a lift-zero offset",
    Cause.LEAK: "a leak",
    Cause.FACTOR: "one factor on the whole sweep",
    Cause.STEP: "a step between ranges",
    Cause.READING: "one odd reading",
}


def _seen(sweep: SweepRecord, cause: Cause, size: float, at: float) -> str:
    side = "high" if size > 0.0 else "low"
    if cause is Cause.LIFT:
        open_ = "more" if size > 0.0 else "less"
        return (
            f"reads as if the valve was open {length(size)} {open_} than the dial said: "
            f"{side} at low lift, right at the top"
        )
    if cause is Cause.LEAK:
        share = size / float(sweep.curve.area[0])
        return (
            f"has about {leak(size)} added at every lift: a leak, "
            f"{percent(share)} of the flow at {lift(at)}"
        )
    if cause is Cause.FACTOR:
        return f"reads {percent(size)} {side} at every lift"
    if cause is Cause.STEP:
        numbers = sweep.curve.range_number
        if np.any(numbers):
            return f"reads {percent(size)} {side} from the range change at {lift(at)} on"
        return f"steps by {percent(size)} and reads {side} from {lift(at)} on"
    return f"reads {percent(size)} {side} at {lift(at)} only"


def _outlier(verdict: Verdict) -> Finding:
    worst, size = _worst(verdict.difference)
    at = float(verdict.sweep.curve.lift[worst])
    return Finding(
        code="outlier-repeat",
        severity=Severity.WARNING,
        message=f"{start(verdict.sweep)} differs from its repeats by up to {percent(size)} "
        f"(at {lift(at)}) in a way no single mistake explains.",
        hint="Leave it out or sweep again: check that the same valve, plug, adapter and inlet aid "
        "were fitted.",
        where=_at(verdict.sweep.where, at),
        size=size,
    )


def _disagree(verdict: Verdict, second: SweepRecord) -> Finding:
    first = verdict.sweep
    worst, size = _worst(verdict.difference)
    at = float(first.curve.lift[worst])
    hint = "A third sweep decides."
    if verdict.explanation is not None:
        shape = " with ".join(_NAMES[c] for c in verdict.explanation.causes)
        hint = f"The difference has the shape of {shape} in one of them. {hint}"
    return Finding(
        code="repeats-disagree",
        severity=Severity.WARNING,
        message=f"{start(first)} and {label(second)} differ by up to {percent(size)} "
        f"(at {lift(at)}), more than the bench repeats; which one is wrong cannot be told.",
        hint=hint,
        where=Where(
            job=first.where.job,
            port=first.port or first.where.port,
            stage=first.stage or first.where.stage,
            lift=at,
        ),
        size=abs(size),
    )


def _swap(verdict: Verdict, swap: Swap) -> Finding:
    sweep = verdict.sweep
    if swap.side:
        code, like = "swapped-side", f"an {swap.side} port (nearest: {swap.port})"
    else:
        code, like = "swapped-port", f"port {swap.port}"
    return Finding(
        code=code,
        severity=Severity.WARNING,
        message=f"{start(sweep)} is filed under port {sweep.port} but looks like {like}; it is "
        f"{percent(swap.difference)} away from where it is filed.",
        hint="Check the port name on the sheet; file it where it belongs or sweep again.",
        where=sweep.where,
        size=swap.difference,
    )


def misfiled_port(group: Group, side: Side) -> Finding:
    """All repeats of a port look like the other side of the head."""
    first = group.first
    return Finding(
        code="swapped-side",
        severity=Severity.WARNING,
        message=f"Port {first.port} {first.stage} is filed as {first.side} but all its sweeps look "
        f"like an {side} port.",
        hint="Check side and port name on the sheet.",
        where=group.where,
    )


def rough(found: Roughness) -> Finding:
    """Scatter that nobody noted."""
    first = found.sweeps[0]
    ports = list(dict.fromkeys(s.port or s.where.port for s in found.sweeps))
    one = len(found.sweeps) == 1
    begin = float(next(x for x in first.curve.lift if x >= found.begin - 1e-9))
    who = f"{start(first)}" if one else f"{', '.join(ports)} {first.stage}".strip()
    return Finding(
        code="unsteady-flow",
        severity=Severity.NOTE,
        message=f"{who}: readings from {lift(begin)} on jump about by some "
        f"{percent(2.0 * found.spread)}, more than the bench repeats; the scatter was not noted.",
        hint="Separated flow does this. Note how far the reading moves at each lift, and repeat "
        "the sweep: single readings up there mean little.",
        where=replace(
            first.where,
            run=first.where.run if one else "",
            repeat=first.where.repeat if one else None,
            port=ports[0] if len(ports) == 1 else "",
            lift=begin,
        ),
        size=2.0 * found.spread,
    )


def _worst(difference: Array) -> tuple[int, float]:
    place = int(np.argmax(np.abs(difference)))
    return place, float(difference[place])


def start(sweep: SweepRecord) -> str:
    """Name of a sweep at the beginning of a sentence."""
    name = label(sweep)
    return name[0].upper() + name[1:]


def _at(where: Where, at: float) -> Where:
    return replace(where, lift=at)
