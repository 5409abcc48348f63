"""The head on its engine: quick answers, simulation, dyno sheets."""

from __future__ import annotations

import math
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.model.engine import EngineDescription
    from portwright.services.engine_head import HeadCurve
    from portwright.services.engine_quick import QuickAnswers
    from portwright.services.engine_run import EngineRun

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


def _numbers(values: Any, digits: int, factor: float = 1.0) -> list[float | None]:
    return [round(factor * float(v), digits) if math.isfinite(float(v)) else None for v in values]


def _head_json(head: HeadCurve, speed: Any) -> dict[str, Any]:
    level = head.level
    choked = head.chokes_from(speed)
    return {
        "stage": head.stage,
        "torque_nm": _numbers(head.torque, 1),
        "torque_range_nm": [
            _numbers(head.torque * (1.0 - level), 1),
            _numbers(head.torque * (1.0 + level), 1),
        ],
        "power_kw": _numbers(head.power, 1, 1e-3),
        "power_range_kw": [
            _numbers(head.power * (1.0 - level), 1, 1e-3),
            _numbers(head.power * (1.0 + level), 1, 1e-3),
        ],
        "volumetric_efficiency": _numbers(head.volumetric_efficiency, 4),
        "residual": _numbers(head.residual, 4),
        "reversion": _numbers(head.reversion, 4),
        "exhaust_valve_force_at_opening_n": _numbers(head.valve_force, 0),
        "peak_pressure_bar": _numbers(head.most_pressure, 1, 1e-5),
        "port_mach": _numbers(head.mach, 3),
        "port_mach_section": head.section,
        "choking_section": head.choking,
        "chokes_from_rpm": choked if math.isfinite(choked) else None,
    }


def _peak_json(peak: Any) -> dict[str, Any] | None:
    if peak is None:
        return None
    return {"rpm": round(peak.speed), "kw": round(1e-3 * peak.value, 1), "inside": peak.inside}


def _run_json(run: EngineRun) -> dict[str, Any]:
    from portwright.services.engine_run import DIFFERENCE_FLOOR, LEVEL_FLOOR
    from portwright.services.engine_run_wording import run_lines

    d = run.difference
    return {
        "job": run.heads.description.job,
        "port": run.heads.before.intake_port,
        "exhaust_port": run.heads.before.exhaust_port,
        "said": run_lines(run),
        "rpm": _numbers(run.speed, 1),
        "before": _head_json(run.before, run.speed),
        "after": _head_json(run.after, run.speed),
        "difference": {
            "torque_pct": _numbers(d.gain, 2, 100.0),
            "range_pct": [_numbers(d.low, 2, 100.0), _numbers(d.high, 2, 100.0)],
            "sampled_half_width_pct": _numbers(d.sampled, 2, 100.0),
        },
        "never_narrower_than_pct": {
            "level": 100.0 * LEVEL_FLOOR,
            "difference": 100.0 * DIFFERENCE_FLOOR,
        },
        "peak_power": {
            "before": _peak_json(run.peak_before),
            "after": _peak_json(run.peak_after),
            "shift_rpm": _numbers(run.shift, 0),
        },
        "samples": run.samples,
        "assumed": run.heads.description.assumed(),
        "findings": [finding_json(f) for f in run.findings],
    }


