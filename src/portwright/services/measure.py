"""Measuring a port at the bench: what to measure, what follows from it, what looks odd."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from portwright.core.cornered_sections import RoundedRectangle
from portwright.errors import Finding, InputError, PortwrightError, Severity, Where
from portwright.model.contents import JobContents
from portwright.model.head import Port
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.nomenclature import measurement_findings, term
from portwright.services.jobs import today
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

# Metal does not grow back: these only get smaller where something was welded or sleeved.  The
# allowances are the usual repeatability of the measurement, from memory.
_ONLY_GROWS = {
    "throat diameter": 0.05e-3,
    "bowl diameter": 0.2e-3,
    "short side width": 0.4e-3,
    "short side height": 0.4e-3,
    "pinch width": 0.2e-3,
    "pinch height": 0.2e-3,
    "opening width": 0.2e-3,
    "opening height": 0.2e-3,
    "port volume": 0.5e-6,
}
_THROAT_SHARE = (0.75, 0.95)  # of the valve head diameter, from memory


@dataclass(frozen=True, slots=True)
class Pair:
    """A quantity at a stage and before it.

    Parameters
    ----------
    now : Measurement or None
        Of this stage.
    before : Measurement or None
        Newest of an earlier stage.
    """

    now: Measurement | None
    before: Measurement | None


def pair(contents: JobContents, subject: str, quantity: str, stage: str) -> Pair:
    """Value of a quantity at a stage and the newest one before it."""
    order = [s.code for s in contents.stages]
    earlier = set(order[: order.index(stage)]) if stage in order else set()
    now, before = None, None
    for item in contents.measurements:
        if item.subject != subject or item.quantity != quantity or item.place:
            continue
        if item.stage == stage:
            now = item
        elif item.stage in earlier:
            before = item
    return Pair(now, before)


def record(
    shop: ShopFile,
    job: str,
    subject: str,
    quantity: str,
    stage: str,
    value: AsTyped,
    reason: str = "",
) -> Measurement:
    """Store a measurement; one that is there already is corrected, its old row kept.

    Raises
    ------
    InputError
        A correction without a reason.
    ConflictError
        Someone else corrected it first.
    """
    present = pair(shop.job(job), subject, quantity, stage).now
    if present is not None:
        if present.value == value:
            return present
        if not reason.strip():
            raise InputError(
                f"{quantity} of {subject} is {present.value} already.",
                "Say why it changes; the old value is kept.",
            )
        shop.replace_measurement(job, present, value, reason.strip())
        return replace(present, value=value)
    new = Measurement(subject, quantity, value, stage=stage, date=today())
    shop.add_measurements(job, [new])
    return new


def questions(contents: JobContents, measured: Measurement) -> tuple[Finding, ...]:
    """What to ask about a value: unusual size, metal that grew back, parts that do not fit."""
    found = list(measurement_findings(measured))
    place = Where(port=measured.subject, stage=measured.stage)

    def ask(code: str, message: str, hint: str) -> None:
        found.append(Finding(code, Severity.WARNING, message, hint, place))

    if found and _fits_in_inches(measured):
        found.clear()
        ask(
            "unit-slip",
            f"{measured.value} is far from usual; {measured.value.text} in would be usual.",
            "Was it measured in inches? Type the unit behind the number.",
        )
    before = pair(contents, measured.subject, measured.quantity, measured.stage).before
    allowance = _ONLY_GROWS.get(measured.quantity)
    if (
        before is not None
        and allowance is not None
        and measured.value.si < before.value.si - allowance
    ):
        ask(
            "metal-grew-back",
            f"Smaller than at {before.stage} ({before.value}); metal does not grow back.",
            "Measure again, or note the weld or sleeve.",
        )
    head = pair(contents, measured.subject, "valve head diameter", measured.stage)
    valve = head.now or head.before
    if measured.quantity == "throat diameter" and valve is not None:
        share = measured.value.si / valve.value.si
        if not _THROAT_SHARE[0] <= share <= _THROAT_SHARE[1]:
            low, high = (100.0 * s for s in _THROAT_SHARE)
            ask(
                "throat-share",
                f"{100.0 * share:.0f} % of the valve; {low:.0f} to {high:.0f} % is usual.",
                "Check throat and valve diameter.",
            )
    return tuple(found)


def _fits_in_inches(measured: Measurement) -> bool:
    if measured.value.unit != "mm":
        return False
    known = term(measured.quantity)
    return known.low <= 25.4 * measured.value.si <= known.high


@dataclass(frozen=True, slots=True)
class Derived:
    """Something worked out from measurements of one port at one stage.

    Parameters
    ----------
    key : str
        Group it is shown with.
    name : str
    value : float
        [m2] for an area, [-] for a share
    kind : Kind
        AREA or RATIO.
    """

    key: str
    name: str
    value: float
    kind: Kind


def derived(contents: JobContents, port: Port, stage: str) -> list[Derived]:
    """Areas and shares that follow from what is measured, nothing assumed."""

    def size(quantity: str) -> float | None:
        both = pair(contents, port.code, quantity, stage)
        item = both.now or both.before
        return None if item is None else item.value.si

    found: list[Derived] = []
    valve, stem, throat = (size(f"{part} diameter") for part in ("valve head", "stem", "throat"))
    valve_area = None if valve is None else 0.25 * math.pi * valve**2
    if valve_area is not None:
        found.append(Derived("valve", "valve head area", valve_area, Kind.AREA))
    if throat is not None:
        found += _throat(throat, stem, valve)
    if (bowl := size("bowl diameter")) is not None and valve:
        found.append(Derived("throat", "bowl, of valve", bowl / valve, Kind.RATIO))
    for key, name in (("short", "short side"), ("pinch", "pinch"), ("opening", "opening")):
        sizes = [size(f"{name} {part}") for part in ("width", "height", "corner radius")]
        area = _section(sizes)
        if area is None:
            continue
        found.append(Derived(key, "area", area, Kind.AREA))
        if valve_area is not None:
            found.append(Derived(key, "of valve area", area / valve_area, Kind.RATIO))
    return found


def _throat(throat: float, stem: float | None, valve: float | None) -> list[Derived]:
    area = 0.25 * math.pi * throat**2
    found = [Derived("throat", "throat area", area, Kind.AREA)]
    if stem is not None and stem < throat:
        less = area - 0.25 * math.pi * stem**2
        found.append(Derived("throat", "less the stem", less, Kind.AREA))
    if valve:
        found.append(Derived("throat", "throat, of valve", throat / valve, Kind.RATIO))
    return found


def _section(sizes: Sequence[float | None]) -> float | None:
    """Area of a rounded rectangle, None while a size is missing or impossible. [m2]"""
    width, height, radius = sizes
    if width is None or height is None or radius is None:
        return None
    try:
        section = RoundedRectangle.with_equal_corners(width, height, radius)
        return float(section.area)
    except PortwrightError:
        return None
