"""A port as stations along its centreline, stage by stage, from what was measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from portwright import units
from portwright.core.port.limits import EXHAUST_RATIOS, INTAKE_RATIOS, PortLimits
from portwright.core.port.profile import (
    Estimate,
    Profile,
    circle_uncertainty,
    included_taper,
    narrow_places,
    profile_volume,
    rounded_rectangle_uncertainty,
    smallest_section,
)
from portwright.core.sections import RoundedRectangle, stem_blockage
from portwright.errors import Finding, PortwrightError, Severity, UnknownNameError, Where
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.job import Measurement
from portwright.services.display import Display
from portwright.services.landmarks import landmark_in, place_of
from portwright.services.sweeps import port_named
from portwright.services.valves import latest
from portwright.units import Kind

_CALIPERED = ("opening", "pinch", "short side")
_APART = 2.0  # standard uncertainties of the difference beyond which two areas disagree
_SAME_PLACE = 0.05e-3  # distances are noted to 0.1 mm at best [m]


class How(StrEnum):
    """How the area of a station was found."""

    SECTION = "section"  # measured at a distance: mould slice, trace or scan
    CALIPERS = "calipers"  # width, height and corner radius, or a diameter


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
        Area taken off for guide or stem. [m2]
    how : How
    """

    landmark: str
    distance: float | None
    area: float
    uncertainty: float
    perimeter: float | None
    blocked: float
    how: How

    @property
    def hydraulic_diameter(self) -> float | None:
        """Four times area over perimeter, None without a perimeter. [m]"""
        return 4.0 * self.area / self.perimeter if self.perimeter else None

    def name(self, display: Display) -> str:
        """Where it is, in words: "the pinch, 48 mm from the opening"."""
        place = f"the {self.landmark}" if self.landmark else ""
        if self.distance is None or self.landmark == "opening":
            return place
        digits = 2 if display.length == "in" else 0
        at = f"{units.show(self.distance, display.length, Kind.LENGTH, digits)} {display.length}"
        return ", ".join(t for t in (place, f"{at} from the opening") if t)


@dataclass(frozen=True, slots=True)
class Ratio:
    """A ratio of sizes beside its usual range."""

    name: str
    value: float
    low: float
    high: float

    @property
    def usual(self) -> bool:
        """Inside the usual range."""
        return self.low <= self.value <= self.high


@dataclass(frozen=True, slots=True)
class PortProfile:
    """Stations of a port at a stage and what follows from them.

    Parameters
    ----------
    port, stage : str
        Stage at which the sizes were measured.
    stations : tuple of Station
        In the order the air of an intake meets them.
    narrow : tuple of int
        Places of the narrow stations, smallest first.
    smallest : int
        Place of the smallest station.
    rivals : tuple of int
        Narrow stations that cannot be told from it.
    volume, burette : Estimate or None
        Volume between first and last distance, and as poured. [m3]
    taper : float
        Included angle from the first section to the smallest with a distance; NaN unknown. [rad]
    ratios : dict of str to Ratio
        By landmark or part.
    findings : tuple of Finding
    """

    port: str
    stage: str
    stations: tuple[Station, ...]
    narrow: tuple[int, ...]
    smallest: int
    rivals: tuple[int, ...]
    volume: Estimate | None
    burette: Estimate | None
    taper: float
    ratios: dict[str, Ratio]
    findings: tuple[Finding, ...]

    @property
    def smallest_station(self) -> Station:
        """The smallest station."""
        return self.stations[self.smallest]

    @property
    def along(self) -> tuple[Station, ...]:
        """Stations with a distance."""
        return tuple(s for s in self.stations if s.distance is not None)


def stages_measured(contents: JobContents, port: str) -> list[str]:
    """Stages at which sections of a port were measured, in the order of work."""
    wanted = {"section area", *(f"{name} width" for name in _CALIPERED)}
    found = {m.stage for m in contents.measurements if m.subject == port and m.quantity in wanted}
    return [s.code for s in contents.stages if s.code in found]


def measured_stage(contents: JobContents, port: str, stage: str = "") -> str:
    """Newest stage with sections at or before a stage; "" takes the newest of all.

    Raises
    ------
    UnknownNameError
        No such port or stage, or nothing measured by then.
    """
    if port_named(contents, port) is None:
        raise UnknownNameError("port", port, (p.code for p in contents.ports))
    order = [s.code for s in contents.stages]
    if stage and stage not in order:
        raise UnknownNameError("stage", stage, order)
    have = stages_measured(contents, port)
    limit = order.index(stage) if stage else len(order)
    early = [code for code in have if order.index(code) <= limit]
    if not early:
        raise UnknownNameError(f"measured stage of port {port}", stage or "any", have)
    return early[-1]


