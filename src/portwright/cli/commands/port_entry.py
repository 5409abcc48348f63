"""What is measured on a port, typed in: sections by shape, walls, pitot marks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import print_json, say, table
from portwright.errors import InputError
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.model.quantity import AsTyped
    from portwright.services.display import Display
    from portwright.services.metal import Wall

ReasonOption = Annotated[
    str, typer.Option("--reason", help="Why a number that is there already changes.")
]


def _length(text: str, unit: str = "mm") -> AsTyped:
    return units.read(text, Kind.LENGTH, unit)


def _sizes(texts: list[str]) -> dict[str, AsTyped]:
    found = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            raise InputError(f"'{text}' names no size.", "Write it like 'width=32 mm'.")
        found[" ".join(name.split())] = _length(value)
    return found


def shape(
    name: Annotated[
        str, typer.Argument(metavar="SHAPE", help="'circle', 'oval', 'D shape' and so on.")
    ],
    sizes: Annotated[
        list[str], typer.Argument(metavar="NAME=SIZE…", help="'width=32 mm' 'corner radius=6 mm'.")
    ],
    landmark: Annotated[
        str, typer.Option("--landmark", help="Its caliper error is used; kept with the section.")
    ] = "",
    distance: Annotated[
        str, typer.Option("--distance", help="From the opening along the centreline: '48 mm'.")
    ] = "",
    guide: Annotated[
        tuple[str, str] | None,
        typer.Option("--guide", metavar="DIAMETER LENGTH", help="Guide or stem in this plane."),
    ] = None,
    boss: Annotated[str, typer.Option("--boss", help="Area a boss takes away: '60 mm²'.")] = "",
    store: Annotated[
        tuple[str, str, str] | None,
        typer.Option("--store", metavar="JOB PORT STAGE", help="Keep it as a section of a port."),
    ] = None,
    reason: ReasonOption = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Area, perimeter, hydraulic diameter and centroid of a section from its sizes."""
    from portwright.services.port_limits import limits_of
    from portwright.services.section_entry import (
        SectionEntry,
        figures_of,
        record_section,
        shape_named,
    )
    from portwright.services.shop_file import open_shop

    standing: dict[str, AsTyped] = {}
    if guide:
        standing |= {
            "guide diameter": _length(guide[0]),
            "exposed guide length": _length(guide[1]),
        }
    if boss:
        standing["blocked area"] = units.read(boss, Kind.AREA, "mm2")
    entry = SectionEntry(
        shape_named(name),
        _sizes(sizes),
        landmark,
        _length(distance) if distance else None,
        standing,
    )
    written = 0
    if store:
        with open_shop(shop) as archive:
            found = figures_of(entry, limits_of(archive))
            written = record_section(archive, *store, entry, reason)
    else:
        found = figures_of(entry)
    if as_json:
        print_json(
            {
                "shape": entry.shape.value,
                "area_mm2": round(found.area * 1e6, 3),
                "area_uncertainty_mm2": round(found.uncertainty * 1e6, 3),
                "blocked_mm2": round(found.blocked * 1e6, 3),
                "perimeter_mm": round(found.perimeter * 1e3, 4),
                "hydraulic_diameter_mm": round(found.hydraulic_diameter * 1e3, 4),
                "centroid_mm": [round(v * 1e3, 4) for v in found.centroid],
                "stored": written,
            }
        )
        return
    doubt = 2.0 * found.uncertainty * 1e6
    say(f"{entry.shape.value}: area {found.area * 1e6:.0f} ± {doubt:.0f} mm² (95 %, calipers)")
    if found.blocked:
        say(f"  {found.blocked * 1e6:.0f} mm² taken off for what stands in it")
    say(
        f"  perimeter {found.perimeter * 1e3:.1f} mm, hydraulic diameter "
        f"{found.hydraulic_diameter * 1e3:.1f} mm, centroid {found.centroid[0] * 1e3:.1f} mm "
        f"across, {found.centroid[1] * 1e3:.1f} mm up"
    )
    if written:
        say(f"  {written} numbers stored")


