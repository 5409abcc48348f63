"""Valve and seat: alternatives side by side, and the sheet of one of them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, table
from portwright.errors import InputError
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.services.display import Display
    from portwright.services.seat_plan import Alternative, SeatPlan


def _mm(value: float) -> float:
    return round(units.from_si(value, "mm", Kind.LENGTH), 4)


def _mm2(value: float) -> float:
    return round(units.from_si(value, "mm2", Kind.AREA), 2)


def _alternative_json(plan: SeatPlan, made: Alternative) -> dict[str, Any]:
    return {
        "name": made.name,
        "differs_in": made.words,
        "seat_angle_deg": round(math.degrees(made.seat.face.angle), 4),
        "seat_width_mm": _mm(made.seat.face.width),
        "seal_mm": [_mm(made.shut.inner_diameter), _mm(made.shut.outer_diameter)],
        "rests_on": [made.shut.valve_piece, made.shut.seat_piece],
        "throat_mm": _mm(made.seat.throat_diameter),
        "throat_area_mm2": _mm2(made.throat),
        "net_throat_area_mm2": _mm2(made.net_throat),
        "passage": [
            {
                "lift_mm": _mm(p.lift),
                "area_mm2": _mm2(float(a)),
                "between": [p.seat_piece, p.valve_piece],
            }
            for p, a in zip(made.passages, made.area, strict=True)
        ],
        "seat_sinks_mm": None if made.sink is None else _mm(made.sink.seat),
        "stem_tip_rises_mm": None if made.sink is None else _mm(made.sink.valve),
        "sink_decided_by": made.no_sink if made.sink is None else made.sink.decided_by,
        "chamber_gain_cc": round(made.chamber_gain * 1e6, 3),
        "insert_left_mm": None
        if made.room is None
        else {
            "outside_the_cuts": _mm(made.room.land),
            "round_the_throat": _mm(made.room.wall),
            "below_the_cuts": _mm(made.room.below),
            "largest_throat": _mm(made.room.largest_throat),
            "largest_seat": _mm(made.room.largest_seat),
        },
        "material": {"name": made.material.name, "label": made.material.label},
        "mass_g": [round(1e3 * m, 2) for m in made.mass],
        "stem_stiffness_over_a": [round(s, 5) for s in made.stiffness],
        "force_to_open_n": None if made.force is None else [round(f, 1) for f in made.force],
        "cautions": [finding_json(f) for f in made.cautions],
    }


def seat(
    job: Annotated[str, typer.Argument(help="Job number.")],
    port: Annotated[str, typer.Argument(help="Port; the first one without.")] = "",
    stage: Annotated[str, typer.Option(help="Stage whose readings count; else the newest.")] = "",
    number: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="'NAME=VALUE UNIT'",
            help="A number for this plan only: 'seat angle=50 deg', 'B throat diameter=38 mm', "
            "'cut below 2 angle=75 deg'.",
        ),
    ] = None,
    material: Annotated[
        list[str] | None,
        typer.Option(metavar="A=NAME", help="What a valve is made of: 'B=titanium'."),
    ] = None,
    sheet: Annotated[
        str, typer.Option(help="Print the machinist's sheet of alternative A, B or C.")
    ] = "",
    out: OutOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare seats and valves by geometry, mass and force, before the cutter touches the head."""
    from portwright.cli.work_parts import say_parts
    from portwright.services.display import Display
    from portwright.services.files import write_file
    from portwright.services.seat_plan import read_seat_numbers, seat_plan
    from portwright.services.seat_sheet import seat_pdf, seat_sheet, seat_title
    from portwright.services.shop_figures import figures_of
    from portwright.services.shop_file import open_shop

    made_of = {}
    for text in material or []:
        name, equals, value = text.partition("=")
        if not equals:
            raise InputError(f"'{text}' has no '='.", "Write it like B=titanium.")
        made_of[name.strip()] = value.strip()
    with open_shop(shop) as archive:
        contents, rules = archive.job(job), figures_of(archive)
        given = read_seat_numbers(number or [])
        plan = seat_plan(contents, port, stage, given, made_of, rules)
        display = Display.of(archive.shop())
    if out is not None:
        write_file(seat_pdf(contents, plan, sheet or "A", display, rules), out)
    if as_json:
        print_json(
            {
                "job": plan.job,
                "port": plan.port,
                "alternatives": [_alternative_json(plan, a) for a in plan.alternatives],
                "cannot_be": plan.refused,
                "numbers": [
                    {"name": k.term.name, "si": k.value, "from": k.origin.value, "note": k.note}
                    for k in plan.known.values()
                ],
            }
        )
        return
    if sheet:
        say("; ".join(seat_title(contents, plan, sheet)))
        say()
        say_parts(seat_sheet(contents, plan, sheet, display, rules))
        return
    _say_plan(plan, display)


def _say_plan(plan: SeatPlan, display: Display) -> None:
    from portwright.services.seat_sheet import side_by_side

    say(f"{plan.port}, smallest geometric passage between seat, valve and throat")
    table(("", *(a.name for a in plan.alternatives)), side_by_side(plan, display))
    for name, why in plan.refused.items():
        say(f"{name} cannot be made: {why}")
    for made in plan.alternatives:
        for caution in made.cautions:
            say(f"{made.name}: {caution.message} {caution.hint}".rstrip())
