"""Pitot maps of a port: which part of a section does the work."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.port.limits import PortLimits
from portwright.core.port.velocity import MapMean, Zone, ZoneLimits, cell_areas, map_mean, zones
from portwright.errors import Finding, PortwrightError, Severity, Where
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.services.findings import CheckedJob
from portwright.services.landmarks import landmark_in, place_of
from portwright.services.port_air import bench_flow
from portwright.services.port_profile import PortProfile

_UNSTEADY = ("unsteady", "jumping", "separated", "turbulent", "backs up", "stalled")


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
    """

    row: str
    column: str
    side: str
    velocity: float
    share: float
    zone: Zone

    @property
    def name(self) -> str:
        """Where it is, in words."""
        return ", ".join(t for t in (self.row, self.side or f"column {self.column}") if t)


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
        if m.quantity == "local velocity"
        and m.subject == port
        and m.stage in order
        and order.index(m.stage) <= until
    ]
    groups: dict[tuple[int, str, str], list[Measurement]] = {}
    for m in readings:
        place = place_of(m)
        key = (order.index(m.stage), place.words, place.parts.get("lift", ""))
        groups.setdefault(key, []).append(m)
    newest: dict[tuple[str, str], tuple[int, str, str]] = {}
    for key in sorted(groups):
        newest[key[1:]] = key
    return tuple(
        _map(checked, profile, pressure, chosen, groups[key]) for key in sorted(newest.values())
    )


def _is_unsteady(measured: Measurement) -> bool:
    note = measured.note.lower()
    return any(word in note for word in _UNSTEADY)


def _map(
    checked: CheckedJob,
    profile: PortProfile,
    pressure: float,
    limits: PortLimits,
    readings: Sequence[Measurement],
) -> VelocityMap:
    places = [place_of(m) for m in readings]
    stage, plane = readings[0].stage, places[0].words
    lift, landmark = places[0].length("lift"), landmark_in(plane)
    speed = np.array([math.nan if _is_unsteady(m) else m.value.si for m in readings])
    rows = [p.parts.get("row", "") for p in places]
    columns = [p.parts.get("column", "") for p in places]
    share, weighting = _shares(checked.contents, profile.port, stage, landmark, rows, columns)
    mean = map_mean(speed, share)
    scale = math.sqrt(pressure / limits.test_pressure)
    seen = zones(
        speed, mean.mean, ZoneLimits(limits.crowded, limits.lazy, limits.local_velocity * scale)
    )
    marks = tuple(
        Mark(row, column, p.parts.get("side", ""), float(v), float(s), zone)
        for row, column, p, v, s, zone in zip(
            rows, columns, places, speed, share / np.sum(share), seen, strict=True
        )
    )
    section = next((s.area for s in profile.stations if s.landmark == landmark), math.nan)
    flow = bench_flow(checked, profile.port, stage, pressure, lift)
    bench = math.nan
    if flow is not None and flow.stage == stage and stage == profile.stage:
        bench = flow.flow / section
    where = Where(port=profile.port, stage=stage, lift=lift)
    found = VelocityMap(
        profile.port, stage, plane, landmark, lift, marks, weighting, mean, bench, ()
    )
    findings = _map_findings(found, limits, where)
    return VelocityMap(
        profile.port, stage, plane, landmark, lift, marks, weighting, mean, bench, findings
    )


def _shares(
    contents: JobContents,
    port: str,
    stage: str,
    landmark: str,
    rows: Sequence[str],
    columns: Sequence[str],
) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], str]:
    """Part of the section each mark stands for, and how that was found."""
    equal = np.ones(len(rows))
    levels = list(dict.fromkeys(rows))
    if min((rows.count(level) for level in levels), default=0) < 2:
        return equal, "every place counts alike: the marks lie on no grid"
    sizes = [
        next(
            (
                m.value.si
                for m in contents.measurements
                if (m.subject, m.quantity, m.stage, m.place)
                == (port, f"{landmark} {part}", stage, "")
            ),
            None,
        )
        for part in ("width", "height", "corner radius")
    ]
    width, height, radius = (s if s is not None else math.nan for s in sizes)
    if not math.isfinite(width + height + radius):
        return equal, "every place counts alike: the section was not measured"
    points = np.empty((len(rows), 2))
    for level, name in enumerate(levels):
        at = [i for i, row in enumerate(rows) if row == name]
        for place, i in enumerate(at):
            points[i] = (
                (place + 0.5) / len(at) * width,
                (1.0 - (level + 0.5) / len(levels)) * height,  # first row is the roof
            )
    try:
        return cell_areas(points, width, height, radius), (
            "each place counts with its part of the section, rows and columns evenly spaced"
        )
    except PortwrightError:  # pragma: no cover - points are made above
        return equal, "every place counts alike"


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