@app.command("run")
def run(
    job: JobArgument,
    before: Annotated[str, typer.Option("--before", help="Stage; the first without it.")] = "",
    after: Annotated[str, typer.Option("--after", help="Stage; the last without it.")] = "",
    port: PortOption = "",
    rpm: Annotated[str, typer.Option("--rpm", metavar="FROM:TO:STEP", help="Crank speeds.")] = "",
    samples: Annotated[
        int, typer.Option("--samples", min=0, help="Guesses behind the ranges; 0 for none.")
    ] = 12,
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Processes; 0 takes all cores.")
    ] = 0,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Torque and power before and after on the job's engine, the difference with its range."""
    from portwright.services.display import Display
    from portwright.services.engine_run import run_engine
    from portwright.services.engine_run_wording import gain_text, run_lines
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        found = run_engine(
            archive,
            job,
            before=before,
            after=after,
            port=port,
            speeds=_speeds(rpm),
            samples=samples,
            workers=workers or None,
            progress=None if as_json else _show_progress,
        )
    if as_json:
        print_json(_run_json(found))
        return
    for line in run_lines(found):
        say(line)
    say()
    inches = display.length in {"in", "thou"}
    torque, power = ("lbf ft", "hp") if inches else ("Nm", "kW")
    rows = []
    for k, speed in enumerate(found.speed):
        cells = [f"{speed:.0f}"]
        for head in (found.before, found.after):
            cells.append(units.show(head.torque[k], torque, Kind.TORQUE, 0))
            cells.append(units.show(head.power[k], power, Kind.POWER, 0))
        cells.append(gain_text(found, k))
        rows.append(cells)
    first, second = found.before.stage, found.after.stage
    table(
        (
            "rpm",
            f"{torque} {first}",
            f"{power} {first}",
            f"{torque} {second}",
            f"{power} {second}",
            "torque, 95 % range",
        ),
        rows,
    )
    if found.findings:
        say()
        say_findings(found.findings, display.length)


def _show_progress(done: int, total: int) -> bool:
    if sys.stderr.isatty():
        typer.echo(f"\r{done} of {total}" + ("\n" if done == total else ""), nl=False, err=True)
    return True


def _agreement_json(one: Any) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "factor": round(one.factor, 4),
        "scatter": round(one.scatter, 4) if math.isfinite(one.scatter) else None,
        "points": one.points,
        "inside_range": one.hits,
    }


