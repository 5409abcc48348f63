"""Pitot maps of a port: which part of a section does the work."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from portwright.core.constants import Array
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.port.cells import nearest_cells
from portwright.core.port.limits import PortLimits
from portwright.core.port.velocity import (
    MapMean,
    Zone,
    ZoneLimits,
    map_mean,
    pitot_velocity,
    zones,
)
from portwright.core.trace.curve import enclosed_area
from portwright.errors import Finding, Severity, Where
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.nomenclature import says_unsteady
from portwright.services.findings import CheckedJob
from portwright.services.landmarks import Place, landmark_in, place_of
from portwright.services.port_air import bench_flow
from portwright.services.port_profile import PortProfile
from portwright.services.stations import Station, calipers_at, sections_at

READ = ("probe pressure", "local velocity")  # the later of them counts
_SAME_PLANE = 0.5e-3  # a probe stands in a plane to half a millimetre at best [m]
_UNMEASURED = "every place counts alike: the section was not measured"


@dataclass(frozen=True, slots=True)
class Mark:
    """One reading of a map.

    Parameters
    ----------
    row, column, side : str
        As noted.
    velocity : float
        NaN where it was unsteady, below zero where air flows back. [m/s]
    share : float
        Part of the section it stands for. [-]
    zone : Zone
    point : tuple of float, or None
        Across and up from the lower left corner of the section, None where it is not known. [m]
    cell : ndarray, shape (k, 2), or None
        Part of the section nearest to it. [m]
    """

    row: str
    column: str
    side: str
    velocity: float
    share: float
    zone: Zone
    point: tuple[float, float] | None = None
    cell: Array | None = None

    @property
    def name(self) -> str:
        """Where it is, in words."""
        said = self.side or (f"column {self.column}" if self.column else "")
        if not (self.row or said) and self.point is not None:
            return f"{self.point[0] * 1e3:.0f} mm across, {self.point[1] * 1e3:.0f} mm up"
        return ", ".join(t for t in (self.row, said) if t)


@dataclass(frozen=True, slots=True)
class VelocityMap:
    """Pitot map of one plane.

    Parameters
    ----------
    port, stage, plane, landmark : str
    lift : float or None
        [m]
    marks : tuple of Mark
    weighting : str
        How the shares were found, in words.
    mean : MapMean
    bench_mean : float
        Bench flow over the section, NaN where one of them is missing. [m/s]
    findings : tuple of Finding
    outline : ndarray, shape (n, 2), or None
        Edge of the section, None where it was not measured. [m]
    """

    port: str
    stage: str
    plane: str
    landmark: str
    lift: float | None
    marks: tuple[Mark, ...]
    weighting: str
    mean: MapMean
    bench_mean: float
    findings: tuple[Finding, ...]
    outline: Array | None = None

    @property
    def against_bench(self) -> float:
        """Map mean over bench mean less one, NaN where it cannot be told. [-]"""
        return self.mean.mean / self.bench_mean - 1.0

    def marked(self, *wanted: Zone) -> tuple[Mark, ...]:
        """Marks of some zones, fastest first."""
        chosen = (m for m in self.marks if m.zone in wanted)
        return tuple(
            sorted(chosen, key=lambda m: -m.velocity if math.isfinite(m.velocity) else 0.0)
        )

    @property
    def even(self) -> bool:
        """No place of the section stands out."""
        return all(m.zone is Zone.EVEN for m in self.marks)


def velocity_maps(
    checked: CheckedJob,
    profile: PortProfile,
    pressure: float,
    limits: PortLimits | None = None,
) -> tuple[VelocityMap, ...]:
    """Pitot maps of a port at the stage of a profile, or the newest stage with maps before it."""
    chosen = limits or PortLimits()
    contents, port = checked.contents, profile.port
    order = [s.code for s in contents.stages]
    until = order.index(profile.stage)
    readings = [
        m
        for m in contents.measurements
        if m.quantity in READ
        and m.subject == port
        and m.stage in order
        and order.index(m.stage) <= until
    ]
    groups: dict[tuple[int, str, str, str], list[Measurement]] = {}
    for m in readings:
        place = place_of(m)
        at = (place.parts.get("distance", ""), place.parts.get("lift", ""))
        groups.setdefault((order.index(m.stage), place.words, *at), []).append(m)
    newest: dict[tuple[str, str, str], tuple[int, str, str, str]] = {}
    for key in sorted(groups):
        newest[key[1:]] = key
    return tuple(
        _map(checked, profile, pressure, chosen, groups[key]) for key in sorted(newest.values())
    )


def reading_velocity(measured: Measurement) -> float:
    """Velocity a mark says, NaN where it was unsteady. [m/s]

    A probe pressure is read as that of reference air: its own density was not noted.
    """
    if says_unsteady(measured.note):
        return math.nan
    if measured.quantity == "probe pressure":
        return float(pitot_velocity(measured.value.si, REFERENCE_DENSITY))
    return measured.value.si


def _one_each(readings: Sequence[Measurement]) -> list[Measurement]:
    """One reading for each place: velocities before probe pressures, later before earlier."""
    found: dict[str, Measurement] = {}
    for wanted in READ:
        found |= {m.place: m for m in readings if m.quantity == wanted}
    return [found[place] for place in dict.fromkeys(m.place for m in readings)]


def _map(
    checked: CheckedJob,
    profile: PortProfile,
    pressure: float,
    limits: PortLimits,
    readings: Sequence[Measurement],
) -> VelocityMap:
    readings = _one_each(readings)
    places = [place_of(m) for m in readings]
    stage, plane = readings[0].stage, places[0].words
    lift, landmark = places[0].length("lift"), landmark_in(plane)
    distance = places[0].length("distance")
    speed = np.array([reading_velocity(m) for m in readings])
    outline = plane_outline(checked.contents, profile.port, stage, landmark, distance, limits)
    points, words = _points(places, outline)
    cells: tuple[Array, ...] = ()
    if points is not None and outline is not None:
        cells = nearest_cells(points, outline)
        share = np.array([enclosed_area(c) if len(c) > 2 else 0.0 for c in cells])
    else:
        share = np.ones(len(readings))
    if any(m.quantity == "probe pressure" for m in readings):
        words += "; velocities from probe pressure in reference air"
    mean = map_mean(speed, share)
    scale = math.sqrt(pressure / limits.test_pressure)
    seen = zones(
        speed, mean.mean, ZoneLimits(limits.crowded, limits.lazy, limits.local_velocity * scale)
    )
    share = share / np.sum(share)
    marks = tuple(
        Mark(
            place.parts.get("row", ""),
            place.parts.get("column", ""),
            place.parts.get("side", ""),
            float(speed[i]),
            float(share[i]),
            seen[i],
            None if points is None else (float(points[i, 0]), float(points[i, 1])),
            cells[i] if cells else None,
        )
        for i, place in enumerate(places)
    )
    flow = bench_flow(checked, profile.port, stage, pressure, lift)
    bench = math.nan
    if flow is not None and flow.stage == stage and stage == profile.stage:
        section = (s.area for s in profile.stations if _is_plane(s, landmark, distance))
        bench = flow.flow / next(section, math.nan)
    where = Where(port=profile.port, stage=stage, lift=lift)
    found = VelocityMap(
        profile.port,
        stage,
        plane or f"plane {places[0].parts.get('distance', '')}".strip(),
        landmark,
        lift,
        marks,
        words,
        mean,
        bench,
        (),
        outline,
    )
    return replace(found, findings=_map_findings(found, limits, where))


def _is_plane(station: Station, landmark: str, distance: float | None) -> bool:
    if distance is not None and station.distance is not None:
        return abs(station.distance - distance) < _SAME_PLANE
    return bool(landmark) and station.landmark == landmark


def plane_outline(
    contents: JobContents,
    port: str,
    stage: str,
    landmark: str,
    distance: float | None,
    limits: PortLimits,
) -> Array | None:
    """Edge of the section a map was taken in, from its sizes at the same stage. [m]"""
    sections, shaped = sections_at(contents, port, stage, limits)
    known = (*sections, *shaped, *calipers_at(contents, port, stage, limits))
    fitting = (s.outline for s in known if s.shape and _is_plane(s, landmark, distance))
    return next(fitting, None)


def _points(places: Sequence[Place], outline: Array | None) -> tuple[Array | None, str]:
    """Where the marks lie in the section, and how that and their shares were found."""
    typed = [(p.length("across"), p.length("up")) for p in places]
    known = [(x, y) for x, y in typed if x is not None and y is not None]
    if len(known) == len(places):
        words = "each place counts with the part of the section nearest to it"
        return np.array(known), words if outline is not None else _UNMEASURED
    rows = [p.parts.get("row", "") for p in places]
    levels = list(dict.fromkeys(rows))
    if min((rows.count(level) for level in levels), default=0) < 2:
        return None, "every place counts alike: the marks lie on no grid"
    if outline is None:
        return None, _UNMEASURED
    width, height = np.max(outline, axis=0)
    points = np.empty((len(rows), 2))
    for level, name in enumerate(levels):
        at = [i for i, row in enumerate(rows) if row == name]
        for place, i in enumerate(at):
            points[i] = (
                (place + 0.5) / len(at) * width,
                (1.0 - (level + 0.5) / len(levels)) * height,  # first row is the roof
            )
    return points, (
        "each place counts with its part of the section, rows and columns evenly spaced"
    )


def _map_findings(found: VelocityMap, limits: PortLimits, where: Where) -> tuple[Finding, ...]:
    findings = []

    def say(code: str, severity: Severity, message: str, hint: str, size: float) -> None:
        findings.append(Finding(code, severity, message, hint, where, size))

    off = found.against_bench
    if math.isfinite(off) and abs(off) > limits.map_agreement:
        say(
            "map-against-bench",
            Severity.WARNING,
            f"The map of the {found.plane} means {found.mean.mean:.0f} m/s, flow over section "
            f"{found.bench_mean:.0f} m/s.",
            "Marks near the wall are missing, the tube stood at an angle, or plane and section "
            "are not the same.",
            off,
        )
    if found.mean.unsteady > 0.0:
        say(
            "map-unsteady",
            Severity.WARNING,
            f"{found.mean.unsteady * 100:.0f} % of the {found.plane} was unsteady; the mean lies "
            f"between {found.mean.low:.0f} and {found.mean.high:.0f} m/s.",
            "Unsteady means separated: look upstream of it.",
            found.mean.unsteady,
        )
    back = found.marked(Zone.BACKFLOW)
    if back:
        say(
            "map-backflow",
            Severity.WARNING,
            f"Air flows back at {back[0].name} of the {found.plane}.",
            "Separated flow: the wall upstream turns away too fast.",
            float(len(back)),
        )
    return tuple(findings)
