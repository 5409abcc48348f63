"""Scans of ports: what is wrong with them, sections, profiles, metal taken between two of them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from portwright import units
from portwright.core.mesh.centreline import End, region_at
from portwright.core.mesh.checks import MeshReport, Opening, repaired
from portwright.core.mesh.mesh import Mesh, group_mean, simplified
from portwright.core.mesh.profile import ScanProfile, scan_profile, smooth_perimeter
from portwright.core.mesh.registration import Removed, register, removed_metal
from portwright.core.mesh.slicing import Cut, Slicer
from portwright.errors import Finding, GeometryError, InputError, Severity, UnknownNameError
from portwright.io.meshes import read_mesh
from portwright.model.job import Measurement
from portwright.services.guarded import careful
from portwright.services.jobs import today
from portwright.services.shop_file import ShopFile
from portwright.services.sweeps import port_named
from portwright.units import Kind

_USUAL_SIZE = (0.02, 1.0)  # largest edge of a port, mould or head, from memory [m]
_MOST_GAP = 0.05  # of an outline that may be bridged before its area is doubtful, our choice
_TOUCHED = 4e-3  # a finger means this much of the surface, our choice [m]
_FLAT = 0.8  # length of the mean normal; noise of a tenth of the triangles leaves 0.9 [-]
_SHORTEST = 0.5  # of the width: less is no port between two ends, our choice
_ROUGH = 0.02  # sharp corners make up less than that, our choice
_STORED = 40  # sections stored of a profile: a station every few millimetres

Array = NDArray[np.float64]
Told = Callable[[str], None]

# A scanned profile and its ends, under names commands and screens may use.
Profile = ScanProfile
ScanEnd = End


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """A scan, repaired as far as its shape does not change.

    Parameters
    ----------
    name : str
        File name.
    unit : str
        Unit it was read in.
    mesh : Mesh
    slicer : Slicer
    report : MeshReport
    findings : tuple of Finding
    """

    name: str
    unit: str
    mesh: Mesh
    slicer: Slicer
    report: MeshReport
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PlaneSection:
    """One cut through a scan.

    Parameters
    ----------
    cut : Cut
    area, perimeter : float
        Outlines inside others taken off the area, not off the perimeter. [m2, m]
    smooth_perimeter : float
        The same without the roughness of the scan. [m]
    findings : tuple of Finding
    """

    cut: Cut
    area: float
    perimeter: float
    smooth_perimeter: float
    findings: tuple[Finding, ...]

    @property
    def rough(self) -> bool:
        """Roughness makes the outline longer than a measurer would find it."""
        return self.perimeter > (1.0 + _ROUGH) * self.smooth_perimeter

    @property
    def hydraulic_diameter(self) -> float:
        """Four times area over perimeter, without roughness where the scan is rough. [m]"""
        return 4.0 * self.area / (self.smooth_perimeter if self.rough else self.perimeter)


@dataclass(frozen=True, slots=True, eq=False)
class ScanChange:
    """Two scans of one port, the later laid on the earlier.

    Parameters
    ----------
    removed : Removed
    findings : tuple of Finding
    """

    removed: Removed
    findings: tuple[Finding, ...]


def open_scan(path: Path, unit: str, name: str = "", told: Told = lambda _: None) -> Scan:
    """Read a scan and look it over.

    Parameters
    ----------
    path : Path
    unit : str
        Unit of its numbers, always named by a person.
    name : str
        What a person calls the file, if not as it is kept.
    told : callable
        Told each step before it begins; may raise to stop the work.

    Raises
    ------
    ImportFileError, UnitError
    """
    told(f"Reading {name or path.name}")
    read = careful(read_mesh, path, unit, name)
    told(f"Looking {len(read.faces):,} triangles over for holes and doubled faces")
    mesh, report = repaired(read)
    told("Making ready to cut")
    found = [*_size_findings(mesh, unit), *_report_findings(report)]
    return Scan(name or path.name, unit, mesh, Slicer(mesh), report, tuple(found))


def _size_findings(mesh: Mesh, unit: str) -> list[Finding]:
    size = float(np.max(mesh.size))
    low, high = _USUAL_SIZE
    if low <= size <= high:
        return []
    others = [
        other
        for other in ("mm", "cm", "in", "m")
        if other != unit and low <= size * _scale(other) / _scale(unit) <= high
    ]
    shown = ", ".join(f"{size * _scale(o) / _scale(unit) * 1e3:.0f} mm as {o}" for o in others)
    return [
        Finding(
            "scan-size",
            Severity.WARNING,
            f"The scan is {size * 1e3:.4g} mm across in {unit}; a port is 20 to 1000 mm.",
            f"Is the unit right? It would be {shown}." if others else "Is it the whole scan?",
            size=size,
        )
    ]


def _scale(unit: str) -> float:
    return units.to_si(1.0, unit, Kind.LENGTH)


def _report_findings(report: MeshReport) -> list[Finding]:
    said = (
        ("scan-non-manifold", report.non_manifold, "edges with more than two triangles",
         "Sections stay usable; volumes may be off there."),
        ("scan-flipped", report.flipped, "triangles were turned to fit their neighbours", ""),
        ("scan-degenerate", report.degenerate, "triangles without area were left out", ""),
        ("scan-repeated", report.repeated, "triangles were there twice and left out once", ""),
    )  # fmt: skip
    found = [
        Finding(code, Severity.NOTE, f"{count} {words}.", hint, size=float(count))
        for code, count, words, hint in said
        if count
    ]
    if report.openings:
        longest = report.openings[0].length
        found.append(
            Finding(
                "scan-holes",
                Severity.NOTE,
                f"{_count(len(report.openings), 'hole')}, the longest rim {longest * 1e3:.0f} mm.",
                "Openings of the port are holes too. Sections bridge a hole and say how far.",
                size=float(len(report.openings)),
            )
        )
    return found


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def plane_section(scan: Scan, point: Array, normal: Array) -> PlaneSection:
    """Cut a scan with a plane.

    Raises
    ------
    GeometryError
        The plane misses the scan, or has no direction.
    """
    cut = scan.slicer.cut(point, normal)
    if not cut.loops:
        raise GeometryError(
            "The plane does not meet the scan.",
            f"Give its point in {scan.unit}, as in the file.",
        )
    smooth = sum(smooth_perimeter(loop) for loop in cut.loops)
    findings = _gap_findings(cut.gap, cut.perimeter)
    found = PlaneSection(cut, cut.area, cut.perimeter, smooth, findings)
    if not found.rough:
        return found
    rough = Finding(
        "section-rough",
        Severity.NOTE,
        f"The outline as cut is {100.0 * (cut.perimeter / smooth - 1.0):.0f} % longer than without "
        "the roughness of the scan.",
        "Use the smooth perimeter; the area hardly depends on it.",
        size=cut.perimeter / smooth - 1.0,
    )
    return replace(found, findings=(*findings, rough))


def _gap_findings(gap: float, perimeter: float) -> tuple[Finding, ...]:
    if gap <= 0.0:
        return ()
    share = gap / perimeter
    return (
        Finding(
            "section-bridged",
            Severity.WARNING if share > _MOST_GAP else Severity.NOTE,
            f"{gap * 1e3:.2f} mm of the outline ({100.0 * share:.1f} %) bridge holes of the scan.",
            "A bridge is a straight line: the area is short by what bulges out behind it.",
            size=share,
        ),
    )


def profile_of(scan: Scan, inlet: End, outlet: End, stations: int = 100) -> ScanProfile:
    """Profile between two chosen ends.

    Raises
    ------
    GeometryError
    """
    if not 5 <= stations <= 1000:
        raise InputError(f"{stations} sections cannot be.", "Ask for 5 to 1000.")
    profile = scan_profile(scan.slicer, inlet, outlet, stations)
    length = float(profile.line.distance[-1] - profile.line.distance[0])
    if length < _SHORTEST * math.sqrt(float(profile.area.max())):
        raise GeometryError(
            f"Inlet and outlet lie only {length * 1e3:.1f} mm apart along the port.",
            "Choose the two ends of the port, not its side.",
        )
    return profile


def compare_scans(before: Scan, after: Scan) -> ScanChange:
    """Lay the later scan on the earlier one and measure what was taken.

    Raises
    ------
    GeometryError
    """
    change = removed_metal(before.mesh, after.mesh, register(before.mesh, after.mesh))
    found = list(dict.fromkeys((*before.findings, *after.findings)))  # said once
    deep = float(np.quantile(np.abs(change.depth), 0.99))
    if change.registration.residual > 0.3 * deep:
        found.append(
            Finding(
                "scans-do-not-fit",
                Severity.WARNING,
                f"The unchanged surfaces still differ by {change.registration.residual * 1e3:.2f} "
                f"mm, the deepest changes are {deep * 1e3:.2f} mm.",
                "Nothing much was cut, or the scans are of different ports.",
                size=change.registration.residual,
            )
        )
    return ScanChange(change, tuple(found))


def store_profile(
    shop: ShopFile,
    job: str,
    port: str,
    stage: str,
    profile: ScanProfile,
    landmarks: Mapping[str, float] | None = None,
) -> int:
    """Keep a scanned profile as sections of a port at a stage.

    Parameters
    ----------
    landmarks : mapping of str to float, optional
        Landmark to distance from the inlet; the nearest section gets its name. [m]

    Returns
    -------
    int
        Sections stored.

    Raises
    ------
    UnknownNameError
        No such port or stage.
    InputError
        The port has sections at that stage already.
    """
    contents = shop.job(job)
    if port_named(contents, port) is None:
        raise UnknownNameError("port", port, (p.code for p in contents.ports))
    if stage not in {s.code for s in contents.stages}:
        raise UnknownNameError("stage", stage, (s.code for s in contents.stages))
    if any(
        (m.subject, m.quantity, m.stage) == (port, "section area", stage)
        for m in contents.measurements
    ):
        raise InputError(
            f"{port} has sections at {stage} already.", "Make a new stage for the new scan."
        )
    line = profile.line
    chosen = np.unique(np.linspace(0, len(line.distance) - 1, _STORED).astype(int))
    chosen = np.union1d(chosen, [profile.smallest])
    named = {
        int(chosen[np.argmin(np.abs(line.distance[chosen] - at))]): name
        for name, at in (landmarks or {}).items()
    }
    new = []
    for i in (int(k) for k in chosen):
        at = f"distance {line.distance[i] * 1e3:.1f} mm"
        place = f"{named[i]}; {at}" if i in named else at
        for quantity, value, unit, kind in (
            ("section area", float(profile.area[i]) * 1e6, "mm2", Kind.AREA),
            ("section perimeter", float(profile.perimeter[i]) * 1e3, "mm", Kind.LENGTH),
        ):
            text = units.read(f"{value:.1f}", kind, unit)
            new.append(
                Measurement(port, quantity, text, place, stage, "scan", today(), "from a scan")
            )
    shop.add_measurements(job, new)
    return len(chosen)


def read_point(text: str, unit: str, what: str) -> Array:
    """Read "x,y,z" in the unit of the file. [m]

    Raises
    ------
    InputError
        Not three numbers.
    """
    return _three(text, what) * _scale(unit)


def read_direction(text: str, what: str) -> Array:
    """Read a direction "x,y,z" of any length but zero.

    Raises
    ------
    InputError
        Not three numbers, or no direction.
    """
    found = _three(text, what)
    if not float(np.linalg.norm(found)) > 0.0:
        raise InputError(f"The normal of the {what} has no direction.", "Give one such as 0,0,1.")
    return found


def _three(text: str, what: str) -> Array:
    parts = [p for p in re.split(r"[,;\s]+", text.strip()) if p]
    try:
        values = [float(p) for p in parts]
    except ValueError:
        values = []
    if len(values) != 3 or not all(math.isfinite(v) for v in values):
        raise InputError(
            f"'{text}' is not a point of the {what}.",
            "Give three numbers with commas between them and decimal points: 12.5,0,40.",
        )
    return np.array(values)


def end_at_opening(opening: Opening) -> End:
    """Inlet or outlet at an opening of the scan."""
    return End(opening.centre, opening.normal)


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A coarser copy of a scan, to look at.

    Parameters
    ----------
    corners : ndarray, shape (n, 3)
        [m]
    faces : ndarray of int, shape (m, 3)
    depths : ndarray, shape (n,), or None
        Metal taken at each corner. [m]
    """

    corners: Array
    faces: NDArray[np.int64]
    depths: Array | None = None