def port_profile(
    contents: JobContents, port: str, stage: str = "", limits: PortLimits | None = None
) -> PortProfile:
    """Stations of a port as measured at a stage or last before it.

    Raises
    ------
    UnknownNameError
        No such port or stage, or no sections measured by then.
    """
    chosen = limits or PortLimits()
    at = measured_stage(contents, port, stage)
    sections = _sections(contents, port, at, chosen)
    calipers = _calipers(contents, port, at, chosen)
    findings = _disagreements(sections, calipers, Where(port=port, stage=at))
    named = {s.landmark for s in sections}
    # a landmark that was sectioned is not counted twice: its calipers only check the section
    stations = _in_order([*sections, *(c for c in calipers if c.landmark not in named)])
    if not stations:
        raise UnknownNameError(f"section of port {port}", at, [])
    areas = np.array([s.area for s in stations])
    errors = np.array([s.uncertainty for s in stations])
    least = smallest_section(areas, errors)
    narrow = tuple(sorted(narrow_places(areas), key=lambda i: stations[i].area))
    volume, taper = None, math.nan
    if len(sections) > 1:
        profile = Profile(
            np.array([s.distance for s in sections], dtype=np.float64),
            np.array([s.area for s in sections]),
            np.array([s.uncertainty for s in sections]),
        )
        volume = profile_volume(profile, chosen.mould_error)
        taper = included_taper(profile, int(np.argmin(profile.area)))
    poured = _at(contents, port, "port volume", at)
    burette = None if poured is None else Estimate(poured.value.si, chosen.volume_error)
    findings += _volume_findings(volume, burette, Where(port=port, stage=at))
    return PortProfile(
        port,
        at,
        tuple(stations),
        narrow,
        least.index,
        least.rivals,
        volume,
        burette,
        taper,
        _ratios(contents, port, at, stations, least.index),
        tuple(findings),
    )


def _at(contents: JobContents, port: str, quantity: str, stage: str) -> Measurement | None:
    """Newest value of a quantity at exactly this stage, without a place."""
    found = [
        m
        for m in contents.measurements
        if (m.subject, m.quantity, m.stage, m.place) == (port, quantity, stage, "")
    ]
    return found[-1] if found else None


def _sections(contents: JobContents, port: str, stage: str, limits: PortLimits) -> list[Station]:
    """Areas measured at a distance, in order; a later one at the same place replaces it."""
    by_distance: dict[float, dict[str, tuple[Measurement, str]]] = {}
    for m in contents.measurements:
        wanted = ("section area", "section perimeter", "guide diameter", "exposed guide length")
        if (m.subject, m.stage) != (port, stage) or m.quantity not in wanted:
            continue
        place = place_of(m)
        distance = place.length("distance")
        if distance is not None:
            key = next((d for d in by_distance if abs(d - distance) < _SAME_PLACE), distance)
            by_distance.setdefault(key, {})[m.quantity] = (m, landmark_in(place.words))
    stations = []
    for distance in sorted(by_distance):
        found = by_distance[distance]
        if "section area" not in found:
            continue
        gross, landmark = found["section area"][0].value.si, found["section area"][1]
        blocked = 0.0
        if {"guide diameter", "exposed guide length"} <= found.keys():
            guide, length = (
                found[q][0].value.si for q in ("guide diameter", "exposed guide length")
            )
            blocked = float(stem_blockage(guide, length))
        perimeter = found.get("section perimeter")
        stations.append(
            Station(
                landmark,
                distance,
                gross - blocked,
                limits.section_error * gross,
                perimeter[0].value.si if perimeter else None,
                blocked,
                How.SECTION,
            )
        )
    return stations


def _calipers(contents: JobContents, port: str, stage: str, limits: PortLimits) -> list[Station]:
    errors = {
        "opening": limits.opening_error,
        "pinch": limits.pinch_error,
        "short side": limits.short_error,
    }
    found = []
    for landmark in _CALIPERED:
        parts = ("width", "height", "corner radius")
        sizes = [_at(contents, port, f"{landmark} {part}", stage) for part in parts]
        values = [m.value.si for m in sizes if m is not None]
        if len(values) < len(parts):
            continue
        width, height, radius = values
        try:
            shape = RoundedRectangle.with_equal_corners(width, height, radius)
        except PortwrightError:
            continue  # asked about where it was entered
        doubt = rounded_rectangle_uncertainty(
            width, height, radius, errors[landmark], limits.corner_error
        )
        area, perimeter = float(shape.area), float(shape.perimeter)
        found.append(Station(landmark, None, area, doubt, perimeter, 0.0, How.CALIPERS))
    throat = _at(contents, port, "throat diameter", stage)
    stem = latest(contents, port, "stem diameter", stage)
    if throat is not None:
        size = throat.value.si
        blocked = 0.25 * math.pi * stem.value.si**2 if stem else 0.0
        rim = math.pi * (size + (stem.value.si if stem else 0.0))
        area = 0.25 * math.pi * size**2 - blocked
        doubt = circle_uncertainty(size, limits.throat_error)
        found.append(Station("throat", None, area, doubt, rim, blocked, How.CALIPERS))
    return found


