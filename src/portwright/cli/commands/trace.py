"""Measuring on a photo of a job from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.errors import InputError, one_of
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.services.display import Display
    from portwright.services.shop_file import ShopFile
    from portwright.services.trace import Traced, Tracing

_PLACES = "'X,Y …'"


def trace(
    job: Annotated[str, typer.Argument(help="Job number.")],
    photo: Annotated[
        int | None, typer.Argument(help="Number of the photo; without it they are listed.")
    ] = None,
    scale: Annotated[
        str,
        typer.Option(
            "--scale",
            metavar="SCALE",
            help="What gives the scale: 'frame', 'frame with middles', 'circle' or 'bar'.",
        ),
    ] = "frame",
    mark: Annotated[
        list[str] | None,
        typer.Option(
            metavar=_PLACES,
            help="Marks of the scale in order round it, pixels from the left and from the top.",
        ),
    ] = None,
    size: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH",
            help="Length of the bar, diameter of the circle, or both sides of the frame, the one "
            "marked first first: '120 mm'.",
        ),
    ] = None,
    size_known: Annotated[
        str, typer.Option("--size-known", metavar="LENGTH", help="Most a size may be off.")
    ] = "0.2 mm",
    lines: Annotated[
        bool,
        typer.Option(
            "--find-lines",
            help="From four rough corners find the printed lines of the frame, or the edges of a "
            "plain sheet, and with them the bend of the lens.",
        ),
    ] = False,
    inside: Annotated[
        str, typer.Option(metavar="X,Y", help="A place inside what is to be outlined.")
    ] = "",
    outline: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Points round it in place of that: lines of 'X,Y'."),
    ] = None,
    straight: Annotated[
        bool, typer.Option("--straight", help="Join the points by straight lines.")
    ] = False,
    hole: Annotated[
        list[str] | None,
        typer.Option(
            metavar=_PLACES, help="Two dowel or bolt holes, by which a face is laid on another."
        ),
    ] = None,
    store: Annotated[
        tuple[str, str] | None,
        typer.Option("--store", metavar="PORT STAGE", help="Keep it with the port."),
    ] = None,
    target: Annotated[
        str,
        typer.Option(
            "--as", metavar="WHAT", help="'section', 'opening', 'runner', 'gasket' or 'chamber'."
        ),
    ] = "section",
    distance: Annotated[
        str, typer.Option("--distance", help="Of a section from the opening: '48 mm'.")
    ] = "",
    landmark: Annotated[str, typer.Option("--landmark", help="Landmark at a section.")] = "",
    reason: Annotated[
        str, typer.Option("--reason", help="Why a size that is there already changes.")
    ] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Area and perimeter of an outline on a photo, with lines or edges of the frame found."""
    from portwright.services import trace as tracing_of
    from portwright.services import trace_store
    from portwright.services.display import Display
    from portwright.services.files import read_file
    from portwright.services.shop_file import open_shop
    from portwright.services.trace_entry import (
        Asked,
        read_outline,
        read_points,
        trace_asked,
    )

    with open_shop(shop) as archive:
        if photo is None:
            _list(archive, job, as_json=as_json)
            return
        at = read_points([inside])
        if len(at) > 1:
            raise InputError(f"'{inside}' is more than one place.", "Give one place inside.")
        asked = Asked(
            one_of(tracing_of.ScaleKind, scale, "scale of a photo"),
            read_points(mark or []),
            tuple(units.read(text, Kind.LENGTH) for text in size or []),
            units.read(size_known, Kind.LENGTH),
            lines,
            at[0] if at else None,
            read_outline(read_file(outline), outline.name) if outline else (),
            tracing_of.Join.STRAIGHT if straight else tracing_of.Join.SMOOTH,
            read_points(hole or []),
        )
        tracing = trace_asked(archive, tracing_of.photo(archive, job, photo), asked)
        found, display = tracing_of.trace(tracing), Display.of(archive.shop())
        stored: tuple[Any, ...] = ()
        if store is not None:
            belongs = trace_store.Belongs(
                job,
                *store,
                one_of(trace_store.Target, target, "kind of outline"),
                units.read(distance, Kind.LENGTH) if distance else None,
                landmark,
            )
            stored = trace_store.store(archive, belongs, tracing, reason)
    findings = (*found.findings, *trace_store.questions(stored))
    if as_json:
        print_json(
            _json(tracing, found)
            | {
                "stored": [f"{m.subject} {m.quantity} {m.value}" for m in stored],
                "findings": [finding_json(f) for f in findings],
            }
        )
        return
    _say(tracing, found, display)
    for measured in stored:
        say(f"  kept: {measured.quantity} of {measured.subject} {measured.value}")
    say_findings(findings)


def _list(archive: ShopFile, job: str, *, as_json: bool) -> None:
    from portwright.services.display import Display
    from portwright.services.trace import area_text, photos
    from portwright.services.trace_store import traces

    kept, traced = photos(archive, job), traces(archive, job)
    if as_json:
        print_json(
            {
                "photos": [
                    {"photo": p.id, "name": p.name, "subject": p.subject, "stage": p.stage}
                    for p in kept
                ],
                "traces": [
                    {
                        "trace": t.id,
                        "photo": t.tracing.photo,
                        "subject": t.subject,
                        "stage": t.stage,
                        "outline_is": t.target.value,
                        "place": t.place,
                    }
                    | _json(t.tracing, t.traced)
                    for t in traced
                ],
            }
        )
        return
    table(("photo", "name", "shows"), [(f"{p.id}", p.name, f"{p.subject} {p.stage}") for p in kept])
    display = Display.of(archive.shop())
    if traced:
        rows = [
            (
                f"{t.id}",
                f"{t.tracing.photo}",
                f"{t.subject} {t.stage}",
                t.place or t.target.value,
                area_text(t.traced, display),
            )
            for t in traced
        ]
        table(("trace", "on photo", "belongs to", "place", "area, 95 %"), rows)


def _say(tracing: Tracing, found: Traced, shown: Display) -> None:
    from portwright.services.trace import area_text, perimeter_text

    say(f"Photo {tracing.photo}, {tracing.scale.value}, {len(tracing.outline)} points")
    say(f"  area {area_text(found, shown)}, perimeter {perimeter_text(found, shown)} (95 %)")
    say("  largest shares: " + ", ".join(f"{n} ±{100 * s:.2f} %" for n, s in found.causes[:3]))


def _json(tracing: Tracing, found: Traced) -> dict[str, Any]:
    return {
        "photo": tracing.photo,
        "scale": tracing.scale.value,
        "marks_px": [list(p) for p in tracing.marks],
        "outline_px": [list(p) for p in tracing.outline],
        "holes_px": [list(p) for p in tracing.holes],
        "area_mm2": round(found.area * 1e6, 3),
        "area_plus_or_minus_mm2": round(found.area_interval * 1e6, 3),
        "perimeter_mm": round(found.perimeter * 1e3, 3),
        "perimeter_plus_or_minus_mm": round(found.perimeter_interval * 1e3, 3),
        "causes_percent": {name: round(100.0 * share, 3) for name, share in found.causes},
        "pixel_mm": round(found.pixel * 1e3, 5),
    }
