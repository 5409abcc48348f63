"""What can be varied on an engine, in the units people use."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from portwright import units
from portwright.core.engine.change import Change
from portwright.core.engine.ranges import Point, Range
from portwright.errors import InputError, UnknownNameError
from portwright.units import Kind

Ranges = tuple[Range, ...]
"""Limits of what is varied, in the units of :data:`KNOBS`."""


@dataclass(frozen=True, slots=True)
class Knob:
    """One thing that can be varied; its value says by how much, 0 changes nothing.

    Parameters
    ----------
    name : str
        As written in commands.
    words : str
        For people.
    field : str
        Field of :class:`~portwright.core.engine.change.Change`.
    kind, unit, decimals
        Unit of the value and digits worth showing.
    step : float
        Distance between values where nobody says. [unit]
    limits : tuple of float
        Limits offered first. [unit]
    factor : float
        Field over value; a relative change is a factor on what is there.
    relative : bool
    """

    name: str
    words: str
    field: str
    kind: Kind
    unit: str
    decimals: int
    step: float
    limits: tuple[float, float]
    factor: float = 1.0
    relative: bool = False

    def in_change(self, value: float) -> float:
        """Value as the field of a change holds it."""
        return (1.0 if self.relative else 0.0) + self.factor * value

    def text(self, value: float) -> str:
        """Signed value with its unit, "as it is" for none."""
        if abs(value) < 1e-9:
            return "as it is"
        unit = "" if self.unit == "-" else f" {'°' if self.unit == 'deg' else self.unit}"
        return f"{value:+z.{self.decimals}f}".replace("-", "−") + unit


def _length(
    name: str, words: str, decimals: int, step: float, limits: tuple[float, float], field: str = ""
) -> Knob:
    return Knob(name, words, field or name, Kind.LENGTH, "mm", decimals, step, limits, 1e-3)


def _percent(
    name: str, words: str, step: float, limits: tuple[float, float], decimals: int = 1
) -> Knob:
    return Knob(name, words, name, Kind.RATIO, "%", decimals, step, limits, 0.01, relative=True)


def _angle(name: str, words: str, field: str, limits: tuple[float, float]) -> Knob:
    return Knob(name, words, field, Kind.ANGLE, "deg", 0, 2.0, limits)


KNOBS: dict[str, Knob] = {
    k.name: k
    for k in (
        _length("lift", "full intake lift", 2, 0.25, (0.0, 2.0)),
        _angle("duration", "intake opening period", "duration", (-10.0, 20.0)),
        _angle("advance", "intake cam earlier", "advance", (-8.0, 8.0)),
        _angle("exhaust-duration", "exhaust opening period", "exhaust_duration", (-10.0, 20.0)),
        _angle("exhaust-advance", "exhaust cam earlier", "exhaust_advance", (-8.0, 8.0)),
        _length("runner", "runner length", 0, 10.0, (-50.0, 100.0)),
        _length("primary", "primary length", 0, 25.0, (-200.0, 200.0)),
        _percent("section", "area of the smallest section", 1.0, (0.0, 10.0), 0),
        _percent("throat", "throat diameter", 0.5, (0.0, 4.0)),
        _percent("valve", "intake valve diameter", 1.0, (0.0, 5.0), 0),
        Knob(
            "compression", "compression ratio", "compression", Kind.RATIO, "-", 2, 0.25, (0.0, 1.0)
        ),
    )
}


def read_ranges(texts: Sequence[str]) -> Ranges:
    """Read "runner=-50:100:10 mm" or "lift=0:2"; unit and step may be left out.

    Raises
    ------
    InputError
        Nothing to vary, one named twice, or not of this form.
    UnknownNameError
        Nothing of this name can be varied.
    UnitError, NumberError, RangeError
        Numbers, unit or limits make no sense.
    """
    ranges = [_read(text) for text in texts]
    names = [r.name for r in ranges]
    if not ranges:
        raise InputError("Nothing is varied.", "Name it, like --vary 'lift=0:2:0.25 mm'.")
    if len(set(names)) < len(names):
        raise InputError("The same thing is varied twice.", "Give each one range.")
    return tuple(ranges)


def _read(text: str) -> Range:
    name, sign, limits = (part.strip() for part in text.partition("="))
    knob = KNOBS.get(name)
    if knob is None:
        raise UnknownNameError("thing to vary", name, list(KNOBS))
    parts = limits.split(":")
    if not sign or len(parts) not in (2, 3):
        raise InputError(
            f"'{text}' is no range.", f"Write it like {name}=0:{knob.limits[1]:g}:{knob.step:g}."
        )
    last = re.fullmatch(r"(.*?)\s*([^\d\s.,/+-]\S*)?", parts[-1].strip())
    unit = (last[2] if last else None) or knob.unit
    parts[-1] = last[1] if last else parts[-1]
    numbers = [_in_unit(part, unit, knob) for part in parts]
    return knob_range(knob, *numbers)


def _in_unit(text: str, unit: str, knob: Knob) -> float:
    number = units.parse_number(text)
    return units.spread_to_si(number, unit, knob.kind) / units.spread_to_si(
        1.0, knob.unit, knob.kind
    )


def knob_range(knob: Knob, low: float, high: float, step: float | None = None) -> Range:
    """Range of a knob in its own unit, with its usual step where none is given."""
    return Range(knob.name, low, high, knob.step if step is None else step)


def change_of(ranges: Sequence[Range], point: Point) -> Change:
    """Change that a combination of values means."""
    knobs = [KNOBS[r.name] for r in ranges]
    return Change(**{k.field: k.in_change(v) for k, v in zip(knobs, point, strict=True)})
