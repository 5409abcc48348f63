"""Scans: one section, a whole profile, metal taken between two of them."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.errors import InputError
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.services.scan import PlaneSection, Profile, Scan, ScanChange

UnitsOption = Annotated[
    str, typer.Option("--units", help="Unit of the numbers in the file: mm, cm, in or m.")
]
_FileArgument = Annotated[Path, typer.Argument(help="STL, OBJ, PLY or 3MF.")]
_PLANE = "'X,Y,Z' 'X,Y,Z'"


def _round(value: float, digits: int = 4) -> float | None:
    return round(value, digits) if math.isfinite(value) else None


def _report_json(scan: Scan) -> dict[str, Any]:
    from portwright.services.scan_ends import opening_words

    report = scan.report
    openings = []
    for opening in report.openings[:20]:
        point, normal = opening_words(opening, scan.unit)
        openings.append(
            {"point": point, "normal": normal, "rim_mm": _round(opening.length * 1e3, 2)}
        )
    return {
        "file": scan.name,
        "units": scan.unit,
        "triangles": report.faces,
        "corners": report.vertices,
        "shells": report.shells,
        "watertight": report.watertight,
        "non_manifold_edges": report.non_manifold,
        "flipped": report.flipped,
        "degenerate": report.degenerate,
        "repeated": report.repeated,
        "size_mm": [_round(float(v) * 1e3, 3) for v in scan.mesh.size],
        "volume_cc": _round(scan.mesh.volume * 1e6, 3) if report.watertight else None,
        "openings": openings,
    }


def section(
    file: _FileArgument,
    unit: UnitsOption,
    plane: Annotated[
        tuple[str, str],
        typer.Option("--plane", metavar=_PLANE, help="Point, in the file's unit, and normal."),
    ],
    as_json: JsonOption = False,
) -> None:
    """Area and perimeter of one plane section of a scan."""
    from portwright.services.scan import open_scan, plane_section
    from portwright.services.scan_ends import read_direction, read_point

    scan = open_scan(file, unit)
    point, normal = read_point(plane[0], scan.unit, "plane"), read_direction(plane[1], "plane")
    found = plane_section(scan, point, normal)
    findings = (*scan.findings, *found.findings)
    if as_json:
        print_json(_section_json(scan, found) | {"findings": [finding_json(f) for f in findings]})
        return
    say(f"{file.name}: area {found.area * 1e6:.2f} mm², perimeter {found.perimeter * 1e3:.2f} mm")
    if found.rough:
        say(f"  perimeter without roughness {found.smooth_perimeter * 1e3:.2f} mm")
    say(f"  hydraulic diameter {found.hydraulic_diameter * 1e3:.2f} mm")
    if len(found.cut.loops) > 1:
        rows = [
            (f"{place}", f"{loop.area * 1e6:.2f}", f"{loop.perimeter * 1e3:.2f}", f"{depth}")
            for place, (loop, depth) in enumerate(
                zip(found.cut.loops, found.cut.depths(), strict=True), start=1
            )
        ]
        table(("outline", "area mm²", "perimeter mm", "lies in others"), rows)
    say_findings(findings)


def _section_json(scan: Scan, found: PlaneSection) -> dict[str, Any]:
    cut = found.cut
    return {
        "file": scan.name,
        "units": scan.unit,
        "area_mm2": _round(found.area * 1e6),
        "perimeter_mm": _round(found.perimeter * 1e3),
        "smooth_perimeter_mm": _round(found.smooth_perimeter * 1e3),
        "hydraulic_diameter_mm": _round(found.hydraulic_diameter * 1e3),
        "bridged_mm": _round(cut.gap * 1e3),
        "outlines": [
            {
                "area_mm2": _round(loop.area * 1e6),
                "perimeter_mm": _round(loop.perimeter * 1e3),
                "lies_in_others": depth,
                "centroid_mm": [
                    _round(float(v) * 1e3) for v in cut.in_space(loop.centroid[None, :])[0]
                ],
                "bridged_mm": _round(loop.gap * 1e3),
            }
            for loop, depth in zip(cut.loops, cut.depths(), strict=True)
        ],
    }


def scan(
    file: _FileArgument,
    unit: UnitsOption,
    inlet: Annotated[
        tuple[str, str] | None,
        typer.Option("--inlet", metavar=_PLANE, help="Point in the opening, and its normal."),
    ] = None,
    outlet: Annotated[
        tuple[str, str] | None,
        typer.Option("--outlet", metavar=_PLANE, help="The same at the other end."),
    ] = None,
    stations: Annotated[int, typer.Option("--stations", help="Sections along the port.")] = 100,
    after: Annotated[
        Path | None, typer.Option("--after", help="Later scan of the port, in the same unit.")
    ] = None,
    store: Annotated[
        tuple[str, str, str] | None,
        typer.Option("--store", metavar="JOB PORT STAGE", help="Keep the profile as sections."),
    ] = None,
    landmark: Annotated[
        list[str] | None,
        typer.Option("--landmark", metavar="'NAME=DISTANCE'", help="For --store: 'pinch=48 mm'."),
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Look a scan over; with inlet and outlet its profile, with a later scan the metal taken."""
    from portwright.services.scan import compare_scans, open_scan, profile_of
    from portwright.services.scan_ends import end_of
    from portwright.services.scan_store import store_profile
    from portwright.services.shop_file import open_shop

    found = open_scan(file, unit)
    if (inlet is None) != (outlet is None) or (store and inlet is None):
        raise InputError("A profile needs --inlet and --outlet.", "Give a point and a normal each.")
    profile = None
    if inlet is not None and outlet is not None:
        start = end_of(inlet[0], inlet[1], found.unit, "inlet")
        finish = end_of(outlet[0], outlet[1], found.unit, "outlet")
        profile = profile_of(found, start, finish, stations)
    change = compare_scans(found, open_scan(after, unit)) if after else None
    stored = 0
    if store and profile is not None:
        with open_shop(shop) as archive:
            stored = store_profile(archive, *store, profile, _landmarks(landmark or []))
    if as_json:
        answer = _report_json(found)
        answer["profile"] = _profile_json(profile) if profile else None
        answer["change"] = _change_json(change) if change else None
        findings = change.findings if change else found.findings
        print_json(answer | {"stored": stored, "findings": [finding_json(f) for f in findings]})
        return
    _say_scan(found, profile, change, stored)


