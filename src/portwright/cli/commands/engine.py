"""The head on its engine: quick answers, simulation, dyno sheets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.model.engine import EngineDescription
    from portwright.services.engine_quick import QuickAnswers

app = typer.Typer(
    help="What a head does on its engine: torque, power, where it chokes, with ranges.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="Job number.")]
PortOption = Annotated[
    str, typer.Option("--port", help="Intake port; the one developed most without it.")
]


def _description_json(engine: EngineDescription) -> dict[str, Any]:
    return {
        "job": engine.job,
        "cam": engine.cam,
        "choices": {
            n: {"value": c.value, "source": c.source.value, "note": c.note}
            for n, c in engine.choices().items()
        },
        "values": {
            n: {
                "text": v.value.text,
                "unit": v.value.unit,
                "si": v.si,
                "source": v.source.value,
                "note": v.note,
            }
            for n, v in engine.values().items()
        },
        "assumed": engine.assumed(),
    }


@app.command("show")
def show(job: JobArgument, shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """What is known of a job's engine, and what is assumed."""
    from portwright.services.engine_description import describe_engine
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        engine = describe_engine(archive.job(job))
    if as_json:
        print_json(_description_json(engine))
        return
    rows = [(n, c.value, c.source.value, c.note) for n, c in engine.choices().items()]
    rows += [(n, str(v.value), v.source.value, v.note) for n, v in engine.values().items()]
    for name, value, source, note in rows:
        say(f"  {name:22} {value:26} {source}{': ' + note if note else ''}")
    say()
    say(f"{len(engine.assumed())} are assumed. Set what is known: portwright engine set {job} ...")


@app.command("set")
def set_value(
    job: JobArgument,
    name: Annotated[str, typer.Argument(help="Name as 'engine show' lists it.")],
    value: Annotated[str, typer.Argument(help="Number with unit, or the choice; '' removes it.")],
    shop: ShopOption = None,
) -> None:
    """Write one number or choice of the engine on the job sheet, as typed."""
    from portwright.services.engine_facts import set_engine_value
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        set_engine_value(archive, job, name, value)
    say(f"{name}: {value or 'removed'}")


def _speeds(text: str) -> tuple[float, ...]:
    """Speeds from "3500:7500:500" or "4000,5500,7000". [rev/min]"""
    from portwright.services.engine_speeds import speeds

    return speeds(text)


def _quick_json(q: QuickAnswers) -> dict[str, Any]:
    def rounded(values: Any, digits: int) -> list[float]:
        return [round(float(v), digits) for v in values]

    return {
        "job": q.engine.job,
        "port": q.port,
        "stage": q.stage,
        "runs": q.runs,
        "sections_from": q.section_source,
        "rpm": rounded(q.speed, 1),
        "mean_inlet_mach": {
            "definition": "eta_v V_s / (a integral of effective area over the open time)",
            "value": rounded(q.mach, 4),
            "volumetric_efficiency": q.engine.volumetric_efficiency.si,
            "limit": q.engine.mach_limit.si,
        },
        "mach_index": {
            "definition": "A_p S_p / (A_mean a), A_mean the mean effective area seat to seat",
            "value": rounded(q.index, 4),
        },
        "mean_open_area_mm2": round(q.mean_area * 1e6, 2),
        "open_angle_deg": round(units.from_si(q.open_angle, "deg", Kind.ANGLE), 2),
        "peak_power_rpm": {
            "value": round(q.peak_power.value),
            "range": [round(q.peak_power.low), round(q.peak_power.high)],
        },
        "sections": [
            {
                "name": s.name,
                "area_mm2": round(s.area * 1e6, 1),
                "mean_velocity_m_s": rounded(s.velocity, 1),
                "peak_mach": rounded(s.peak_mach, 3),
                "limit_reached_rpm": round(s.limit_speed),
            }
            for s in q.sections
        ],
        "smallest_section": q.smallest.name,
        "velocity_limit_m_s": round(q.velocity_limit, 1),
        "target_rpm": round(q.target_speed),
        "section_needed_mm2": round(q.needed_section * 1e6, 1),
        "ram": {
            "frequency_hz": round(q.ram_frequency, 1),
            "constant": q.ram_constants,
            "rpm": round(q.ram.value),
            "range": [round(q.ram.low), round(q.ram.high)],
            "even_length_mm": round(q.ram_length * 1e3, 1),
        },
        "lift": {
            "full_lift_mm": round(q.lift.most_lift * 1e3, 3),
            "tested_to_mm": round(q.lift.tested_to * 1e3, 3),
            "mean_over_peak_area": round(q.lift.share_of_peak, 4),
            "enough_mm": round(q.lift.enough * 1e3, 2),
            "one_mm_more_pct": round(100.0 * q.lift.gain_of_more, 2),
            "stops_paying_mm": None
            if q.lift.pays_up_to is None
            else round(q.lift.pays_up_to * 1e3, 2),
        },
        "series_fit": None
        if q.fit is None
        else {
            "valve_coefficient": round(q.fit.valve, 3),
            "port_coefficient": round(q.fit.port, 3),
            "misfit": round(q.fit.misfit, 4),
        },
        "assumed": q.engine.assumed(),
        "findings": [finding_json(f) for f in q.findings],
    }