@app.command("dyno")
def dyno(
    job: JobArgument,
    standard: Annotated[
        str, typer.Option("--standard", help="SAE J1349 (1990), SAE J1349 (2004), ISO 1585, ...")
    ],
    barometer: Annotated[
        str, typer.Option("--barometer", help="Of the dyno run, like '98.2 kPa'.")
    ] = "",
    temperature: Annotated[
        str, typer.Option("--temperature", help="Intake air of the dyno run, like '28 degC'.")
    ] = "",
    humidity: Annotated[str, typer.Option("--humidity", help="Like '45 %'.")] = "0 %",
    before: Annotated[str, typer.Option("--before", help="Stage; the first without it.")] = "",
    after: Annotated[str, typer.Option("--after", help="Stage; the last without it.")] = "",
    samples: Annotated[int, typer.Option("--samples", min=0, help="As for 'engine run'.")] = 12,
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Processes; 0 takes all cores.")
    ] = 0,
    keep: Annotated[
        bool, typer.Option("--keep", help="Let it teach the shop's own factor.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare the job's dyno sheet with the forecast, both corrected by a named standard."""
    from portwright.services import engine_dyno
    from portwright.services.engine_dyno_wording import dyno_lines, hit_rate_line
    from portwright.services.engine_factors import hit_rate
    from portwright.services.shop_file import open_shop

    air = None
    if barometer or temperature:
        air = engine_dyno.DynoAir(
            units.read(barometer, Kind.PRESSURE).si,
            units.read(temperature, Kind.TEMPERATURE).si,
            units.read(humidity, Kind.RATIO).si,
        )
    with open_shop(shop) as archive:
        found = engine_dyno.compare_dyno(
            archive,
            job,
            standard=standard,
            air=air,
            before=before,
            after=after,
            samples=samples,
            workers=workers or None,
            progress=None if as_json else _show_progress,
        )
        if keep:
            engine_dyno.keep(archive, found)
        rate = hit_rate(archive)
    lines = [*dyno_lines(found), hit_rate_line(rate)]
    if as_json:
        print_json(
            {
                "said": lines,
                "standard": found.standard.name,
                "standard_label": found.standard.label,
                "sheet_factor": round(found.sheet_factor, 5),
                "forecast_factor": round(found.forecast_factor, 5),
                "rpm": found.curves.speed,
                "measured_torque_nm": {
                    "before": _numbers(found.curves.before, 1),
                    "after": _numbers(found.curves.after, 1),
                },
                "before": _agreement_json(found.before),
                "after": _agreement_json(found.after),
                "gain": _agreement_json(found.gain),
                "factor": round(found.factor, 4),
                "invented": found.invented,
                "counts": keep and not found.invented,
                "hit_rate": rate,
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    for line in lines:
        say(line)


@app.command("sensitivity")
def sensitivity_table(
    job: JobArgument,
    stage: Annotated[str, typer.Option("--stage", help="Stage; the last without it.")] = "",
    port: PortOption = "",
    rpm: Annotated[str, typer.Option("--rpm", metavar="FROM:TO:STEP", help="Crank speeds.")] = "",
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Processes; 0 takes all cores.")
    ] = 0,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What small changes are worth: +1 mm lift, +1 % throat, +5 mm runner and others."""
    from portwright.services.engine_sensitivity import TOLD_FROM, sensitivity, told
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = sensitivity(
            archive,
            job,
            stage=stage,
            port=port,
            speeds=_speeds(rpm),
            workers=workers or None,
            progress=None if as_json else _show_progress,
        )
    if as_json:
        print_json(
            {
                "stage": found.heads.after.stage,
                "rpm": found.speed,
                "torque_nm": _numbers(found.torque, 1),
                "told_from_pct": 100.0 * TOLD_FROM,
                "effects": [
                    {
                        "change": e.name,
                        "torque_pct": _numbers(e.gain, 2, 100.0),
                        "mean_pct": _numbers([e.mean], 2, 100.0)[0],
                    }
                    for e in found.effects
                ],
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    say(f"Change of torque in % with one change at a time, {found.heads.after.stage}")
    rows = [
        (e.name, *(f"{100.0 * g:+.1f}" if told(g) else "-" for g in (*e.gain, e.mean)))
        for e in found.effects
    ]
    table(("change", *(f"{n:.0f}" for n in found.speed), "mean"), rows)
    say(f"Effects below {100.0 * TOLD_FROM:.1f} % are not told. One change at a time: they do not")
    say("add up exactly, and no range is given.")
    if found.findings:
        say()
        say_findings(found.findings)


@app.command("ports")
def ports(
    job: JobArgument,
    stage: Annotated[str, typer.Option("--stage", help="Stage; the last without it.")] = "",
    rpm: Annotated[str, typer.Option("--rpm", metavar="FROM:TO:STEP", help="Crank speeds.")] = "",
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Processes; 0 takes all cores.")
    ] = 0,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Cylinder-to-cylinder spread: what differences between the intake ports mean in torque."""
    from portwright.services.engine_spread import port_spread
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = port_spread(
            archive,
            job,
            stage=stage,
            speeds=_speeds(rpm),
            workers=workers or None,
            progress=None if as_json else _show_progress,
        )
    if as_json:
        print_json(
            {
                "stage": found.stage,
                "rpm": found.speed,
                "ports": [
                    {
                        "port": p.port,
                        "torque_pct": _numbers(p.deviation, 2, 100.0),
                        "sweeps_leave_open_pct": round(100.0 * p.doubt, 2),
                    }
                    for p in found.ports
                ],
                "spread_pct": _numbers(found.spread, 2, 100.0),
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    say(f"Torque of a cylinder against the mean of all, in %, at {found.stage}")
    rows = [
        (p.port, *(f"{100.0 * d:+.1f}" for d in p.deviation), f"±{100.0 * p.doubt:.1f}")
        for p in found.ports
    ]
    rows.append(("largest less smallest", *(f"{100.0 * s:.1f}" for s in found.spread), ""))
    table(("port", *(f"{n:.0f}" for n in found.speed), "sweeps leave open"), rows)
    if found.findings:
        say()
        say_findings(found.findings)


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