def _landmarks(texts: list[str]) -> dict[str, float]:
    found = {}
    for text in texts:
        name, equals, distance = text.partition("=")
        if not equals:
            raise InputError(f"'{text}' names no distance.", "Write it like 'pinch=48 mm'.")
        found[name.strip()] = units.read(distance, Kind.LENGTH).si
    return found


def _profile_json(profile: Profile) -> dict[str, Any]:
    line = profile.line
    inner = profile.inner_radius
    return {
        "volume_cc": _round(profile.volume * 1e6, 3),
        "smallest": profile.smallest,
        "smallest_area_mm2": _round(float(profile.area[profile.smallest]) * 1e6, 2),
        "smallest_distance_mm": _round(float(line.distance[profile.smallest]) * 1e3, 2),
        "short_side_radius_mm": _round(float(inner.min()) * 1e3, 1),
        "short_side_distance_mm": _round(float(line.distance[profile.tightest]) * 1e3, 2),
        "centreline_radius_there_mm": _round(float(line.radius[profile.tightest]) * 1e3, 1),
        "sections": [
            {
                "distance_mm": _round(float(line.distance[i]) * 1e3, 3),
                "area_mm2": _round(float(profile.area[i]) * 1e6, 2),
                "perimeter_mm": _round(float(profile.perimeter[i]) * 1e3, 3),
                "hydraulic_diameter_mm": _round(float(profile.hydraulic_diameter[i]) * 1e3, 3),
                "centre_mm": [_round(float(v) * 1e3, 3) for v in line.points[i]],
                "centreline_radius_mm": _round(float(line.radius[i]) * 1e3, 1),
                "inner_radius_mm": _round(float(inner[i]) * 1e3, 1),
                "bridged_mm": _round(float(profile.gap[i]) * 1e3, 3),
            }
            for i in range(len(line.distance))
        ],
    }


def _change_json(change: ScanChange) -> dict[str, Any]:
    removed = change.removed
    return {
        "removed_cc": _round(removed.volume * 1e6, 3),
        "grown_cc": _round(removed.grown * 1e6, 3),
        "shrunk_cc": _round(removed.shrunk * 1e6, 3),
        "deepest_mm": _round(float(removed.depth.max()) * 1e3, 3),
        "unchanged_surfaces_differ_mm": _round(removed.registration.residual * 1e3, 4),
    }


def _say_scan(found: Scan, profile: Profile | None, change: ScanChange | None, stored: int) -> None:
    from portwright.services.scan_ends import opening_words

    report = found.report
    size = " x ".join(f"{float(v) * 1e3:.1f}" for v in found.mesh.size)
    closed = "closed" if report.watertight else "not closed"
    say(f"{found.name}: {report.faces:,} triangles, {closed}, {size} mm")
    for opening in report.openings[:6]:
        point, normal = opening_words(opening, found.unit)
        say(f"  opening, rim {opening.length * 1e3:.0f} mm: '{point}' '{normal}'")
    if profile is not None:
        least = profile.smallest
        say(
            f"  smallest section {profile.area[least] * 1e6:.1f} mm², "
            f"{profile.line.distance[least] * 1e3:.1f} mm from the inlet; "
            f"volume {profile.volume * 1e6:.2f} cc; "
            f"short-side radius {profile.inner_radius.min() * 1e3:.0f} mm, "
            f"{profile.line.distance[profile.tightest] * 1e3:.0f} mm from the inlet"
        )
        step = max(1, len(profile.area) // 20)
        rows = [
            (
                f"{profile.line.distance[i] * 1e3:.1f}",
                f"{profile.area[i] * 1e6:.1f}",
                f"{profile.perimeter[i] * 1e3:.1f}",
                f"{profile.hydraulic_diameter[i] * 1e3:.2f}",
            )
            for i in range(0, len(profile.area), step)
        ]
        table(("from inlet mm", "area mm²", "perimeter mm", "hydraulic mm"), rows)
    if change is not None:
        removed = change.removed
        say(
            f"  taken {removed.grown * 1e6:.2f} cc, added {removed.shrunk * 1e6:.2f} cc, deepest "
            f"{removed.depth.max() * 1e3:.2f} mm; unchanged surfaces fit within "
            f"{removed.registration.residual * 1e3:.3f} mm"
        )
    if stored:
        say(f"  {stored} sections stored")
    say_findings(change.findings if change else found.findings)
