"""The head on its engine: what is known, quick answers, before and after."""

from __future__ import annotations

from typing import Annotated

import typer

from portwright import units
from portwright.cli.commands import engine_more, engine_study
from portwright.cli.commands.engine_json import description_json, quick_json, run_json
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
from portwright.cli.output import print_json, say, say_findings, table
from portwright.units import Kind

app = typer.Typer(
    help="What a head does on its engine: torque, power, where it chokes, with ranges.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("show")
def show(job: JobArgument, shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """What is known of a job's engine, and what is assumed."""
    from portwright.services.engine_description import describe_engine
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        engine = describe_engine(archive.job(job))
    if as_json:
        print_json(description_json(engine))
        return
    rows = [(n, c.value, c.source.value, c.note) for n, c in engine.choices().items()]
    rows += [(n, str(v.value), v.source.value, v.note) for n, v in engine.values().items()]
    if engine.runner_profile is not None:
        rows.append(("runner_profile", engine.runner_profile.text, "job sheet", ""))
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


@app.command("quick")
def quick(
    job: JobArgument,
    port: PortOption = "",
    stage: StageOption = "",
    rpm: SpeedOption = "",
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
    from portwright.services.engine_speeds import speeds
    from portwright.services.engine_wording import quick_lines
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        answers = quick_answers(
            archive,
            job,
            port=port,
            stage=stage,
            speeds=speeds(rpm),
            velocity_limit=units.read(limit, Kind.SPEED, "m/s").si if limit else None,
            target_speed=units.parse_number(target) if target else None,
        )
    if as_json:
        print_json(quick_json(answers))
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


@app.command("run")
def run(
    job: JobArgument,
    before: BeforeOption = "",
    after: AfterOption = "",
    port: PortOption = "",
    rpm: SpeedOption = "",
    samples: SamplesOption = 12,
    workers: WorkersOption = 0,
    cluster: ClusterOption = "",
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep it with the job; the report prints it.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Torque and power before and after on the job's engine, the difference with its range."""
    from portwright.services.display import Display
    from portwright.services.engine_kept import keep_run
    from portwright.services.engine_run import run_engine
    from portwright.services.engine_run_wording import gain_text, run_lines
    from portwright.services.engine_speeds import speeds
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        found = run_engine(
            archive,
            job,
            before=before,
            after=after,
            port=port,
            speeds=speeds(rpm),
            samples=samples,
            workers=workers or None,
            cluster=cluster,
            progress=None if as_json else show_progress,
        )
        kept = keep_run(archive, found) if keep else None
    if as_json:
        print_json(run_json(found) | {"kept": kept.key if kept else None})
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
    if kept is not None:
        say()
        say(f"Kept with job {job}; the report prints it.")


app.command("kept")(engine_more.kept)
app.command("dyno")(engine_more.dyno)
app.command("sensitivity")(engine_more.sensitivity)
app.command("ports")(engine_more.ports)
app.command("sweep")(engine_study.sweep)
app.command("search")(engine_study.search)
