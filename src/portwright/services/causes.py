"""Why a reading does not fit: the slip that would explain it, in words.

Every cause is tried as "had this not happened, the reading would be that"; the first one that
brings the reading back to what was expected is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from portwright import units
from portwright.core.curve import FlowCurve
from portwright.errors import Finding, InputError, Severity, Where
from portwright.model.quantity import AsTyped
from portwright.model.run import Reading
from portwright.services.capture import OpenSweep
from portwright.services.display import Display
from portwright.services.earlier import Earlier, reduced_sweep
from portwright.units import Kind

_CLOSE = 3.0  # standard deviations within which an explained reading fits
_BETTER = 0.35  # share of the misfit an explanation may leave
_SLIP = (25e-6, 0.6e-3)  # lift errors worth naming [m]
_STEEP = 0.4  # d(ln A)/d(ln L) from which the lift matters [-]
_LOW = 0.3  # share of the lift range in which a leak shows
_LEAK = units.to_si(8.0, "cfm", Kind.FLOW)  # more than this would be heard [m3/s]


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """A reading that does not fit.

    Parameters
    ----------
    sweep : OpenSweep
    reading : Reading
    earlier : Earlier
    difference : float
        ln of the area read over the area expected. [-]
    deviation : float
        Its standard deviation. [-]
    against : str
        What it was judged by.
    exponent : float
        Power of the shown number that the area goes with. [-]
    """

    sweep: OpenSweep
    reading: Reading
    earlier: Earlier
    difference: float
    deviation: float
    against: str
    exponent: float

    def explained_by(self, change: float) -> bool:
        """Whether a change of ln A would make the reading fit."""
        left = abs(self.difference + change)
        return left < max(_CLOSE * self.deviation, 0.012) and left < _BETTER * abs(self.difference)

    @property
    def value(self) -> AsTyped:
        """What was typed."""
        found = self.sweep.shown(self.reading)
        if found is None:  # pragma: no cover - a reading without its number is never built
            raise InputError("The reading has no number.")
        return found

    @property
    def lift(self) -> float:
        """Lift it was entered for. [m]"""
        return self.reading.lift.si


def explained(doubt: Doubt, display: Display) -> Finding:
    """The finding for a reading that does not fit, with its likely cause."""
    code, hint = (
        _typing(doubt)
        or _range(doubt)
        or _other_lift(doubt, display)
        or _slip_or_leak(doubt, display)
        or (
            "reading-out-of-line",
            (
                "Look at test pressure, zero, plug and inlet aid, then read again. "
                "If the reading swings, the flow is unsteady here: keep it."
            ),
        )
    )
    value = doubt.value
    usual = units.parse_number(value.text) * math.exp(-doubt.difference / doubt.exponent)
    digits = _decimals(value.text)
    return Finding(
        code,
        Severity.WARNING,
        f"{value} at {doubt.reading.lift} is {_percent(doubt.difference)} "
        f"{'above' if doubt.difference > 0 else 'below'} {doubt.against}, "
        f"about {usual:.{digits}f} {value.unit}.",
        hint,
        Where(
            job=doubt.sweep.run.job,
            run=doubt.sweep.run.code,
            port=doubt.sweep.run.port,
            stage=doubt.sweep.run.stage,
            repeat=doubt.sweep.run.repeat,
            lift=doubt.lift,
        ),
        size=math.expm1(doubt.difference),
    )


def _percent(difference: float) -> str:
    size = 100.0 * abs(math.expm1(difference))
    return f"{size:.0f} %" if size >= 10.0 else f"{size:.1f} %"


def _decimals(text: str) -> int:
    return len(text.replace(",", ".").partition(".")[2]) if "/" not in text else 2


def _typing(doubt: Doubt) -> tuple[str, str] | None:
    """A number that fits and is one slip of the fingers away."""
    text = doubt.value.text
    value = units.parse_number(text)
    for other, what in _slips(text):
        try:
            meant = units.parse_number(other)
        except InputError:
            continue
        if meant > 0.0 and doubt.explained_by(doubt.exponent * math.log(meant / value)):
            return "reading-typing-slip", f"{what}? {other} {doubt.value.unit} would fit."
    return None


def _slips(text: str) -> Iterable[tuple[str, str]]:
    if "/" in text or not text.strip():
        return
    for k in range(len(text) - 1):
        if text[k] != text[k + 1] and (text[k] + text[k + 1]).isdigit():
            yield text[:k] + text[k + 1] + text[k] + text[k + 2 :], "Two digits swapped"
    mark = "," if "," in text else "."
    value = units.parse_number(text)
    for factor in (0.1, 10.0, 0.01, 100.0):
        shifted = f"{value * factor:.10g}".replace(".", mark)
        yield shifted, "Decimal mark in the wrong place"
    if text[0].isdigit():
        for first in "123456789":
            yield first + text, "The first digit missing"
    for k, sign in enumerate(text):
        if k + 1 < len(text) and sign == text[k + 1]:
            yield text[:k] + text[k + 1 :], "One digit twice"


def _range(doubt: Doubt) -> tuple[str, str] | None:
    if not doubt.sweep.ranges:
        return None
    full = {r.number: r.full_scale.si for r in doubt.sweep.calibration.ranges}
    chosen = doubt.reading.range_number or 0
    fits = [
        number
        for number, scale in full.items()
        if number != chosen and doubt.explained_by(math.log(scale / full[chosen]))
    ]
    if not fits:
        return None
    return (
        "reading-wrong-range",
        f"Range {fits[0]} instead of {chosen}? On range {fits[0]} the reading would fit.",
    )


def _curve(doubt: Doubt) -> FlowCurve | None:
    """The curve nearest to what this sweep should look like."""
    for members in (doubt.earlier.same, doubt.earlier.before, doubt.earlier.sisters):
        curves = [r.curve for r in members if r.curve is not None]
        if curves:
            return curves[-1]
    return reduced_sweep(doubt.sweep.run, doubt.sweep.calibration).curve


def _other_lift(doubt: Doubt, display: Display) -> tuple[str, str] | None:
    """The valve still stands at the lift before, or already at the next."""
    curve = _curve(doubt)
    if curve is None:
        return None
    here = _log_area(curve, doubt.lift)
    planned = [t.si for t in doubt.sweep.lifts.lifts]
    near = [
        *[x for x in sorted(planned, reverse=True) if x < doubt.lift - 1e-6][:1],
        *[x for x in sorted(planned) if x > doubt.lift + 1e-6][:1],
    ]
    for other in near:
        if doubt.explained_by(here - _log_area(curve, other)):
            text = f"{display.lift_text(other)} {display.length}"
            return "reading-wrong-lift", f"Does the valve stand at {text}? There it would fit."
    return None


def _log_area(curve: FlowCurve, lift: float) -> float:
    """Log area at a lift; proportional to it below the first, level above the last."""
    clipped = float(np.clip(lift, curve.lift[0], curve.lift[-1]))
    area = float(curve.at(np.array([clipped]))[0])
    return math.log(area * min(1.0, lift / float(curve.lift[0])))


def _slip_or_leak(doubt: Doubt, display: Display) -> tuple[str, str] | None:
    curve = _curve(doubt)
    slope = 1.0 / doubt.lift
    if curve is not None:
        slope = float(np.interp(doubt.lift, curve.lift, curve.log_slope()))
    words = []
    code = "reading-lift-slip"
    power = max(slope * doubt.lift, 1e-6)  # locally the area goes with a power of the lift
    slip = doubt.lift * math.expm1(min(doubt.difference / power, 10.0))
    if power > _STEEP and _SLIP[0] < abs(slip) < _SLIP[1]:
        size = display.length_text(abs(slip))
        more = "further open" if slip > 0.0 else "less open"
        words.append(
            f"As if the valve stood {size} {more} than the dial says: check lift zero and slack."
        )
    top = max(t.si for t in doubt.sweep.lifts.lifts) if doubt.sweep.lifts.lifts else doubt.lift
    flow = _leak_flow(doubt)
    if doubt.difference > 0.0 and doubt.lift < _LOW * top and 0.0 < flow < _LEAK:
        code = code if words else "reading-leak"
        leak = f"{display.flow_text(flow)} {display.flow}"
        words.append(f"A leak of {leak} would do it too: plug, gasket, adapter.")
    return (code, " ".join(words)) if words else None


def _leak_flow(doubt: Doubt) -> float:
    """Flow beyond what was expected, for a bench that shows flow. [m3/s]"""
    if doubt.sweep.kind is not Kind.FLOW:
        return math.inf
    return doubt.value.si * -math.expm1(-doubt.difference)
