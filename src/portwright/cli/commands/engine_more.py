"""The head on its engine: dyno sheets, what small changes are worth, port against port."""

from __future__ import annotations

from typing import Annotated

import typer

from portwright import units
from portwright.cli.commands.engine_json import agreement_json, numbers
from portwright.cli.commands.engine_options import (
    AfterOption,
    BeforeOption,
    ClusterOption,
    JobArgument,
    PortOption,
    SamplesOption,
    SpeedOption,
    StageOption,
    WorkersOption,
    show_progress,
)
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.units import Kind


def kept(
    job: JobArgument,
    off: Annotated[
        bool, typer.Option("--take-off", help="The report prints it no more; it stays on file.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Simulated runs kept with a job; the report prints the one that counts."""
    from portwright.services.engine_kept import kept_run, out_of_date, take_off
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        if off:
            take_off(archive, job)
        contents = archive.job(job)
    counts = kept_run(contents)
    old = counts is not None and out_of_date(counts, contents)
    if as_json:
        key = None if counts is None else counts.key
        print_json({"counts": key, "out_of_date": old, "runs": contents.engine_runs})
        return
    for one in contents.engine_runs:
        if one.points:
            mark = "*" if counts is not None and one.key == counts.key else " "
            say(f"{mark} {one.at}  {one.before} to {one.after}  {one.port}  {one.method}")
    if counts is None:
        say("None is kept for the report. Keep one: portwright engine run JOB --keep")
    else:
        say("* is printed in the report.")
    if old:
        say("Readings, measurements or engine changed since: run it again with --keep.")


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
    before: BeforeOption = "",
    after: AfterOption = "",
    samples: SamplesOption = 12,
    workers: WorkersOption = 0,
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
            progress=None if as_json else show_progress,
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
                    "before": numbers(found.curves.before, 1),
                    "after": numbers(found.curves.after, 1),
                },
                "before": agreement_json(found.before),
                "after": agreement_json(found.after),
                "gain": agreement_json(found.gain),
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


def sensitivity(
    job: JobArgument,
    stage: StageOption = "",
    port: PortOption = "",
    rpm: SpeedOption = "",
    workers: WorkersOption = 0,
    cluster: ClusterOption = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What small changes are worth: +1 mm lift, +1 % throat, +5 mm runner and others."""
    from portwright.services.engine_sensitivity import TOLD_FROM, told
    from portwright.services.engine_sensitivity import sensitivity as try_changes
    from portwright.services.engine_speeds import speeds
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = try_changes(
            archive,
            job,
            stage=stage,
            port=port,
            speeds=speeds(rpm),
            workers=workers or None,
            cluster=cluster,
            progress=None if as_json else show_progress,
        )
    if as_json:
        print_json(
            {
                "stage": found.heads.after.stage,
                "rpm": found.speed,
                "torque_nm": numbers(found.torque, 1),
                "told_from_pct": 100.0 * TOLD_FROM,
                "effects": [
                    {
                        "change": e.name,
                        "torque_pct": numbers(e.gain, 2, 100.0),
                        "mean_pct": numbers([e.mean], 2, 100.0)[0],
                    }
                    for e in found.effects
                ],
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    say(f"Change of torque in % with one change at a time, {found.heads.after.stage}")
    rows = [
        (e.name, *(f"{100.0 * g:+z.1f}" if told(g) else "-" for g in (*e.gain, e.mean)))
        for e in found.effects
    ]
    table(("change", *(f"{n:.0f}" for n in found.speed), "mean"), rows)
    say(f"Effects below {100.0 * TOLD_FROM:.1f} % are not told. One change at a time: they do not")
    say("add up exactly, and no range is given.")
    if found.findings:
        say()
        say_findings(found.findings)


def ports(
    job: JobArgument,
    stage: StageOption = "",
    rpm: SpeedOption = "",
    workers: WorkersOption = 0,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Cylinder-to-cylinder spread: what differences between the intake ports mean in torque."""
    from portwright.services.engine_speeds import speeds
    from portwright.services.engine_spread import port_spread
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = port_spread(
            archive,
            job,
            stage=stage,
            speeds=speeds(rpm),
            workers=workers or None,
            progress=None if as_json else show_progress,
        )
    if as_json:
        print_json(
            {
                "stage": found.stage,
                "rpm": found.speed,
                "ports": [
                    {
                        "port": p.port,
                        "torque_pct": numbers(p.deviation, 2, 100.0),
                        "sweeps_leave_open_pct": round(100.0 * p.doubt, 2),
                    }
                    for p in found.ports
                ],
                "spread_pct": numbers(found.spread, 2, 100.0),
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    say(f"Torque of a cylinder against the mean of all, in %, at {found.stage}")
    rows = [
        (
            p.port,
            *(f"{round(100.0 * d, 1) + 0.0:+z.1f}" for d in p.deviation),
            f"±{100.0 * p.doubt:.1f}",
        )
        for p in found.ports
    ]
    rows.append(("largest less smallest", *(f"{100.0 * s:.1f}" for s in found.spread), ""))
    table(("port", *(f"{n:.0f}" for n in found.speed), "sweeps leave open"), rows)
    if found.findings:
        say()
        say_findings(found.findings)