def _in_order(stations: Sequence[Station]) -> list[Station]:
    """Sections by distance; a landmark without one where landmarks stand."""
    order = ("opening", "pinch", "guide boss", "short side", "bowl", "throat")
    placed = sorted(
        (s for s in stations if s.distance is not None), key=lambda s: s.distance or 0.0
    )
    for loose in (s for s in stations if s.distance is None):
        rank = order.index(loose.landmark)
        later = [i for i, s in enumerate(placed) if s.landmark and order.index(s.landmark) > rank]
        placed.insert(later[0] if later else len(placed), loose)
    return placed


def _disagreements(
    sections: Sequence[Station], calipers: Sequence[Station], where: Where
) -> list[Finding]:
    found = []
    for check in calipers:
        for section in sections:
            if section.landmark != check.landmark:
                continue
            apart = abs(section.area - check.area)
            if apart > _APART * math.hypot(section.uncertainty, check.uncertainty):
                found.append(
                    Finding(
                        "section-against-calipers",
                        Severity.WARNING,
                        f"The {check.landmark} is {section.area * 1e6:.0f} mm2 as sectioned and "
                        f"{check.area * 1e6:.0f} mm2 by calipers.",
                        "Was it the same plane? Check distance, tilt and corner radius.",
                        where,
                        size=section.area / check.area - 1.0,
                    )
                )
    return found


def _volume_findings(
    volume: Estimate | None, burette: Estimate | None, where: Where
) -> list[Finding]:
    if volume is None or burette is None:
        return []
    apart = volume.value - burette.value
    if abs(apart) <= _APART * math.hypot(volume.uncertainty, burette.uncertainty):
        return []
    return [
        Finding(
            "volume-against-burette",
            Severity.WARNING,
            f"The sections enclose {volume.value * 1e6:.1f} cc, the burette says "
            f"{burette.value * 1e6:.1f} cc.",
            "Do the sections reach from the face to the seat? Check distances, and whether guide "
            "and stem were in place.",
            where,
            size=apart / burette.value,
        )
    ]


def _ratios(
    contents: JobContents, port: str, stage: str, stations: Sequence[Station], smallest: int
) -> dict[str, Ratio]:
    def size(quantity: str) -> float | None:
        found = latest(contents, port, quantity, stage)
        return None if found is None else found.value.si

    valve, stem, throat, bowl = (
        size(f"{part} diameter") for part in ("valve head", "stem", "throat", "bowl")
    )
    by_landmark = {s.landmark: s.area for s in stations if s.landmark}
    found: dict[str, float] = {}
    if throat and valve:
        found["throat"] = throat / valve
    if throat and bowl:
        found["bowl"] = (bowl / throat) ** 2
    if throat and stem and stem < throat:
        net = 0.25 * math.pi * (throat**2 - stem**2)
        if valve:
            found["throat area"] = net / (0.25 * math.pi * valve**2)
        for name in ("short side", "pinch"):
            if name in by_landmark:
                found[name] = by_landmark[name] / net
    exhaust = getattr(port_named(contents, port), "side", None) is Side.EXHAUST
    if "opening" in by_landmark and exhaust and valve:
        found["opening"] = by_landmark["opening"] / (0.25 * math.pi * valve**2)
    elif "opening" in by_landmark and not exhaust:
        found["opening"] = by_landmark["opening"] / stations[smallest].area
    usual_ratios = EXHAUST_RATIOS if exhaust else INTAKE_RATIOS
    return {
        key: Ratio(usual.name, found[key], usual.low, usual.high)
        for key, usual in usual_ratios.items()
        if key in found
    }


def profile_sentence(profile: PortProfile, display: Display) -> str:
    """Say where the smallest section is and what cannot be told from it."""
    least = profile.smallest_station
    text = f"Smallest section {display.area_text(least.area)} at {least.name(display)}"
    if profile.rivals:
        others = " and ".join(
            f"{display.area_text(profile.stations[i].area)} at {profile.stations[i].name(display)}"
            for i in profile.rivals
        )
        text += f"; it cannot be told from {others}"
    return text + "."


def change_sentence(before: PortProfile, after: PortProfile, display: Display) -> str:
    """Say what work did to the smallest section."""
    old, new = before.smallest_station, after.smallest_station
    doubt = math.hypot(old.uncertainty, new.uncertainty)
    grew = new.area - old.area
    size = (
        f"grew by {display.area_text(grew)}"
        if grew > _APART * doubt
        else f"shrank by {display.area_text(-grew)}"
        if grew < -_APART * doubt
        else "did not change by more than the measuring error"
    )
    same = [
        s
        for s in (after.stations[i] for i in (after.smallest, *after.rivals))
        if s.landmark == old.landmark and s.distance == old.distance
    ]
    if new.landmark == old.landmark and new.distance == old.distance:
        moved = f"It is still at the same place, {new.name(display)}."
    elif same:
        moved = (
            f"It was at {old.name(display)}; now it is at {new.name(display)}, but cannot be "
            f"told from {same[0].name(display)}."
        )
    else:
        moved = f"It moved from {old.name(display)} to {new.name(display)}."
    return f"{before.stage} to {after.stage}: the smallest section {size}. {moved}"
