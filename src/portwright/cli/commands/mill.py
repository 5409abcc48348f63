"""A deck cut: how deep, what compression follows, what else moves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import finding_json, print_json, say
from portwright.errors import InputError
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.model.quantity import AsTyped
    from portwright.services.milling_plan import Aim, MillPlan, Result, Uniform


def _mm(value: float | None) -> float | None:
    return None if value is None else round(units.from_si(value, "mm", Kind.LENGTH), 4)


def _cc(value: float) -> float:
    return round(units.from_si(value, "cc", Kind.VOLUME), 3)


def _with(result: Result | None, scale: float, digits: int) -> dict[str, Any] | None:
    if result is None:
        return None
    return {
        "value": round(result.value * scale, digits),
        "standard_uncertainty": round(result.uncertainty * scale, digits),
        "mostly": result.mostly,
    }


def _uniform_json(uniform: Uniform) -> dict[str, Any]:
    work = uniform.plan
    return {
        "chambers": uniform.set_name,
        "refused": uniform.refused,
        "deck_mm": None if work is None else _mm(work.cut),
        "set_by": "" if work is None else work.sets_cut,
        "open_cc": {} if work is None else {n: _cc(v) for n, v in work.to_open.items()},
    }


def _plan_json(plan: MillPlan) -> dict[str, Any]:
    moved, uniform = plan.line_up, plan.uniform
    return {
        "job": plan.job,
        "aim": plan.target.aim.value,
        "target": plan.target.note,
        "target_from": plan.target.origin.value,
        "deck_mm": _with(plan.depth, 1e3, 4),
        "cc_per_mm": round(plan.per_depth * 1e3, 4),
        "chamber_before_cc": _with(plan.chamber_before, 1e6, 3),
        "chamber_after_cc": _with(plan.chamber_after, 1e6, 3),
        "compression_before": _with(plan.ratio_before, 1.0, 4),
        "compression_after": _with(plan.ratio_after, 1.0, 4),
        "compression_per_tenth_mm": None
        if plan.ratio_per_tenth is None
        else round(plan.ratio_per_tenth, 4),
        "opening_1_cc": None
        if plan.deshroud is None
        else {"compression": round(plan.deshroud[0], 4), "deck_mm": _mm(plan.deshroud[1])},
        "face_cut_mm": _with(plan.face_cut, 1e3, 4),
        "manifold_drop_mm": _with(plan.manifold_drop, 1e3, 4),
        "nothing_cut": None
        if moved is None
        else {
            "gap_closes_mm": _mm(moved.closing),
            "ports_lower_mm": _mm(moved.port_drop),
            "ports_lower_settled_mm": _mm(moved.riding_step),
        },
        "pushrod_mm": _mm(plan.pushrod),
        "valve_to_piston_mm": _mm(plan.piston),
        "cam_retard_deg": None
        if plan.cam_retard is None
        else round(math.degrees(plan.cam_retard), 3),
        "short_side_to_deck": [
            {
                "port": a.port,
                "from": a.first,
                "to": a.last,
                "before_mm": _mm(a.before),
                "milling_leaves_mm": _mm(a.expected),
                "ground_mm": None if a.split is None else _mm(a.split.ground),
            }
            for a in plan.apexes
        ],
        "uniform": None if uniform is None else _uniform_json(uniform),
        "by_angle": [
            {
                "deep_side": a.cut.deep_side.value,
                "angle_deg": round(math.degrees(a.cut.angle), 4),
                "deep_edge_mm": _mm(a.cut.extra_depth),
                "face_cut_mm": None if a.moved is None else _mm(a.moved.line_up.face_cut),
                "face_turn_deg": None
                if a.moved is None
                else round(math.degrees(a.moved.face_turn), 4),
                "manifold_drop_mm": None if a.moved is None else _mm(a.moved.line_up.manifold_drop),
            }
            for a in plan.angles
        ],
        "numbers": [
            {
                "name": k.term.name,
                "si": k.value,
                "standard_uncertainty_si": k.uncertainty,
                "from": k.origin.value,
                "note": k.note,
            }
            for k in plan.known.values()
        ],
        "findings": [finding_json(f) for f in plan.findings],
    }


def _aim(texts: dict[Aim, str]) -> tuple[Aim | None, AsTyped | None]:
    from portwright.services.milling import read_aim

    asked = [(aim, text) for aim, text in texts.items() if text]
    if len(asked) > 1:
        raise InputError("One cut has one aim.", "Give one of --chamber, --ratio and --depth.")
    if not asked:
        return None, None
    aim, text = asked[0]
    return aim, read_aim(aim, text)


def mill(
    job: Annotated[str, typer.Argument(help="Job number.")],
    chamber: Annotated[str, typer.Option(help="Chamber volume to reach: 39.5 cc.")] = "",
    ratio: Annotated[str, typer.Option(help="Compression ratio to reach: 11.2.")] = "",
    depth: Annotated[str, typer.Option(help="Depth to look at: 0.8 mm, 30 thou.")] = "",
    chambers: Annotated[
        str, typer.Option(help="Stage, or words of the sheet, of the chamber volumes to even out.")
    ] = "",
    number: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="'NAME=VALUE UNIT'",
            help="A number for this plan only: 'face tilt=40 deg', 'head gasket change=0.3 mm'.",
        ),
    ] = None,
    out: OutOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan a deck cut and print the machinist's sheet; without an aim, the target on record."""
    from portwright.cli.work_parts import say_parts
    from portwright.services.display import Display
    from portwright.services.files import write_file
    from portwright.services.milling import plan_of, read_given
    from portwright.services.milling_plan import Aim
    from portwright.services.milling_sheet import machinist_sheet, sheet_pdf, sheet_title
    from portwright.services.shop_file import open_shop

    aim, value = _aim({Aim.CHAMBER: chamber, Aim.RATIO: ratio, Aim.DEPTH: depth})
    given = read_given(number or [])
    with open_shop(shop) as archive:
        contents = archive.job(job)
        plan = plan_of(contents, aim, value, given, chambers)
        display = Display.of(archive.shop())
        if out is not None:
            write_file(sheet_pdf(contents, plan, display), out)
        if as_json:
            print_json(_plan_json(plan))
            return
        say("; ".join(sheet_title(contents)))
        say()
        say_parts(machinist_sheet(contents, plan, display))
