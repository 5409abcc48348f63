"""A port as stations along its centreline, stage by stage, from what was measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.port.limits import EXHAUST_RATIOS, INTAKE_RATIOS, PortLimits
from portwright.core.port.profile import (
    Estimate,
    Profile,
    included_taper,
    narrow_places,
    profile_volume,
    smallest_section,
)
from portwright.errors import Finding, Severity, UnknownNameError, Where
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.services.display import Display
from portwright.services.stations import (
    CALIPERED,
    Station,
    calipers_at,
    in_order,
    sections_at,
    value_at,
)
from portwright.services.sweeps import port_named
from portwright.services.valves import latest

_APART = 2.0  # standard uncertainties of the difference beyond which two areas disagree


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
    wanted = {
        "section area",
        "section width",
        "section diameter",
        *(f"{name} width" for name in CALIPERED),
    }
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
    sections, shaped = sections_at(contents, port, at, chosen)
    # the shape that was chosen for a landmark counts before the plain boxes of the Measure screen
    calipers = [
        *shaped,
        *(
            c
            for c in calipers_at(contents, port, at, chosen)
            if c.landmark not in {s.landmark for s in shaped}
        ),
    ]
    findings = _disagreements(sections, calipers, Where(port=port, stage=at))
    named = {s.landmark for s in sections}
    # a landmark that was sectioned is not counted twice: its calipers only check the section
    stations = in_order([*sections, *(c for c in calipers if c.landmark not in named)])
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
    poured = value_at(contents, port, "port volume", at)
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
                        f"The {check.landmark} is {section.area * 1e6:.0f} mm² as sectioned and "
                        f"{check.area * 1e6:.0f} mm² by calipers.",
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


def size_sentences(profile: PortProfile, display: Display) -> tuple[str, ...]:
    """Volume against burette, taper, and the ratios of sizes, as far as they were measured."""
    said = []
    volume, burette = profile.volume, profile.burette
    if volume is not None:
        text = f"Volume between first and last section {_cc(volume)}"
        if burette is not None:
            text += f"; by burette {_cc(burette)}"
        said.append(f"{text}.")
    elif burette is not None:
        said.append(f"Volume by burette {_cc(burette)}; too few sections to work it out.")
    if math.isfinite(profile.taper):
        angle = math.degrees(profile.taper)
        words = "narrows" if angle >= 0.0 else "widens"
        said.append(
            f"From the first section to the smallest the port {words} by {abs(angle):.1f}° "
            "included angle."
        )
    for ratio in profile.ratios.values():
        usual = "" if ratio.usual else ", outside the usual"
        said.append(
            f"{ratio.name[0].upper()}{ratio.name[1:]} {ratio.value:.2f}{usual} "
            f"({ratio.low:.2f} to {ratio.high:.2f}, from memory)."
        )
    return tuple(said)


def _cc(value: Estimate) -> str:
    return f"{value.value * 1e6:.1f} ± {2.0 * value.uncertainty * 1e6:.1f} cc"


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
