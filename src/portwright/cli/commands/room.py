"""Room for valves."""

from __future__ import annotations

import math
from typing import Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, table
from portwright.units import Kind


def room(
    job: Annotated[str, typer.Argument(help="Job number.")],
    number: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="'NAME=VALUE UNIT'",
            help="A number for this plan only: 'intake offset along=-20 mm', 'intake lean=12 deg', "
            "'intake pocket depth=2 mm', 'cam advance=2 deg'.",
        ),
    ] = None,
    out: OutOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Estimate the room of the valves: largest pair, wall, each other, piston. Check physically."""
    from portwright.cli.work_parts import say_parts
    from portwright.services.display import Display
    from portwright.services.files import write_file
    from portwright.services.head_facts import lean_reminder
    from portwright.services.room import room_plan
    from portwright.services.room_numbers import read_room_numbers
    from portwright.services.room_words import map_headings, map_rows, room_parts, room_pdf
    from portwright.services.shop_figures import figures_of
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        contents, rules = archive.job(job), figures_of(archive)
        display = Display.of(archive.shop())
        reminder = lean_reminder(archive, contents)
    plan = room_plan(contents, read_room_numbers(number or []), rules)
    if out is not None:
        write_file(room_pdf(contents, plan, display, rules), out)
    if as_json:
        print_json(_json(plan))
        return
    say_parts(room_parts(contents, plan, display, rules))
    if reminder:
        say(reminder)
    for wall in plan.walls:
        say(f"{wall.side.value} valve to bore wall, gap in {display.small_length}")
        table(("lift", *map_headings(), "shrouded"), map_rows(wall, display))


def _mm(value: float | None) -> float | None:
    return None if value is None else round(units.from_si(value, "mm", Kind.LENGTH), 3)


def _closest(found: Any) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "gap_mm": _mm(found.gap),
        "crank_deg": round(math.degrees(found.crank_angle), 1),
        "per_degree_advance_mm": _mm(found.per_degree),
        "check": "physically",
    }


def _json(plan: Any) -> dict[str, Any]:
    return {
        "job": plan.job,
        "largest_pair_mm": None
        if plan.pair is None
        else {
            "intake": _mm(plan.pair.intake),
            "exhaust": _mm(plan.pair.exhaust),
            "limited_by": plan.pair.limited_by,
        },
        "between_heads_shut_mm": _mm(plan.shut_gap),
        "valve_to_valve": _closest(plan.overlap),
        "valve_to_piston": {s.value: _closest(c) for s, c in plan.pistons.items()},
        "walls": [
            {
                "valve": w.side.value,
                "lift_mm": [_mm(float(v)) for v in w.lifts],
                "least_mm": [_mm(float(v)) for v in w.least],
                "shrouded_share": [round(float(v), 4) for v in w.shrouded],
            }
            for w in plan.walls
        ],
        "not_worked_out": plan.missing,
        "findings": [finding_json(f) for f in plan.findings],
    }
