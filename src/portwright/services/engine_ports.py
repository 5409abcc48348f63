"""A port as the simulation sees it: sections along it, and its bench curve."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.bench import PressureLaw
from portwright.core.cornered_sections import RoundedRectangle
from portwright.core.curve import Array, FlowCurve
from portwright.core.gas1d.ducts import Duct, plain_pipe
from portwright.errors import Finding, InputError, Severity, UnknownNameError, Where
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.services.compare import at_pressure, choose
from portwright.services.findings import CheckedJob
from portwright.services.reduce import ReducedRun, method_named
from portwright.services.sweeps import port_named
from portwright.services.valves import latest, valve_at
from portwright.units import Kind, read

# Place of the sections measured with calipers, as share of the port from opening to throat: our
# own middle values, used only where no section profile was taken.
_PLACES = {"opening": 0.0, "pinch": 0.40, "short side": 0.86, "bowl": 0.94, "throat": 1.0}
_HOT_WALL, _WARM_WALL = 550.0, 350.0  # port walls of exhaust and intake [K], from memory
# A round section is measured as so wide, so high and half of that in radius, each rounded.
_ROUND = 1.02
_LENGTH_OVER_VALVE = 2.7  # port length over valve diameter, from memory


@dataclass(frozen=True, slots=True)
class NamedSection:
    """One section of a port.

    Parameters
    ----------
    name : str
    position : float
        From the end the gas enters in a running engine. [m]
    area : float
        [m2]
    """

    name: str
    position: float
    area: float


@dataclass(frozen=True, slots=True, eq=False)
class PortShape:
    """Sections of a port in flow direction of a running engine.

    Parameters
    ----------
    duct : Duct
    sections : tuple of NamedSection
    source : str
        How the sections are known.
    findings : tuple of Finding
        What was assumed.
    """

    duct: Duct
    sections: tuple[NamedSection, ...]
    source: str
    findings: tuple[Finding, ...]

    @property
    def smallest(self) -> NamedSection:
        """The smallest section."""
        return min(self.sections, key=lambda s: s.area)


def engine_port(contents: JobContents, code: str, side: Side) -> Port:
    """Port of a job by code, refused when it is on the other side.

    Raises
    ------
    UnknownNameError, InputError
    """
    port = port_named(contents, code)
    if port is None:
        raise UnknownNameError("port", code, (p.code for p in contents.ports))
    if port.side is not side:
        raise InputError(f"{code} is an {port.side} port, not an {side} port.", "Name another.")
    return port


def partner(contents: JobContents, port: Port) -> Port | None:
    """Exhaust port of the same cylinder, None where there is none."""
    for other in contents.ports:
        if other.side is Side.EXHAUST and other.cylinder == port.cylinder:
            return other
    return None


def port_shape(contents: JobContents, port: Port, stage: str) -> PortShape:
    """Sections of a port at a stage.

    A section profile counts where one was taken at or before the stage; otherwise throat, bowl,
    short side, pinch and opening stand at usual places along the port.

    Raises
    ------
    InputError
        Too little of the port was measured.
    """
    profile = _profile(contents, port.code, stage)
    where = Where(port=port.code, stage=stage)
    if profile is not None and port.side is Side.INTAKE:
        sections, perimeter, used = profile
        found: tuple[Finding, ...] = ()
        if used != stage:
            found = (
                Finding(
                    "profile-of-another-stage",
                    Severity.WARNING,
                    f"Sections of {port.code} were last measured at {used}, not at {stage}.",
                    "Measure them at this stage; the port may have changed.",
                    where,
                ),
            )
        return PortShape(
            _duct(port, sections, perimeter), sections, f"section profile {used}", found
        )
    sections, length_from = _from_calipers(contents, port, stage)
    if port.side is Side.EXHAUST:
        end = max(s.position for s in sections)
        turned = [NamedSection(s.name, end - s.position, s.area) for s in sections]
        sections = tuple(sorted(turned, key=lambda s: s.position))
    finding = Finding(
        "section-places-assumed",
        Severity.NOTE,
        f"{port.code}: sections stand at usual places along the port, length from {length_from}.",
        "Measure area against distance to know them.",
        where,
    )
    return PortShape(_duct(port, sections, None), sections, "caliper sections", (finding,))


def _duct(port: Port, sections: Sequence[NamedSection], perimeter: Array | None) -> Duct:
    return Duct(
        f"port {port.code}",
        np.array([s.position for s in sections]),
        np.array([s.area for s in sections]),
        perimeter,
        wall_temperature=_WARM_WALL if port.side is Side.INTAKE else _HOT_WALL,
    )


def _profile(
    contents: JobContents, code: str, stage: str
) -> tuple[tuple[NamedSection, ...], Array | None, str] | None:
    order = {s.code: i for i, s in enumerate(contents.stages)}
    limit = order.get(stage, len(order))
    areas: dict[str, dict[float, tuple[str, float]]] = {}
    edges: dict[str, dict[float, float]] = {}
    for item in contents.measurements:
        if item.subject != code or order.get(item.stage, -1) > limit:
            continue
        match = re.search(r"distance ([\d.,/ ]+ ?\w+)$", item.place)
        if match is None:
            continue
        distance = read(match[1], Kind.LENGTH).si
        if item.quantity == "section area":
            landmark = item.place.rpartition(";")[0].strip()
            areas.setdefault(item.stage, {})[distance] = (landmark, item.value.si)
        elif item.quantity == "section perimeter":
            edges.setdefault(item.stage, {})[distance] = item.value.si
    usable = [s for s, found in areas.items() if len(found) >= 3 and min(found) == 0.0]
    if not usable:
        return None
    newest = max(usable, key=lambda s: order.get(s, -1))
    points = sorted(areas[newest].items())
    sections = tuple(
        NamedSection(landmark or f"at {distance * 1e3:.0f} mm", distance, area)
        for distance, (landmark, area) in points
    )
    edge = edges.get(newest, {})
    full = all(s.position in edge for s in sections)
    return sections, np.array([edge[s.position] for s in sections]) if full else None, newest


def _from_calipers(
    contents: JobContents, port: Port, stage: str
) -> tuple[tuple[NamedSection, ...], str]:
    def size(quantity: str) -> float | None:
        found = latest(contents, port.code, quantity, stage)
        return None if found is None else found.value.si

    areas: dict[str, float] = {}
    for name in ("opening", "pinch", "short side"):
        width, height = size(f"{name} width"), size(f"{name} height")
        if width is not None and height is not None:
            radius = size(f"{name} corner radius") or 0.0
            half = 0.5 * min(width, height)
            if half < radius <= _ROUND * half:
                radius = half
            areas[name] = float(RoundedRectangle.with_equal_corners(width, height, radius).area)
    stem = size("stem diameter") or 0.0
    for name in ("bowl", "throat"):
        diameter = size(f"{name} diameter")
        if diameter is not None:
            areas[name] = port.valve_count * 0.25 * math.pi * (diameter**2 - stem**2)
    if "throat" not in areas or len(areas) < 2:
        raise InputError(
            f"{port.code} at {stage}: throat and one more section are needed.",
            "Measure them, or take a section profile.",
        )
    if "opening" not in areas:
        areas["opening"] = next(areas[n] for n in ("pinch", "short side", "bowl") if n in areas)
    length, source = _length(contents, port, stage, areas, size("port volume"))
    sections = [NamedSection(n, _PLACES[n] * length, areas[n]) for n in _PLACES if n in areas]
    return tuple(sections), source


def _length(
    contents: JobContents, port: Port, stage: str, areas: dict[str, float], volume: float | None
) -> tuple[float, str]:
    """Length of a port between valve and face. [m]"""
    if volume is not None:
        names = [n for n in _PLACES if n in areas]
        mean = np.trapezoid([areas[n] for n in names], [_PLACES[n] for n in names])
        return float(volume / mean), "port volume"
    valve = valve_at(contents, port.code, stage)
    diameter = valve.head_diameter if valve else 1.15 * math.sqrt(4.0 * areas["throat"] / math.pi)
    return _LENGTH_OVER_VALVE * diameter, "valve size, from memory"


@dataclass(frozen=True, slots=True, eq=False)
class PortCurve:
    """Bench curve of a port at a stage.

    Parameters
    ----------
    lift, area : ndarray, shape (n,)
        Lifts and effective area, geometric mean of the sound sweeps. [m, m2]
    runs : tuple of str
        Sweeps behind it.
    bench_uncertainty : float
        Relative standard uncertainty of the bench. [-]
    stub : Duct or None
        Exhaust stub that was mounted.
    findings : tuple of Finding
    """

    lift: Array
    area: Array
    runs: tuple[str, ...]
    bench_uncertainty: float
    stub: Duct | None
    findings: tuple[Finding, ...]


def port_curve(checked: CheckedJob, code: str, stage: str, pressure: float) -> PortCurve:
    """Bench curve of a port at a stage, moved to one test pressure.

    It stands at the lifts of the sweep with most of them; others are read between theirs.

    Raises
    ------
    UnknownNameError
        No sweeps of that port at that stage.
    InputError
        No usable sweep.
    """
    runs = choose(checked, None, code, stage)
    sound = [r for r in runs if r in checked.sound()]
    findings: list[Finding] = []
    if not sound:
        sound = [r for r in runs if r.curve is not None]
        findings.append(
            Finding(
                "only-doubtful-sweeps",
                Severity.WARNING,
                f"Every sweep of {code} at {stage} has something wrong with it.",
                "Sweep again.",
                Where(port=code, stage=stage),
            )
        )
    curves = [_moved(r, pressure) for r in sound]
    if not curves:
        raise InputError(f"{code} at {stage} has no usable sweep.", "Sweep it.")
    lift = max(curves, key=lambda c: c.lift.size).lift
    rows = np.log(np.array([c.at(lift) for c in curves]))
    return PortCurve(
        lift=lift,
        area=np.exp(np.nanmean(rows, axis=0)),
        runs=tuple(r.run.code for r in sound),
        bench_uncertainty=sound[0].calibration.relative_uncertainty,
        stub=_stub(sound[0].run.conditions.exhaust_stub),
        findings=tuple(findings),
    )


def _moved(item: ReducedRun, pressure: float) -> FlowCurve:
    if item.curve is None:  # pragma: no cover - callers pass usable runs
        raise InputError(f"Run {item.run.code} has no usable sweep.")
    law = PressureLaw(method_named(item.run.method).pressure_law)
    curve, _ = at_pressure(item, item.curve, pressure, law)
    return curve


def _stub(text: str) -> Duct | None:
    """Exhaust stub from words such as "38 mm bore x 250 mm", None where there was none."""
    match = re.search(r"([\d.,/]+) ?(mm|in)\b[^x×]*[x×] ?([\d.,/]+) ?(mm|in)", text, re.IGNORECASE)
    if match is None:
        return None
    bore = read(f"{match[1]} {match[2].lower()}", Kind.LENGTH).si
    length = read(f"{match[3]} {match[4].lower()}", Kind.LENGTH).si
    return plain_pipe("exhaust stub", length, bore)