@app.command("quick")
def quick(
    job: JobArgument,
    port: PortOption = "",
    stage: Annotated[str, typer.Option("--stage", help="Stage; the last without it.")] = "",
    rpm: Annotated[str, typer.Option("--rpm", metavar="FROM:TO:STEP", help="Crank speeds.")] = "",
    limit: Annotated[
        str, typer.Option("--limit", help="Mean velocity not to exceed, like '110 m/s'.")
    ] = "",
    target: Annotated[
        str, typer.Option("--target", help="Speed aimed at for peak power, like 7000.")
    ] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Where it chokes, which section does it, what the cam uses: without a simulation."""
    from portwright.services.display import Display
    from portwright.services.engine_quick import quick_answers
    from portwright.services.engine_wording import quick_lines
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        answers = quick_answers(
            archive,
            job,
            port=port,
            stage=stage,
            speeds=_speeds(rpm),
            velocity_limit=units.read(limit, Kind.SPEED, "m/s").si if limit else None,
            target_speed=units.parse_number(target) if target else None,
        )
    if as_json:
        print_json(_quick_json(answers))
        return
    for line in quick_lines(answers, display):
        say(line)
    say()
    rows = [
        (s.name, display.area_text(s.area), *(f"{v:.0f}" for v in s.velocity))
        for s in answers.sections
    ]
    headings = ("section", "area", *(f"{n:.0f}" for n in answers.speed))
    say("Mean air speed in m/s at crank speed in rpm")
    table(headings, rows)
    if answers.findings:
        say()
        say_findings(answers.findings, display.length)


def tube(
    left: Annotated[str, typer.Option("--left", metavar="RHO,U,P", help="Gas left of it.")],
    right: Annotated[str, typer.Option("--right", metavar="RHO,U,P", help="Gas right of it.")],
    gamma: Annotated[float, typer.Option("--gamma", help="Ratio of specific heats.")] = 1.4,
    cells: Annotated[int, typer.Option("--cells", help="Number of cells.")] = 200,
    time: Annotated[float, typer.Option("--time", help="Time to march to, in seconds.")] = 0.25,
    length: Annotated[float, typer.Option("--length", help="Length in metres.")] = 1.0,
    as_json: JsonOption = False,
) -> None:
    """Open a diaphragm in the middle of a plain tube: the engine's own solver, to check it."""
    from portwright.services.engine_tube import run_tube

    done = run_tube(left, right, gamma=gamma, cells=cells, time=time, length=length)
    if as_json:
        print_json(
            {
                "summary": {
                    "cells": cells,
                    "gamma": gamma,
                    "length": length,
                    "time": done.time,
                    "steps": done.steps,
                    "mass": float(done.density.sum() * length / cells),
                    "momentum": float((done.density * done.velocity).sum() * length / cells),
                    "least_pressure": float(done.pressure.min()),
                    "most_pressure": float(done.pressure.max()),
                },
                "x": done.x,
                "density": done.density,
                "velocity": done.velocity,
                "pressure": done.pressure,
            }
        )
        return
    say(f"{cells} cells, {done.steps} steps to {done.time:g} s")
    step = max(1, cells // 20)
    rows = [
        tuple(f"{v:.6g}" for v in row)
        for row in zip(
            done.x[::step],
            done.density[::step],
            done.velocity[::step],
            done.pressure[::step],
            strict=True,
        )
    ]
    table(("x m", "density kg/m3", "velocity m/s", "pressure Pa"), rows)