def picture_of(scan: Scan, change: ScanChange | None = None, most: int = 40_000) -> Picture:
    """Coarser copy of a scan, with the metal taken where a change is given."""
    coarse, group = simplified(scan.mesh, most)
    depths = None if change is None else group_mean(change.removed.depth, group)
    return Picture(coarse.vertices, coarse.faces, depths)


def outlines_at(scan: Scan, profile: ScanProfile, station: int) -> list[Array]:
    """Outlines of a section of a profile in space, each closed. [m]"""
    found = region_at(scan.slicer, profile.line.points[station], profile.line.tangents[station])
    if found is None:  # pragma: no cover - the profile was made from these sections
        return []
    cut, region = found
    loops = (region.outline, *region.islands)
    return [cut.in_space(np.vstack([k.points, k.points[:1]])) for k in loops]


def end_touched(scan: Scan, place: Array) -> End:
    """Inlet or outlet where a person touched a closed scan: the flat face round that place.

    Parameters
    ----------
    place : ndarray, shape (3,)
        On or near the surface. [m]

    Raises
    ------
    GeometryError
        The surface is not flat there.

    Notes
    -----
    The normal is the area-weighted mean of the triangles within 4 mm; the direction of a face of a
    mould or of the machined opening, whatever its roughness.
    """
    corners = scan.mesh.vertices[scan.mesh.faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # distance to the nearest point of each triangle is not needed: corners and middle will do
    spots = np.concatenate([corners, corners.mean(axis=1, keepdims=True)], axis=1)
    gap = np.min(np.linalg.norm(spots - place, axis=2), axis=1)
    near = gap <= max(_TOUCHED, float(gap.min()) * 1.01)
    normal = across[near].sum(axis=0)
    length = float(np.linalg.norm(normal))
    if not length > _FLAT * float(np.linalg.norm(across[near], axis=1).sum()):
        raise GeometryError(
            "The scan is not flat at that place.", "Touch the middle of the end of the port."
        )
    return End(place, normal / length)


def ring_at(end: End, radius: float = 6e-3) -> Array:
    """Small circle that marks an end in a picture. [m]"""
    across = np.cross(end.normal, np.eye(3)[int(np.argmin(np.abs(end.normal)))])
    across /= np.linalg.norm(across)
    above = np.cross(end.normal, across)
    angle = np.linspace(0.0, 2.0 * np.pi, 25)[:, np.newaxis]
    ring: Array = end.point + radius * (np.cos(angle) * across + np.sin(angle) * above)
    return ring


def end_of(point: str, normal: str, unit: str, what: str) -> End:
    """Inlet or outlet as typed.

    Raises
    ------
    InputError
    """
    return End(read_point(point, unit, what), read_direction(normal, what))


def opening_words(opening: Opening, unit: str) -> tuple[str, str]:
    """Centre and normal of an opening as a person would type them."""
    point = ",".join(f"{v / _scale(unit):.4g}" for v in opening.centre)
    return point, ",".join(f"{v:.4f}" for v in opening.normal)
