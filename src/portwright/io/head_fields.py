"""Valve angle and port location among the fields of a job sheet or a list of earlier jobs."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable

from portwright.errors import InputError, RangeError
from portwright.io.headings import SIDES
from portwright.model.quantity import AsTyped
from portwright.units import Kind, read

_ACROSS = 90.0  # [deg] the stem would lie across the bore
_NAME = re.compile(
    r"(?:(?P<side>int|intake|inlet|exh|exhaust)_)?"
    r"(?P<what>valve_angle|port_location)(?:_(?P<unit>deg|rad))?"
)


def read_angle(text: str, unit: str | None = "deg") -> AsTyped | None:
    """A valve angle from the bore axis as typed, None where nothing is.

    Parameters
    ----------
    text : str
    unit : str or None
        Where the text has none; None asks for one.

    Raises
    ------
    UnitError, InputError
        Not a number, or not an angle.
    RangeError
        No angle a valve can stand at.
    """
    if not text.strip():
        return None
    angle = read(text, Kind.ANGLE, unit)
    if not 0.0 <= angle.si < math.radians(_ACROSS):
        raise RangeError(
            f"A valve cannot stand at {angle}.",
            "Give the angle of its stem from the bore axis, like 12 deg; 0 is along the bore.",
        )
    return angle


def head_facts(
    fields: Iterable[tuple[str, str]], doubt: Callable[[str, InputError], object]
) -> dict[str, AsTyped | str]:
    """Fields of a casting or head; one without a side counts for both.

    Parameters
    ----------
    fields : iterable of tuple of str
        Name and value as written.
    doubt : callable
        Hears the name of a field that stays words only, and why.
    """
    both: dict[str, AsTyped | str] = {}
    own: dict[str, AsTyped | str] = {}
    for name, value in fields:
        slug = re.sub(r"[^\w°]+", "_", name.strip().casefold()).replace("_°", "_deg").strip("_")
        match = _NAME.fullmatch(slug)
        if match is None or not value.strip():
            continue
        found: AsTyped | str | None = " ".join(value.split())
        if match["what"] == "valve_angle":
            try:
                found = read_angle(value, match["unit"])
            except InputError as error:
                doubt(name, error)
                continue
        if found is None:
            continue
        sides = [SIDES[match["side"]]] if match["side"] else list(dict.fromkeys(SIDES.values()))
        target = own if match["side"] else both
        target |= {f"{side}_{match['what']}": found for side in sides}
    return both | own
