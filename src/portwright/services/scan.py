"""Scans of ports: what is wrong with them, sections, profiles, metal taken between two of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from portwright import units
from portwright.core.mesh.centreline import End
from portwright.core.mesh.checks import MeshReport, repaired
from portwright.core.mesh.cut import Cut
from portwright.core.mesh.mesh import Mesh
from portwright.core.mesh.profile import ScanProfile, scan_profile, smooth_perimeter
from portwright.core.mesh.registration import Removed, register, removed_metal
from portwright.core.mesh.slicing import Slicer
from portwright.errors import Finding, GeometryError, InputError, Severity
from portwright.io.meshes import read_mesh
from portwright.services.guarded import careful
from portwright.units import Kind

_USUAL_SIZE = (0.02, 1.0)  # largest edge of a port, mould or head, from memory [m]
_MOST_GAP = 0.05  # of an outline that may be bridged before its area is doubtful, our choice
_SHORTEST = 0.5  # of the width: less is no port between two ends, our choice
_ROUGH = 0.02  # sharp corners make up less than that, our choice

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
        if other != unit and low <= size * unit_scale(other) / unit_scale(unit) <= high
    ]
    shown = ", ".join(
        f"{size * unit_scale(o) / unit_scale(unit) * 1e3:.0f} mm as {o}" for o in others
    )
    return [
        Finding(
            "scan-size",
            Severity.WARNING,
            f"The scan is {size * 1e3:.4g} mm across in {unit}; a port is 20 to 1000 mm.",
            f"Is the unit right? It would be {shown}." if others else "Is it the whole scan?",
            size=size,
        )
    ]


def unit_scale(unit: str) -> float:
    """Length of one unit of a file. [m]"""
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
