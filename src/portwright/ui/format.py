"""Values as text in the units of the page, never with more digits than are known."""

from __future__ import annotations

import math

from portwright import units
from portwright.model.quantity import AsTyped
from portwright.ui.state import View
from portwright.units import Kind


def number(si: float, kind: Kind, view: View, decimals: int | None = None) -> str:
    """SI value as a bare number in the unit of the page, for boxes and tables."""
    return units.show(si, view.unit(kind), kind, decimals)


def quantity(si: float, kind: Kind, view: View, decimals: int | None = None) -> str:
    """SI value with its unit: "36.01 mm"."""
    return f"{number(si, kind, view, decimals)} {units.sign(view.unit(kind))}"


def typed_number(value: AsTyped, kind: Kind, view: View) -> str:
    """A typed value in the unit of the page: untouched where it was typed in that unit.

    Converted values keep the size of the last digit typed, so 36.0 mm becomes 1.417 in.
    """
    target = view.unit(kind)
    if units.unit(value.unit, kind).name == target:
        return value.text
    step = units.spread_to_si(units.last_digit(value.text), value.unit, kind)
    step = abs(units.from_si(step, target, kind) - units.from_si(0.0, target, kind))
    decimals = max(0, math.ceil(-math.log10(step) - 1e-9)) if step > 0.0 else 0
    return units.show(value.si, target, kind, min(decimals, 6))


def typed(value: AsTyped, kind: Kind, view: View) -> str:
    """A typed value with its unit in the unit of the page."""
    return f"{typed_number(value, kind, view)} {units.sign(view.unit(kind))}"


def percent(fraction: float, decimals: int = 1) -> str:
    """Fraction as percent: "85.7 %"."""
    return f"{100.0 * fraction:.{decimals}f} %" if math.isfinite(fraction) else "–"


def signed_percent(fraction: float, decimals: int = 1) -> str:
    """Fraction as percent with its sign, a true minus for losses: "+2.1 %"."""
    if not math.isfinite(fraction):
        return "–"
    text = f"{100.0 * fraction:+z.{decimals}f} %"
    return text.replace("-", "\u2212")


def day(iso: str) -> str:
    """ISO date as shown; partial dates stay as they are, nothing stays nothing."""
    return iso[:10] if iso else "no date"