def wall(
    job: Annotated[str, typer.Argument(help="Job number.")],
    subject: Annotated[
        str, typer.Argument(metavar="[SUBJECT]", help="Cylinder ('cyl 4') or port.")
    ] = "",
    place: Annotated[
        str, typer.Argument(metavar="[PLACE]", help="In words: 'pinch, pushrod side'.")
    ] = "",
    stage: Annotated[str, typer.Option("--stage", help="Stage of the reading.")] = "",
    reading: Annotated[str, typer.Option("--reading", help="Thickness now: '4.2 mm'.")] = "",
    plan: Annotated[str, typer.Option("--plan", help="Cut planned there: '0.9 mm'.")] = "",
    limit: Annotated[str, typer.Option("--limit", help="What must stay there: '3 mm'.")] = "",
    reason: ReasonOption = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Walls of a job with the metal left, now and after the plan; or keep a reading."""
    from portwright.services.display import Display
    from portwright.services.metal import walls
    from portwright.services.port_limits import limits_of
    from portwright.services.shop_file import open_shop
    from portwright.services.wall_entry import record_wall

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        if reading or plan or limit:
            if not (subject and place and stage):
                raise InputError("Say which wall.", "Give subject, place and --stage.")
            typed = {"wall thickness": reading, "planned cut": plan, "wall limit": limit}
            numbers = {q: _length(text, display.length) for q, text in typed.items() if text}
            found = [record_wall(archive, job, subject, place, stage, numbers, reason)]
        else:
            contents = archive.job(job)
            found = [
                w
                for w in walls(contents, limits_of(archive), stage)
                if subject in {"", w.subject} and (not place or w.place == place)
            ]
    if as_json:
        print_json([wall_json(w) for w in found])
        return
    _say_walls(found, display)


def wall_json(wall: Wall) -> dict[str, Any]:
    """A wall as JSON values."""

    def mm(value: float | None) -> float | None:
        return None if value is None else round(value * 1e3, 3)

    return {
        "subject": wall.subject,
        "place": wall.place,
        "readings": [{"stage": s, "wall_mm": mm(v)} for s, v in wall.readings],
        "planned_cut_mm": mm(wall.planned),
        "after_plan_mm": mm(wall.after_plan),
        "sounded_since_the_plan": wall.sounded_since,
        "limit_mm": mm(wall.limits.least),
        "state": wall.state.value,
        "may_go_mm": mm(wall.to_take),
        "held_back": wall.held_back,
    }


def _say_walls(found: list[Wall], display: Display) -> None:
    from portwright.services.metal import held_back_sentence, plan_sentence, wall_sentence

    if not found:
        say("Not sounded yet.")
    for one in found:
        say(wall_sentence(one, display))
        for more in (plan_sentence(one, display), held_back_sentence(one, display)):
            if more:
                say(f"    {more}")


def pitot(
    job: Annotated[str, typer.Argument(help="Job number.")],
    port: Annotated[str, typer.Argument(help="Port.")],
    stage: Annotated[str, typer.Argument(help="Stage.")],
    across: Annotated[str, typer.Argument(help="From the left edge of the section: '5 mm'.")],
    up: Annotated[str, typer.Argument(help="From its lower edge: '30 mm'.")],
    reading: Annotated[
        str,
        typer.Argument(metavar="READING", help="'82 m/s', '270 ft/s', '16 inH2O' or 'unsteady'."),
    ],
    landmark: Annotated[str, typer.Option("--landmark", help="Plane: 'pinch'.")] = "",
    distance: Annotated[
        str, typer.Option("--distance", help="Plane at a distance from the opening: '48 mm'.")
    ] = "",
    lift: Annotated[str, typer.Option("--lift", help="Valve lift: '10 mm'.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Keep one pitot mark of a velocity map."""
    from portwright.nomenclature import says_unsteady
    from portwright.services.pitot_entry import Plane, marks_of, read_probe, record_mark
    from portwright.services.shop_file import open_shop

    plane = Plane(
        port,
        stage,
        landmark,
        _length(distance) if distance else None,
        _length(lift) if lift else None,
    )
    unsteady = says_unsteady(reading)
    with open_shop(shop) as archive:
        value = None if unsteady else read_probe(reading, "m/s")
        record_mark(archive, job, plane, _length(across), _length(up), value, unsteady=unsteady)
        marks = marks_of(archive.job(job), plane)
    if as_json:
        print_json([{"place": m.place, "reading": str(m.value), "note": m.note} for m in marks])
        return
    table(
        ("where", "reading"),
        [(m.place, m.note or str(m.value)) for m in marks],
    )
