"""Manifold or pipe against a port."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import finding_json, print_json, say
from portwright.units import Kind


def manifold(
    job: Annotated[str, typer.Argument(help="Job number.")],
    port: Annotated[str, typer.Argument(help="Port; the first one without.")] = "",
    stage: Annotated[str, typer.Option(help="Stage whose readings count; else the newest.")] = "",
    number: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="'NAME=VALUE UNIT'",
            help="A number for this fit only: 'runner width=31 mm', 'runner offset up=0.5 mm', "
            "'runner turn=1.5 deg' (anticlockwise), 'land beyond roof=6 mm'.",
        ),
    ] = None,
    outline: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PART=TRACE",
            help="A traced outline in place of sizes: 'head=12', 'runner=14', 'gasket=15'. The "
            "traces of the port are listed with the fit.",
        ),
    ] = None,
    lay: Annotated[
        str,
        typer.Option(
            "--line-up",
            metavar="middles|holes",
            help="What is laid on what: the middles of the openings, or the two dowel or bolt "
            "holes marked on each photo. Offsets and turn come on top.",
        ),
    ] = "middles",
    out: OutOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Lay a port on its manifold or pipe: overlap, steps, gasket land, room, mounted runs."""
    from portwright.cli.work_parts import say_parts
    from portwright.errors import one_of
    from portwright.services.display import Display
    from portwright.services.files import write_file
    from portwright.services.line_up import LAID, LineUp
    from portwright.services.manifold_fit import manifold_fit, read_fit_numbers
    from portwright.services.manifold_traces import (
        opening_traces,
        read_traces,
        trace_words,
        traced_outlines,
    )
    from portwright.services.manifold_words import fit_parts, fit_pdf
    from portwright.services.mounted import mounted_runs
    from portwright.services.seat_plan import port_named
    from portwright.services.shop_figures import figures_of
    from portwright.services.shop_file import open_shop
    from portwright.services.wording import sentence

    with open_shop(shop) as archive:
        contents, rules = archive.job(job), figures_of(archive)
        code, given = port_named(contents, port).code, read_fit_numbers(number or [])
        outlines = traced_outlines(archive, job, code, read_traces(outline or []))
        fit = manifold_fit(contents, code, stage, given, rules, outlines, one_of(LineUp, lay, LAID))
        offered = opening_traces(archive, job, code)
        mounted = mounted_runs(archive, job, fit.port)
        display = Display.of(archive.shop())
    if out is not None:
        write_file(fit_pdf(contents, fit, mounted, display, rules), out)
    if as_json:
        print_json(
            _json(fit)
            | {
                "traces": [
                    {
                        "part": one.part,
                        "trace": one.id,
                        "stage": one.stage,
                        "holes": one.holes,
                        "area_mm2": _mm2(one.traced.area),
                        "plus_or_minus_mm2": _mm2(one.traced.area_interval),
                    }
                    for one in offered
                ],
                "mounted": [
                    {
                        "configuration": m.configuration,
                        "bare": m.bare,
                        "mounted": m.mounted,
                        "sentence": sentence(m.comparison) if m.comparison else m.refused,
                    }
                    for m in mounted
                ],
            }
        )
        return
    say_parts(fit_parts(contents, fit, mounted, display, rules))
    if offered:
        say("TRACED OUTLINES OF THIS PORT")
        for one in offered:
            say(f"  --outline {one.part}={one.id}  {trace_words(one, display)}")


def _mm(value: float | None) -> float | None:
    return None if value is None else round(units.from_si(value, "mm", Kind.LENGTH), 4)


def _mm2(value: float) -> float:
    return round(units.from_si(value, "mm2", Kind.AREA), 2)


def _deg(value: float) -> float:
    return round(units.from_si(value, "deg", Kind.ANGLE), 3)


def _placed(placement: Any) -> dict[str, Any]:
    return {
        "across_mm": _mm(placement.across),
        "up_mm": _mm(placement.up),
        "turn_deg": _deg(placement.turn),
    }


def _step(step: Any) -> dict[str, Any]:
    return {
        "height_mm": _mm(step.height),
        "edge": step.edge.value,
        "share": round(step.share, 4),
        "by_edge_mm": {e.value: _mm(h) for e, h in step.by_edge.items()},
    }


def _json(fit: Any) -> dict[str, Any]:
    met = fit.meeting
    return {
        "job": fit.job,
        "port": fit.port,
        "meeting": None
        if met is None
        else {
            "upstream_mm2": _mm2(met.upstream),
            "downstream_mm2": _mm2(met.downstream),
            "overlap_mm2": _mm2(met.overlap),
            "facing": _step(met.facing),
            "trailing": _step(met.trailing),
        },
        "traced": list(fit.traced),
        "line_up": {
            "by": fit.line_up.value,
            "runner": _placed(fit.placement),
            "by_holes": {
                part: _placed(one.placement)
                | {
                    "turn_plus_or_minus_deg": _deg(one.turn_interval),
                    "holes_apart_mm": _mm(one.apart),
                    "holes_apart_on_head_mm": _mm(one.apart_head),
                }
                for part, one in fit.laid.items()
            },
        },
        "gasket_in_flow_mm": _mm(fit.gasket_in_flow),
        "room_mm": {
            e.value: {"gasket": _mm(r.seal), "metal": _mm(r.metal)} for e, r in fit.rooms.items()
        },
        "findings": [finding_json(f) for f in fit.findings],
    }
