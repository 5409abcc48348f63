"""Sections of a port as they were measured: areas, sizes of a shape, calipers at a landmark."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from portwright import units
from portwright.core.constants import Array
from portwright.core.port.limits import PortLimits
from portwright.core.port.shapes import Shape, area_uncertainty, outline_of, section_of, sizes_of
from portwright.core.sections import stem_blockage
from portwright.errors import PortwrightError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.services.display import Display
from portwright.services.landmarks import LANDMARKS, landmark_in, place_of
from portwright.services.valves import latest
from portwright.units import Kind

CALIPERED = ("opening", "pinch", "short side")
_SAME_PLACE = 0.05e-3  # distances are noted to 0.1 mm at best [m]
STANDING = ("guide diameter", "exposed guide length", "blocked area")


class How(StrEnum):
    """How the area of a station was found."""

    SECTION = "section"  # an area: mould slice, trace or scan
    CALIPERS = "calipers"  # sizes of a shape, or a diameter


@dataclass(frozen=True, slots=True)
class Station:
    """One section across the port.

    Parameters
    ----------
    landmark : str
        "opening", "pinch", "guide boss", "short side", "bowl", "throat" or "".
    distance : float or None
        Along the centreline from the opening; None for calipers at a landmark. [m]
    area, uncertainty : float
        Area with what stands in it taken off, and its standard uncertainty. [m2]
    perimeter : float or None
        [m]
    blocked : float
        Area taken off for guide, boss or stem. [m2]
    how : How
    shape : Shape or None
        None where an area was measured.
    sizes : dict of str to float
        Of the shape, by name. [m]
    """

    landmark: str
    distance: float | None
    area: float
    uncertainty: float
    perimeter: float | None
    blocked: float
    how: How
    shape: Shape | None = None
    sizes: Mapping[str, float] | None = None

    @property
    def hydraulic_diameter(self) -> float | None:
        """Four times area over perimeter, None without a perimeter. [m]"""
        return 4.0 * self.area / self.perimeter if self.perimeter else None

    @property
    def outline(self) -> Array | None:
        """Outline as a polygon, None where only an area is known. [m]"""
        return outline_of(self.shape, self.sizes) if self.shape and self.sizes else None

    def name(self, display: Display) -> str:
        """Where it is, in words: "the pinch, 48 mm from the opening"."""
        place = f"the {self.landmark}" if self.landmark else ""
        if self.distance is None or self.landmark == "opening":
            return place
        digits = 2 if display.length == "in" else 0
        at = f"{units.show(self.distance, display.length, Kind.LENGTH, digits)} {display.length}"
        return ", ".join(t for t in (place, f"{at} from the opening") if t)


def sections_at(
    contents: JobContents, port: str, stage: str, limits: PortLimits
) -> tuple[list[Station], list[Station]]:
    """Sections measured at a distance, in order, and those of a shape at a bare landmark.

    A later section at the same place replaces an earlier one.
    """
    placed: dict[float, list[Measurement]] = {}
    loose: dict[str, list[Measurement]] = {}
    for m in contents.measurements:
        if (m.subject, m.stage) != (port, stage) or not _is_part(m):
            continue
        place = place_of(m)
        distance = place.length("distance")
        if distance is not None:
            key = next((d for d in placed if abs(d - distance) < _SAME_PLACE), distance)
            placed.setdefault(key, []).append(m)
        elif landmark := landmark_in(place.words):
            loose.setdefault(landmark, []).append(m)
    at = [_station(placed[d], d, limits) for d in sorted(placed)]
    by_name = [_station(found, None, limits) for found in loose.values()]
    return [s for s in at if s], [s for s in by_name if s and s.shape]


def _is_part(m: Measurement) -> bool:
    return m.quantity in STANDING or m.quantity.startswith("section ")


def _station(
    found: Sequence[Measurement], distance: float | None, limits: PortLimits
) -> Station | None:
    """One station from everything measured at its place; the newest area or shape counts."""
    values = {m.quantity: m.value.si for m in found if m.quantity in STANDING}
    landmark = next((w for m in found if (w := landmark_in(place_of(m).words))), "")
    blocked, blocked_error = blocked_area(values, limits)
    for m in reversed(found):
        if m.quantity == "section area":
            gross = m.value.si
            rim = [p.value.si for p in found if p.quantity == "section perimeter"]
            doubt = math.hypot(limits.section_error * gross, blocked_error)
            return Station(
                landmark, distance, gross - blocked, doubt, rim[-1] if rim else None, blocked,
                How.SECTION,
            )  # fmt: skip
        shape = shape_of(m)
        if shape is None:
            continue
        sizes = _sizes(found, shape)
        try:
            section = section_of(shape, sizes)
        except PortwrightError:
            continue  # asked about where it was entered
        error = size_error(landmark, limits)
        doubt = area_uncertainty(shape, sizes, error, limits.corner_error)
        return Station(
            landmark, distance, float(section.area) - blocked, math.hypot(doubt, blocked_error),
            float(section.perimeter), blocked, How.CALIPERS, shape, sizes,
        )  # fmt: skip
    return None


def shape_of(measured: Measurement) -> Shape | None:
    """Shape a size was measured for, None where it was stored with none."""
    named = place_of(measured).parts.get("shape", "")
    return next((s for s in Shape if s.value == named), None)


def _sizes(found: Iterable[Measurement], shape: Shape) -> dict[str, float]:
    of_shape = {m.quantity: m.value.si for m in found if shape_of(m) is shape}
    names = sizes_of(shape)
    return {n: of_shape[f"section {n}"] for n in names if f"section {n}" in of_shape}


def size_error(landmark: str, limits: PortLimits) -> float:
    """Standard uncertainty of a width, height or diameter at a landmark. [m]"""
    own = {
        "opening": limits.opening_error,
        "pinch": limits.pinch_error,
        "short side": limits.short_error,
        "throat": limits.throat_error,
    }
    return own.get(landmark, limits.caliper_error)


def blocked_area(values: Mapping[str, float], limits: PortLimits) -> tuple[float, float]:
    """Area that guide, boss or stem take away, and its standard uncertainty. [m2]

    Parameters
    ----------
    values : mapping of str to float
        Guide diameter and exposed guide length [m], blocked area [m2], as far as measured.
    limits : PortLimits
    """
    guide, length = (values.get(q, 0.0) for q in STANDING[:2])
    boss = values.get("blocked area", 0.0)
    doubt = limits.caliper_error * math.hypot(guide, length) if guide * length > 0.0 else 0.0
    area = float(stem_blockage(guide, length)) + boss
    return area, math.hypot(doubt, limits.section_error * boss)


def calipers_at(contents: JobContents, port: str, stage: str, limits: PortLimits) -> list[Station]:
    """Landmarks measured with width, height and one corner radius, and the throat."""
    found = []
    for landmark in CALIPERED:
        parts = sizes_of(Shape.RECTANGLE)
        sizes = {
            part: m.value.si
            for part in parts
            if (m := value_at(contents, port, f"{landmark} {part}", stage)) is not None
        }
        if len(sizes) < len(parts):
            continue
        try:
            section = section_of(Shape.RECTANGLE, sizes)
        except PortwrightError:
            continue  # asked about where it was entered
        doubt = area_uncertainty(
            Shape.RECTANGLE, sizes, size_error(landmark, limits), limits.corner_error
        )
        found.append(
            Station(
                landmark, None, float(section.area), doubt, float(section.perimeter), 0.0,
                How.CALIPERS, Shape.RECTANGLE, sizes,
            )
        )  # fmt: skip
    throat = value_at(contents, port, "throat diameter", stage)
    stem = latest(contents, port, "stem diameter", stage)
    if throat is not None:
        size = throat.value.si
        blocked = 0.25 * math.pi * stem.value.si**2 if stem else 0.0
        rim = math.pi * (size + (stem.value.si if stem else 0.0))
        sizes = {"diameter": size}
        doubt = area_uncertainty(Shape.CIRCLE, sizes, limits.throat_error, limits.corner_error)
        area = float(section_of(Shape.CIRCLE, sizes).area) - blocked
        found.append(
            Station("throat", None, area, doubt, rim, blocked, How.CALIPERS, Shape.CIRCLE, sizes)
        )
    return found


def value_at(contents: JobContents, port: str, quantity: str, stage: str) -> Measurement | None:
    """Newest value of a quantity at exactly this stage, without a place."""
    found = [
        m
        for m in contents.measurements
        if (m.subject, m.quantity, m.stage, m.place) == (port, quantity, stage, "")
    ]
    return found[-1] if found else None


def in_order(stations: Iterable[Station]) -> list[Station]:
    """Sections by distance; a landmark without one where landmarks stand."""
    order = list(LANDMARKS)
    stations = list(stations)
    placed = sorted(
        (s for s in stations if s.distance is not None), key=lambda s: s.distance or 0.0
    )
    loose = (s for s in stations if s.distance is None)
    for station in sorted(loose, key=lambda s: order.index(s.landmark)):
        rank = order.index(station.landmark)
        later = [i for i, s in enumerate(placed) if s.landmark and order.index(s.landmark) > rank]
        placed.insert(later[0] if later else len(placed), station)
    return placed
