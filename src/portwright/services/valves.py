"""Valve and seat of a port at a stage, gathered from its measurements."""

from __future__ import annotations

from collections.abc import Sequence

from portwright.core.valve import ValveShape, radial_seat_width
from portwright.model.contents import JobContents
from portwright.model.job import Measurement

_DEFAULT_SEAT_ANGLE = 0.7853981633974483  # 45 deg, common practice where none is recorded
_DEFAULT_STEM_SHARE = 0.19  # stem over valve diameter, from memory
_DEFAULT_THROAT_SHARE = 0.87  # throat over valve diameter, from memory
_DEFAULT_SEAT_WIDTH_SHARE = 0.032  # seat width along the face over valve diameter, from memory


def latest(contents: JobContents, port: str, quantity: str, stage: str = "") -> Measurement | None:
    """Newest measurement of a quantity on a port at or before a stage.

    Parameters
    ----------
    stage : str
        Stage code; "" takes the newest of all.  When nothing was measured that early the first
        later value is returned, because a port keeps its valve until it is changed.
    """
    order = {s.code: i for i, s in enumerate(contents.stages)}
    found = [m for m in contents.measurements if m.subject == port and m.quantity == quantity]
    if not found:
        return None
    if not stage:
        return found[-1]
    limit = order.get(stage, len(order))
    before = [m for m in found if order.get(m.stage, -1) <= limit]
    return before[-1] if before else found[0]


def _si(found: Measurement | None) -> float | None:
    return None if found is None else found.value.si


def valve_at(contents: JobContents, port: str, stage: str = "") -> ValveShape | None:
    """Valve shape of a port, or None where not even the valve head was measured.

    A seat's width is measured along its face (common practice: a scaled magnifier on the blued
    band); the passage needs it as seen along the stem. Seat, stem and throat take usual shares of
    the valve diameter where they were not measured; :func:`assumed` names those.
    """
    head = _si(latest(contents, port, "valve head diameter", stage))
    if head is None:
        return None
    count = next((p.valve_count for p in contents.ports if p.code == port), 1)

    def measured(quantity: str, default: float) -> float:
        value = _si(latest(contents, port, quantity, stage))
        return default if value is None else value

    angle = measured("seat angle", _DEFAULT_SEAT_ANGLE)
    along_the_face = measured("seat width", _DEFAULT_SEAT_WIDTH_SHARE * head)
    return ValveShape(
        head_diameter=head,
        stem_diameter=measured("stem diameter", _DEFAULT_STEM_SHARE * head),
        seat_angle=angle,
        seat_width=float(radial_seat_width(along_the_face, angle)),
        throat_diameter=measured("throat diameter", _DEFAULT_THROAT_SHARE * head),
        count=count,
    )


def assumed(contents: JobContents, port: str, stage: str = "") -> Sequence[str]:
    """Quantities of the valve shape that were assumed, not measured."""
    needed = ("stem diameter", "throat diameter", "seat width", "seat angle")
    return [q for q in needed if latest(contents, port, q, stage) is None]
