"""Which lifts a sweep goes through: even steps, shares of the valve diameter, an own list."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from portwright import units
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.model.run import Run
from portwright.services.valves import valve_at
from portwright.units import Kind

_LONGEST = 60  # lifts of one sweep
_WHOLE = 0.75  # of the longest sweep of a port; one with fewer lifts was cut short
_USUAL = {"mm": ("1", "1", "12"), "in": ("0.050", "0.050", "0.600")}  # common practice
_DIAL = {"mm": 2, "in": 3}  # digits a dial indicator shows
LD_STEP = 0.05
_LD_HIGHEST = 0.35


@dataclass(frozen=True, slots=True)
class LiftList:
    """Lifts in the order they are read: rising, or falling for a sweep that comes down.

    Parameters
    ----------
    name : str
        How the list came about, in words.
    lifts : tuple of AsTyped
        [m]
    """

    name: str
    lifts: tuple[AsTyped, ...]


def fixed_steps(first: str, step: str, last: str, unit: str) -> LiftList:
    """Lifts from first to last in even steps, as the dial shows them.

    Raises
    ------
    InputError
        Not a rising list of sensible length.
    """
    begin, by, end = (_exact(text) for text in (first, step, last))
    if begin <= 0 or by <= 0 or end < begin:
        raise InputError(
            f"Lifts from {first} to {last} by {step} {unit} do not rise.", "Like 1 to 12 by 1 mm."
        )
    count = int((end - begin) / by) + 1
    if count > _LONGEST:
        raise InputError(f"That makes {count} lifts.", f"Take {_LONGEST} at most.")
    digits = max(_digits(text) for text in (first, step))
    found = [_lift(float(begin + k * by), unit, digits) for k in range(count)]
    return LiftList(f"{first} to {last} by {step} {unit}", tuple(found))


def usual_steps(unit: str) -> LiftList:
    """The steps most shops use. (common practice)"""
    return fixed_steps(*_USUAL.get(unit, _USUAL["mm"]), unit if unit in _USUAL else "mm")


def ld_steps(
    valve_diameter: float, unit: str, step: float = LD_STEP, highest: float = _LD_HIGHEST
) -> LiftList:
    """Lifts at even shares of the valve diameter, rounded to what a dial shows.

    Parameters
    ----------
    valve_diameter : float
        [m]
    unit : str
        "mm" or "in".
    step, highest : float
        Lift over diameter. [-]

    Raises
    ------
    InputError
    """
    if not (0.0 < step <= highest <= 1.0) or highest / step > _LONGEST:
        raise InputError(f"Steps of {step} up to {highest} are no lift list.", "Usual step: 0.05.")
    digits = _DIAL.get(unit, 2)
    shares = [step * (k + 1) for k in range(int(highest / step + 1e-9))]
    found = [
        _lift(units.from_si(s * valve_diameter, unit, Kind.LENGTH), unit, digits) for s in shares
    ]
    return LiftList(f"lift/diameter by {step:g}", tuple(found))


def own_list(text: str, unit: str) -> LiftList:
    """Lifts as typed, parted by spaces or semicolons: "0,5 1 2 4".

    Raises
    ------
    InputError
        Nothing typed, or a lift that is not above zero.
    """
    parts = [p.rstrip(",") for p in re.split(r"[;\s]+", text.strip()) if p.rstrip(",")]
    found = {round(t.si, 8): t for t in (units.read(p, Kind.LENGTH, unit) for p in parts)}
    if not found or min(found) <= 0.0 or len(found) > _LONGEST:
        raise InputError(
            "An own list needs one to sixty lifts above zero.", "Type them like 0.5 1 2 4 6."
        )
    return LiftList("own list", tuple(found[key] for key in sorted(found)))


def lifts_of(run: Run) -> LiftList:
    """The lifts an earlier sweep went through."""
    found = {round(r.lift.si, 8): r.lift for r in run.readings}
    return LiftList(f"as in run {run.code}", tuple(found[key] for key in sorted(found)))


def proposed(contents: JobContents, port: str, stage: str, unit: str) -> list[LiftList]:
    """Lists to choose from, the best first: the lifts this port was swept at before.

    A sweep that was cut short comes second: its lifts are not all that the person wanted.
    """
    earlier = [r for r in contents.runs if r.port == port and len(r.readings) > 2]
    earlier.sort(key=lambda r: (r.date, r.time, r.code), reverse=True)
    longest = max((len(r.readings) for r in earlier), default=0)
    whole = [r for r in earlier if len(r.readings) >= _WHOLE * longest]
    cut_short = [r for r in earlier[:1] if r not in whole]
    found = [lifts_of(r) for r in (*whole[:1], *cut_short)]
    found.append(usual_steps(unit))
    valve = valve_at(contents, port, stage)
    if valve is not None:
        found.append(ld_steps(valve.head_diameter, unit if unit in _DIAL else "mm"))
    return found


def _exact(text: str) -> Fraction:
    value = units.parse_number(text)
    return Fraction(value).limit_denominator(1_000_000)


def _digits(text: str) -> int:
    step = units.last_digit(text)
    return next((n for n in range(6) if abs(step * 10**n - round(step * 10**n)) < 1e-9), 6)


def _lift(value: float, unit: str, digits: int) -> AsTyped:
    text = f"{value:.{digits}f}"
    return units.read(text, Kind.LENGTH, unit)
